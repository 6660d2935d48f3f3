"""Verifying a data file: who signed, who is missing, and that no byte can change unseen."""

from __future__ import annotations

import json
import random
from datetime import timedelta
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric import ec
from hypothesis import given, settings
from hypothesis import strategies as st

from compat.accord.checklist.item import Side
from compat.accord.plan_document import plan_bytes, plan_payload
from compat.accord.plan_file import PlanFileError, SignedStatement, envelope, read_envelope
from compat.accord.verifying import Verdict, verify
from shared.canonical import canonical_bytes, sha256_hex
from shared.signing import KeyFileError, SigningKey
from tests.compat.accord.plan_builders import KEY, ORGANISATIONS, PREPARED, data_file, plan_inputs, signed, whole_file

PEM = KEY.public_key_pem()
PAYLOAD = plan_bytes(plan_payload(plan_inputs()))
WHOLE = whole_file()


def remade(payload: dict[str, Any] | None = None, **changes: Any) -> bytes:
    outer = json.loads(WHOLE)
    if payload is not None:
        outer["payload"] = canonical_bytes({**json.loads(outer["payload"]), **payload}).decode("utf-8")
    return canonical_bytes({**outer, **changes})


def only(sentences: tuple[str, ...], part: str) -> bool:
    return len(sentences) == 1 and part in sentences[0]


def test_a_whole_file_holds_and_says_who_signed() -> None:
    verdict = verify(WHOLE, PEM)
    assert verdict.holds
    assert verdict.digest_ok
    assert verdict.payload_sha256 == sha256_hex(PAYLOAD)
    assert (verdict.missing, verdict.problems) == ((), ())
    assert [(one.side, one.person, one.organisation) for one in verdict.signatures] == [
        (Side.SHIP, "Ines Marlowe", "Halvard Tankers"),
        (Side.TERMINAL, "Tor Askeland", "Sandvik Oil"),
    ]
    assert "Signed for the ship by Ines Marlowe, Chief officer, Halvard Tankers, at 2031-04-14T06:50:00Z." in (
        verdict.sentences()
    )


def test_the_file_keeps_the_exact_bytes_that_were_signed() -> None:
    file = read_envelope(WHOLE)
    assert file.payload_bytes == PAYLOAD
    assert file.sha256 == sha256_hex(PAYLOAD)
    assert envelope(file.payload_bytes, file.signatures, file.public_key_pem) == WHOLE


@pytest.mark.parametrize("side", list(Side))
def test_one_missing_signature_does_not_hold_and_is_named(side: Side) -> None:
    verdict = verify(data_file(sides=(side,)), PEM)
    assert not verdict.holds
    assert verdict.missing == (side.other,)
    assert verdict.problems == ()
    assert f"No valid signature for the {side.other}." in verdict.sentences()


def test_a_draft_has_nobody() -> None:
    verdict = verify(data_file(sides=()), PEM)
    assert not verdict.holds
    assert verdict.missing == (Side.SHIP, Side.TERMINAL)


def test_another_key_than_the_one_given_does_not_hold() -> None:
    other = SigningKey(ec.generate_private_key(ec.SECP256R1()))
    verdict = verify(WHOLE, other.public_key_pem())
    assert not verdict.holds
    assert verdict.missing == (Side.SHIP, Side.TERMINAL)
    assert any("another public key" in problem for problem in verdict.problems)


def test_a_file_signed_by_another_key_that_names_the_right_one_does_not_hold() -> None:
    other = SigningKey(ec.generate_private_key(ec.SECP256R1()))
    forged = envelope(PAYLOAD, [signed(PAYLOAD, side, other) for side in Side], PEM)
    verdict = verify(forged, PEM)
    assert not verdict.holds
    assert len(verdict.problems) == 2


def test_a_changed_value_under_unchanged_signatures_does_not_hold() -> None:
    changed = json.loads(PAYLOAD)
    changed["values"][0]["value"] = "9"
    verdict = verify(remade(payload=changed), PEM)
    assert not verdict.holds
    assert not verdict.digest_ok
    assert all("made over other bytes" in problem for problem in verdict.problems)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"organisation": "Elsewhere Shipping"}, "not the plan's ship party"),
        ({"statement": "I saw nothing."}, "certifies another text"),
        ({"signed_at": PREPARED - timedelta(minutes=1)}, "before the plan was prepared"),
        ({"payload_sha256": "0" * 64}, "made over other bytes"),
        ({"side": "pilot"}, "for no side of a plan"),
    ],
)
def test_a_sound_signature_over_a_wrong_statement_does_not_hold(changes: dict[str, Any], sentence: str) -> None:
    data = envelope(PAYLOAD, [signed(PAYLOAD, Side.SHIP, **changes), signed(PAYLOAD, Side.TERMINAL)], PEM)
    verdict = verify(data, PEM)
    assert not verdict.holds
    assert verdict.missing == (Side.SHIP,)
    assert only(verdict.problems, sentence)


def test_one_side_can_not_sign_for_both() -> None:
    twice = [signed(PAYLOAD, Side.SHIP), signed(PAYLOAD, Side.SHIP, side=Side.TERMINAL)]
    verdict = verify(envelope(PAYLOAD, twice, PEM), PEM)
    assert not verdict.holds
    assert only(verdict.problems, f"is for {ORGANISATIONS[Side.SHIP]}, which is not the plan's terminal party")


