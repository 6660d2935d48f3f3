"""The byte rule, against the examples printed in RFC 8785."""

from __future__ import annotations

import json
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.canonical import CanonicalError, canonical_bytes, numbers_as_text, sha256_hex


def test_strings_as_in_the_sample_of_rfc_8785_section_3_2_2() -> None:
    sample = r'{"string": "\u20ac$\u000F\u000aA\u0027\u0042\u0022\u005c\\\"\/", "literals": [null, true, false]}'
    expected = '{"literals":[null,true,false],"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
    assert canonical_bytes(json.loads(sample)).decode("utf-8") == expected


def test_keys_in_the_order_of_rfc_8785_section_3_2_3() -> None:
    # UTF-16 order: the emoji, two code units from U+D83D, stands before U+FB33.
    sample = {
        "\u20ac": "Euro Sign",
        "\r": "Carriage Return",
        "\ufb33": "Hebrew Letter Dalet With Dagesh",
        "1": "One",
        "\U0001f600": "Emoji: Grinning Face",
        "\u0080": "Control",
        "\u00f6": "Latin Small Letter O With Diaeresis",
    }
    assert list(json.loads(canonical_bytes(sample)).values()) == [
        "Carriage Return",
        "One",
        "Control",
        "Latin Small Letter O With Diaeresis",
        "Euro Sign",
        "Emoji: Grinning Face",
        "Hebrew Letter Dalet With Dagesh",
    ]


def test_the_bytes_of_a_string_as_in_rfc_8785_section_3_2_4() -> None:
    # The part of the printed octets that spells the string of the sample.
    octets = bytes.fromhex("22 e2 82 ac 24 5c 75 30 30 30 66 5c 6e 41 27 42 5c 22 5c 5c 5c 5c 5c 22 2f 22")
    assert canonical_bytes('\u20ac$\x0f\nA\'B"\\\\"/') == octets


def test_sha256_of_nothing_is_the_published_value() -> None:
    # FIPS 180-4 test vectors (NIST CAVP), message of length 0.
    assert sha256_hex(b"") == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"


@pytest.mark.parametrize("number", [0.1, 1.0, -0.0, float("nan"), float("inf")])
def test_a_float_is_refused_wherever_it_stands(number: float) -> None:
    with pytest.raises(CanonicalError, match=r"document\.pumps\[1\]\.head_m is the float"):
        canonical_bytes({"pumps": [{"head_m": "1"}, {"head_m": number}]})


@pytest.mark.parametrize(
    ("document", "words"),
    [
        ({1: "a"}, "key 1, which is not text"),
        ({"a": 2**53}, "too large an integer"),
        ({"a": Decimal(1)}, "Decimal, which JSON does not know"),
        ({"a": {1, 2}}, "set, which JSON does not know"),
        ({"a": b"x"}, "bytes, which JSON does not know"),
        ({"a": "\ud800"}, "no canonical form"),
    ],
)
def test_what_json_can_not_say_is_refused(document: Any, words: str) -> None:
    with pytest.raises(CanonicalError, match=words):
        canonical_bytes(document)


@pytest.mark.parametrize(
    ("number", "text"),
    [
        (0.1, "0.1"),
        (1e-7, "0.0000001"),
        (1.5e22, "15000000000000000000000"),
        (850.0, "850"),
        (-0.0, "0"),
        (-12.50, "-12.5"),
        (1000.0, "1000"),
    ],
)
def test_floats_become_their_shortest_decimal_text(number: float, text: str) -> None:
    assert numbers_as_text({"a": [number]}) == {"a": [text]}


def test_numbers_as_text_leaves_other_values_alone_and_the_document_as_it_was() -> None:
    document = {"count": 2, "running": True, "name": "P1", "speed": None, "flow": 12.5}
    assert numbers_as_text(document) == {"count": 2, "running": True, "name": "P1", "speed": None, "flow": "12.5"}
    assert document["flow"] == 12.5


@pytest.mark.parametrize("number", [float("nan"), float("-inf")])
def test_a_number_that_is_not_finite_has_no_text(number: float) -> None:
    with pytest.raises(CanonicalError, match="not a finite number"):
        numbers_as_text([number])


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_the_text_of_a_float_reads_back_to_it(number: float) -> None:
    text = numbers_as_text(number)
    assert "e" not in text
    assert float(text) == number


_documents = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53) + 1, 2**53 - 1)
    | st.text(st.characters(exclude_categories=["Cs"])),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(st.characters(exclude_categories=["Cs"])), inner),
)


@given(_documents)
def test_canonical_bytes_read_back_to_the_document_and_to_themselves(document: Any) -> None:
    data = canonical_bytes(document)
    assert json.loads(data) == document
    assert canonical_bytes(json.loads(data)) == data
