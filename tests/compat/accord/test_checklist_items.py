"""The catalogue as data: keys, wording, values, sources and the paragraphs of the rules that it meets."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from compat.accord.checklist import (
    ITEMS,
    item_named,
    items_covering_156_120,
    items_covering_156_150,
    items_for,
    uncovered_paragraphs,
)
from compat.accord.checklist.conditions import TransferConditions
from compat.accord.checklist.coverage import CFR_156_120, CFR_156_150, MET_BY_THE_PLAN
from compat.accord.checklist.item import Item, Phase, Repeat, Severity, Side
from compat.accord.values import DEFINITIONS
from shared.calc.errors import InputError
from shared.calc.units import UNITS

REFERENCE = Path(__file__).parents[2] / "reference" / "cfr_33_156_120_paragraphs.csv"
UNITS_BESIDE_THE_CONVERTIBLE = {"count", "% vol", "% LFL", "ppm", "pS/m", "ohm", "lux", "kN"}


def paragraphs_of_156_120() -> list[str]:
    lines = REFERENCE.read_text(encoding="utf-8").splitlines()
    return [line for line in lines if line.startswith("(")]


def test_every_paragraph_of_156_120_is_in_the_table_and_met_by_an_item_that_exists() -> None:
    # Source: 33 CFR 156.120, 2015 annual edition; see the reference file.
    assert list(CFR_156_120) == paragraphs_of_156_120()
    assert uncovered_paragraphs() == []
    for paragraph in paragraphs_of_156_120():
        assert items_covering_156_120(paragraph), paragraph


@pytest.mark.parametrize("letter", "abcdefghijklmnopqrstuvwxyz")
def test_each_single_letter_of_156_120_is_met(letter: str) -> None:
    assert any(found.startswith(f"({letter})") for item in ITEMS for found in item.cfr_156_120)


def test_the_first_twenty_five_letters_are_met_for_a_transfer_by_arms_by_day_and_by_hoses_at_night() -> None:
    # (c) and (i) speak of hoses and (y) of night, so it takes two transfers to show all of (a) to (y).
    by_day = items_for(TransferConditions(operation="discharge", connection="arms", night=False))
    at_night = items_for(TransferConditions(operation="discharge", connection="hoses", night=True))
    met = {found[1:2] for item in by_day + at_night for found in item.cfr_156_120}
    assert set("abcdefghijklmnopqrstuvwxy") <= met


@pytest.mark.parametrize("paragraph", ["(c)(1)", "(c)(2)", "(c)(3)", "(c)(4)", "(c)(5)", "(c)(6)"])
def test_each_content_of_the_declaration_is_met_by_an_item_or_by_the_plan(paragraph: str) -> None:
    # Source: 33 CFR 156.150(c), 2015 annual edition.
    assert paragraph in CFR_156_150
    assert items_covering_156_150(paragraph) or paragraph in MET_BY_THE_PLAN


def test_items_name_only_paragraphs_that_exist() -> None:
    for item in ITEMS:
        assert set(item.cfr_156_120) <= set(CFR_156_120), item.key
        assert set(item.cfr_156_150) <= set(CFR_156_150), item.key


def test_keys_are_unique_and_readable() -> None:
    keys = [item.key for item in ITEMS]
    assert len(set(keys)) == len(keys) == 90
    for key in keys:
        assert re.fullmatch(r"[a-z]+(\.[a-z]+(-[a-z]+)*)", key), key


@pytest.mark.parametrize("item", ITEMS, ids=lambda item: item.key)
def test_each_item_is_a_sentence_with_someone_to_answer_and_a_source(item: Item) -> None:
    assert item.statement[0].isupper()
    assert item.statement.endswith(".")
    assert "  " not in item.statement
    assert item.answered_by
    assert set(item.answered_by) <= set(Side)
    assert item.basis(), "the source stands beside each item"
    assert item.applies_words()


@pytest.mark.parametrize("item", [item for item in ITEMS if item.severity is Severity.LAW], ids=lambda item: item.key)
def test_an_item_that_a_rule_asks_for_names_a_rule_that_was_read(item: Item) -> None:
    read = [source for source in item.sources if source.basis == "read"]
    assert read or item.cfr_156_120 or item.cfr_156_150


@pytest.mark.parametrize("item", [item for item in ITEMS if item.values], ids=lambda item: item.key)
def test_asked_values_have_a_unit_and_a_range_where_they_are_numbers(item: Item) -> None:
    keys = [value.key for value in item.values]
    assert len(set(keys)) == len(keys)
    for value in item.values:
        if value.kind == "number":
            assert value.unit in UNITS or value.unit in UNITS_BESIDE_THE_CONVERTIBLE, value.key
            assert value.least is not None
            assert value.greatest is not None
            assert value.least < value.greatest
        if value.kind == "agreed":
            assert value.key in DEFINITIONS
            assert value not in item.asked


def test_every_value_of_the_accord_is_named_by_an_item() -> None:
    named = {value.key for item in ITEMS for value in item.values if value.kind == "agreed"}
    assert named == set(DEFINITIONS)


def test_phases_come_in_the_order_in_which_they_happen() -> None:
    order = list(Phase)
    places = [order.index(item.phase) for item in ITEMS]
    assert places == sorted(places)
    assert [phase for phase in Phase if not phase.before_signing] == [Phase.TRANSFER, Phase.COMPLETION]


def test_the_source_that_was_only_recalled_says_so() -> None:
    assert item_named("pumproom.safe").basis() == "33 CFR 156.120(p); SOLAS II-2/4.5.10 (from memory)"


def test_a_key_that_does_not_exist_is_refused_by_name() -> None:
    with pytest.raises(InputError, match=r"no checklist item “moor\.lines”"):
        item_named("moor.lines")


@pytest.mark.parametrize(
    ("repeat", "words"),
    [
        (Repeat(every_min=60), "every hour"),
        (Repeat(every_min=120, on="at low water"), "every 2 h; at low water"),
        (
            Repeat(every_min=60, closer_every_min=15, closer_while="in the first hour"),
            "every hour; every 15 min in the first hour",
        ),
        (Repeat(each_watch=True, on="at dusk"), "each watch; at dusk"),
        (Repeat(every_min=90), "every 90 min"),
    ],
)
def test_repetition_is_said_in_words(repeat: Repeat, words: str) -> None:
    assert repeat.words() == words
