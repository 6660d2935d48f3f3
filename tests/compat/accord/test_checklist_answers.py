"""Checklist answers: by the side they belong to, one at a time, corrections beside the first answer, what blocks."""

from __future__ import annotations

from typing import Any

import pytest

from compat.accord import actions
from compat.accord.answer_values import checked_values
from compat.accord.answering import latest_answers
from compat.accord.checklist import item_named, items_before_signing
from compat.accord.checklist.item import AskedValue, Item, Phase, Severity, Side, moment, number, text, yes_or_no
from compat.accord.checklist.item import date as day
from compat.accord.models import Accord, AnswerChoice, ChecklistAnswer
from compat.accord.moving import MeanwhileError
from compat.accord.progress import progress_of, what_keeps_from_settling
from compat.accord.states import State
from shared.calc.errors import InputError
from shared.models import Person, TrailRow
from shared.permissions import NotAllowedError
from shared.trail import facts_of
from tests.builders import NOW
from tests.compat.accord.building import CONDITIONS, agree, bring_to, open_accord, write_answers

YES, NO, DOES_NOT_APPLY = AnswerChoice.YES, AnswerChoice.NO, AnswerChoice.DOES_NOT_APPLY
BOTH_ITEM = "signs.shown"
SHIP_ITEM = "sea.valves-sealed"
TERMINAL_ITEM = "term.manual-current"
ADVICE = "moor.can-leave"


@pytest.fixture
def accord(ship_officer: Person, terminal_officer: Person) -> Accord:
    return open_accord(ship_officer, terminal_officer)


def answer(accord: Accord, by: Person, key: str, said: AnswerChoice = YES, **more: Any) -> ChecklistAnswer:
    given: dict[str, Any] = {"values": {}, "remark": "", "seen": None}
    return actions.answer_item(by=by, now=NOW, accord=accord, item_key=key, answer=said, **{**given, **more})


def test_each_side_marks_an_item_of_both_separately(
    accord: Accord, ship_officer: Person, terminal_officer: Person
) -> None:
    answer(accord, ship_officer, BOTH_ITEM)
    assert set(latest_answers(accord)) == {(BOTH_ITEM, Side.SHIP)}
    answer(accord, terminal_officer, BOTH_ITEM)
    given = latest_answers(accord)
    assert {side: given[BOTH_ITEM, side].by for side in Side} == {
        Side.SHIP: ship_officer,
        Side.TERMINAL: terminal_officer,
    }


def test_an_item_of_one_side_is_not_answered_by_the_other(
    accord: Accord, ship_officer: Person, terminal_officer: Person
) -> None:
    with pytest.raises(NotAllowedError, match="answered by the ship, not by the terminal"):
        answer(accord, terminal_officer, SHIP_ITEM)
    with pytest.raises(NotAllowedError, match="answered by the terminal, not by the ship"):
        answer(accord, ship_officer, TERMINAL_ITEM)


@pytest.mark.parametrize("who", ["ship_reader", "terminal_reader", "auditor", "stranger", "other_terminal_officer"])
def test_who_may_not_answer(who: str, accord: Accord, request: pytest.FixtureRequest) -> None:
    with pytest.raises(NotAllowedError):
        answer(accord, request.getfixturevalue(who), BOTH_ITEM)
    assert not accord.answers.exists()


@pytest.mark.parametrize("said", [NO, DOES_NOT_APPLY])
def test_anything_but_yes_needs_a_reason(said: AnswerChoice, accord: Accord, ship_officer: Person) -> None:
    with pytest.raises(InputError, match="needs a remark"):
        answer(accord, ship_officer, BOTH_ITEM, said, remark="   ")
    answer(accord, ship_officer, BOTH_ITEM, said, remark="Signals are lit instead.")
    assert latest_answers(accord)[BOTH_ITEM, Side.SHIP].answer == said


def test_a_correction_stands_beside_the_first_answer_and_counts(accord: Accord, ship_officer: Person) -> None:
    first = answer(accord, ship_officer, BOTH_ITEM, NO, remark="One notice is missing.")
    answer(accord, ship_officer, BOTH_ITEM, seen=first.pk)
    assert accord.answers.count() == 2
    assert latest_answers(accord)[BOTH_ITEM, Side.SHIP].answer == YES


def test_two_people_of_one_side_do_not_write_over_each_other(
    accord: Accord, ship_officer: Person, ship_admin: Person
) -> None:
    answer(accord, ship_officer, BOTH_ITEM, NO, remark="One notice is missing.")
    with pytest.raises(MeanwhileError, match="Ingrid Solheim answered “No” for the ship"):
        answer(accord, ship_admin, BOTH_ITEM)
    assert latest_answers(accord)[BOTH_ITEM, Side.SHIP].answer == NO


def test_an_item_that_does_not_apply_to_this_transfer_is_not_on_the_list(accord: Accord, ship_officer: Person) -> None:
    with pytest.raises(InputError, match="is not on this accord's checklist"):
        answer(accord, ship_officer, "agree.cow-plan")


def test_a_duty_under_the_plan_is_not_answered_before_signing(accord: Accord, ship_officer: Person) -> None:
    with pytest.raises(InputError, match="is a duty under the plan"):
        answer(accord, ship_officer, "watch.levels")