def test_two_signatures_for_one_side_are_a_problem() -> None:
    three = [signed(PAYLOAD, Side.SHIP), signed(PAYLOAD, Side.SHIP), signed(PAYLOAD, Side.TERMINAL)]
    verdict = verify(envelope(PAYLOAD, three, PEM), PEM)
    assert not verdict.holds
    assert verdict.file_problems == ("There are two signatures for the ship.",)


def check_flip(position: int, bit: int) -> Verdict:
    changed = bytearray(WHOLE)
    changed[position] ^= 1 << bit
    return verify(bytes(changed), PEM)


def test_every_byte_outside_the_payload_is_guarded() -> None:
    start = WHOLE.index(b'"payload":') + len(b'"payload":"')
    end = WHOLE.index(b'","public_key_pem"')
    outside = [*range(start), *range(end, len(WHOLE))]
    chooser = random.Random(20310414)  # noqa: S311 - the same places each time
    for position in chooser.sample(outside, 150):
        assert not check_flip(position, chooser.randrange(8)).holds, position


@settings(max_examples=60, deadline=None)
@given(position=st.integers(0, len(WHOLE) - 1), bit=st.integers(0, 7))
def test_no_flipped_bit_anywhere_passes(position: int, bit: int) -> None:
    verdict = check_flip(position, bit)
    assert not verdict.holds
    assert verdict.problems
    assert all(problem.endswith(".") for problem in verdict.problems)


def test_idle_bits_of_the_signature_text_are_guarded() -> None:
    """The last base64 digit before “=” has bits that decode to nothing: a change there must not pass."""
    alphabet = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/"
    tried = 0
    for _ in range(40):
        first = signed(PAYLOAD, Side.SHIP)
        if not first.signature.endswith("="):
            continue
        text = first.signature.rstrip("=")
        twin = text[:-1] + alphabet[alphabet.index(text[-1]) ^ 1] + first.signature[len(text) :]
        data = envelope(PAYLOAD, [SignedStatement(first.statement, twin), signed(PAYLOAD, Side.TERMINAL)], PEM)
        assert not verify(data, PEM).holds
        tried += 1
    assert tried


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"", "not whole JSON"),
        (b"\x00\xff" * 100, "not whole JSON"),
        (WHOLE[:-1], "not whole JSON"),
        (WHOLE[: len(WHOLE) // 2], "not whole JSON"),
        (b"[]", "holds no JSON object"),
        (b"[" * 100_000, "not whole JSON"),
        (WHOLE + b"\n", "not in canonical form"),
        (WHOLE.replace(b'{"algorithm"', b'{ "algorithm"', 1), "not in canonical form"),
        (b"%PDF-1.7\n", "is a PDF; what is signed is its data file"),
        (b'{"type":1.5}', "no canonical form"),
    ],
)
def test_a_damaged_file_is_refused_in_one_sentence(data: bytes, sentence: str) -> None:
    with pytest.raises(PlanFileError, match=sentence):
        read_envelope(data)
    verdict = verify(data, PEM)
    assert not verdict.holds
    assert verdict.missing == (Side.SHIP, Side.TERMINAL)
    assert only(verdict.problems, sentence)


def test_a_file_that_is_too_large_is_refused_before_it_is_parsed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("compat.accord.plan_file.LARGEST_FILE_BYTES", 1000)
    with pytest.raises(PlanFileError, match="a data file has at most 1,000"):
        read_envelope(WHOLE)


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (remade(schema_version="2.0"), "The file is of version 2.0; this program reads version 1"),
        (remade(payload={"schema_version": "7.1"}), "The plan is of version 7.1; this program reads version 1"),
        (remade(schema_version=1), "states no version that can be read: 1"),
        (remade(schema_version="one"), "states no version that can be read"),
        (remade(type="letter"), "of type 'letter', not 'berth-accord-plan-file'"),
        (remade(payload={"type": "letter"}), "The plan is of type 'letter'"),
        (remade(note="x"), "does not have the parts of a data file: note"),
        (remade(algorithm="none"), "signed by a method that this program does not know"),
        (remade(signatures="none"), "does not carry a list of signatures"),
        (remade(signatures=[{"statement": "x"}]), "does not have the parts statement and signature"),
        (remade(signatures=[{"statement": 1, "signature": 2}]), "is not text"),
        (remade(public_key_pem=None), "payload and public key as text"),
    ],
)
def test_another_version_or_shape_is_refused_in_one_sentence(data: bytes, sentence: str) -> None:
    with pytest.raises(PlanFileError, match=sentence):
        read_envelope(data)


def test_a_later_minor_version_is_read_and_what_it_adds_is_kept() -> None:
    file = read_envelope(remade(payload={"schema_version": "1.9", "tide_table": ["06:12"]}))
    assert file.payload["tide_table"] == ["06:12"]


def test_a_statement_that_is_no_statement_is_named() -> None:
    odd = SignedStatement(b'{"type":"letter"}', KEY.sign(b'{"type":"letter"}'))
    verdict = verify(envelope(PAYLOAD, [odd, signed(PAYLOAD, Side.TERMINAL)], PEM), PEM)
    assert not verdict.holds
    assert not verdict.digest_ok
    assert only(verdict.problems, "A signature's statement is of type 'letter'")


def test_a_key_that_is_no_key_is_an_input_error_and_no_verdict() -> None:
    with pytest.raises(KeyFileError, match="no PEM text"):
        verify(WHOLE, "hello")
