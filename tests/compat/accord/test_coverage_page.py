"""The page that shows which item meets which paragraph of 33 CFR 156.120 and 156.150."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from django.test import Client

from compat.accord import actions
from compat.accord.checklist.conditions import TransferConditions
from compat.accord.checklist.item import Side
from compat.accord.coverage_showing import Met, ParagraphRow, coverage_of
from compat.accord.models import Accord, AnswerChoice
from compat.accord.states import State
from shared.models import Person
from tests.builders import NOW
from tests.compat.accord.asking import address
from tests.compat.accord.building import CONDITIONS, bring_to, open_accord
from tests.compat.accord.test_checklist_items import paragraphs_of_156_120

ClientOf = Callable[[Person | None], Client]


@pytest.fixture
def accord(ship_officer: Person, terminal_officer: Person) -> Accord:
    return open_accord(ship_officer, terminal_officer)


def row_of(accord: Accord, paragraph: str) -> ParagraphRow:
    return next(row for row in coverage_of(accord)[0].rows if row.paragraph == paragraph)


def test_every_paragraph_of_the_published_list_stands_there_with_what_meets_it(accord: Accord) -> None:
    of_120, of_150 = coverage_of(accord)
    assert [row.paragraph for row in of_120.rows] == paragraphs_of_156_120()
    assert all(row.items for row in of_120.rows)
    # Source: 33 CFR 156.150(c)(1) to (6), 2015 annual edition.
    of_c = [row for row in of_150.rows if row.paragraph.startswith("(c)")]
    assert [row.paragraph for row in of_c] == [f"(c)({number})" for number in range(1, 7)]
    assert all(row.items or row.in_plan for row in of_150.rows)


def test_a_settled_accord_leaves_no_paragraph_open(ship_officer: Person, terminal_officer: Person) -> None:
    settled = bring_to(State.SETTLED, ship_officer, terminal_officer)
    standing = {row.met for section in coverage_of(settled) for row in section.rows}
    assert standing <= {Met.ANSWERED, Met.LATER, Met.IN_PLAN, Met.LEFT_OUT}


def test_a_paragraph_waits_until_each_side_has_answered_and_a_no_is_told(
    accord: Accord, ship_officer: Person, terminal_officer: Person
) -> None:
    lit = row_of(accord, "(h)")
    assert lit.met is Met.WAITS
    [item] = {one.item for one in lit.items}
    for side, person in ((Side.SHIP, ship_officer), (Side.TERMINAL, terminal_officer)):
        if side in item.answered_by:
            actions.answer_item(
                by=person,
                now=NOW,
                accord=accord,
                item_key=item.key,
                answer=AnswerChoice.NO,
                values={},
                remark="One valve leaks.",
                seen=None,
            )
    assert row_of(accord, "(h)").met is Met.NO


def test_what_the_conditions_leave_out_says_when_it_applies(ship_officer: Person, terminal_officer: Person) -> None:
    by_day = open_accord(ship_officer, terminal_officer, conditions=replace(CONDITIONS, vapour_return=False))
    row = row_of(by_day, "(aa)(1)")
    assert (row.met, row.items[0].who[0].startswith("applies when")) == (Met.LEFT_OUT, True)
    by_day.conditions = TransferConditions().document()
    assert row_of(by_day, "(aa)(1)").met is Met.WAITS


def test_the_page_says_whose_words_these_are_and_that_other_rules_come_first(
    accord: Accord, ship_reader: Person, client_of: ClientOf
) -> None:
    page = client_of(ship_reader).get(address(accord, "accord-coverage")).text
    assert "2015 annual edition" in page
    assert "Local regulations and terminal procedures come first" in page
    assert "sea and overboard valves are sealed shut" in page