def test_a_required_value_belongs_to_a_yes(accord: Accord, ship_officer: Person) -> None:
    with pytest.raises(InputError, match="Measured closing time"):
        answer(accord, ship_officer, "esd.proved")
    answer(accord, ship_officer, "esd.proved", values={"closing_s": "24.0"})
    assert latest_answers(accord)["esd.proved", Side.SHIP].values == {"closing_s": "24"}


def _item(*values: AskedValue) -> Item:
    return Item("test.item", Phase.MEETING, "It is so.", (Side.SHIP,), Severity.LAW, values)


@pytest.mark.parametrize(
    ("value", "given", "kept"),
    [
        (number("a", "Wind", "m/s", "1", "60"), " 12.50 ", "12.5"),
        (number("a", "Wind", "m/s", "1", "60"), "1 0", "10"),
        (text("a", "Channel"), " VHF 14 ", "VHF 14"),
        (day("a", "Tested on"), "2031-04-01", "2031-04-01"),
        (moment("a", "Tested at"), "2031-04-01T05:30:00+02:00", "2031-04-01T05:30+02:00"),
        (yes_or_no("a", "Boom set"), "no", "no"),
        (number("a", "Wind", "m/s", "1", "60"), "  ", None),
    ],
)
def test_values_are_kept_in_one_form(value: AskedValue, given: str, kept: str | None) -> None:
    expected = {} if kept is None else {"a": kept}
    assert checked_values(_item(value), {"a": given}, all_required=True) == expected


@pytest.mark.parametrize(
    ("value", "given", "sentence"),
    [
        (number("a", "Wind", "m/s", "1", "60"), "61", "Wind [m/s] is 61; allowed: 1 to 60 m/s."),
        (number("a", "Wind", "m/s", "1", "60"), "strong", "Wind [m/s] “strong” is not a number; allowed: 1 to 60 m/s."),
        (number("a", "Wind", "m/s", "1", "60"), "1e1", "is not a number"),
        (text("a", "Channel"), "x" * 201, "Channel has 201 characters; allowed: up to 200."),
        (day("a", "Tested on"), "1 April", "write a day as year-month-day"),
        (moment("a", "Tested at"), "2031-04-01T05:30", "write date, time and zone"),
        (yes_or_no("a", "Boom set"), "maybe", "choose yes or no"),
        (text("a", "Channel", required=True), "", "Channel is missing"),
    ],
)
def test_values_that_can_not_be_are_refused_in_a_sentence(value: AskedValue, given: str, sentence: str) -> None:
    with pytest.raises(InputError) as refused:
        checked_values(_item(value), {"a": given}, all_required=True)
    assert sentence in str(refused.value)


def test_a_value_that_nobody_asks_for_is_refused() -> None:
    with pytest.raises(InputError, match="“b” is not asked for"):
        checked_values(_item(text("a", "Channel")), {"b": "x"}, all_required=False)


def test_progress_counts_each_side(accord: Accord, ship_officer: Person) -> None:
    items = items_before_signing(CONDITIONS)
    answer(accord, ship_officer, SHIP_ITEM)
    ship, terminal = (progress_of(items, latest_answers(accord), side) for side in Side)
    assert (ship.answered, terminal.answered) == (1, 0)
    assert ship.asked == sum(Side.SHIP in item.answered_by for item in items)
    assert len(ship.owed) == sum(Side.SHIP in item.answered_by and item.severity.must for item in items) - 1


def test_a_no_to_a_required_item_keeps_the_accord_from_being_settled(
    accord: Accord, ship_officer: Person, terminal_officer: Person
) -> None:
    agree(accord, ship_officer, terminal_officer)
    write_answers(accord, ship_officer, terminal_officer)
    assert what_keeps_from_settling(accord) == []
    given = latest_answers(accord)[SHIP_ITEM, Side.SHIP]
    answer(accord, ship_officer, SHIP_ITEM, NO, remark="One valve leaks.", seen=given.pk)
    (left,) = what_keeps_from_settling(accord)
    assert left == f"The ship answered “no” to what is required: “{item_named(SHIP_ITEM).statement}”"


def test_a_no_to_advice_does_not(accord: Accord, ship_officer: Person, terminal_officer: Person) -> None:
    agree(accord, ship_officer, terminal_officer)
    write_answers(accord, ship_officer, terminal_officer)
    given = latest_answers(accord)[ADVICE, Side.SHIP]
    answer(accord, ship_officer, ADVICE, NO, remark="Tugs need an hour.", seen=given.pk)
    assert what_keeps_from_settling(accord) == []


@pytest.mark.parametrize("state", [state for state in State if state is not State.ON_TABLE])
def test_answers_change_only_while_the_accord_is_on_the_table(
    state: State, ship_officer: Person, terminal_officer: Person
) -> None:
    accord = bring_to(state, ship_officer, terminal_officer)
    given = latest_answers(accord).get((SHIP_ITEM, Side.SHIP))
    before = accord.answers.count()
    with pytest.raises(MeanwhileError, match=f"This accord is {state}"):
        answer(accord, ship_officer, SHIP_ITEM, seen=given.pk if given else None)
    assert accord.answers.count() == before


def test_each_answer_stands_in_the_trail(accord: Accord, ship_officer: Person) -> None:
    answer(accord, ship_officer, "esd.proved", NO, remark="It sticks.")
    row = TrailRow.objects.get(subject=accord.subject, act="checklist answered")
    assert facts_of(row) == {
        "item": "esd.proved",
        "side": "ship",
        "answer": "no",
        "values": {},
        "remark": "It sticks.",
    }
