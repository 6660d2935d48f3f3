"""Both say go; stops, holds and ends; checks with their due times; what turns false holds the transfer."""

from __future__ import annotations

from datetime import timedelta

import pytest

from compat.accord import actions as accord_actions
from compat.accord.checklist import item_named
from compat.accord.checklist.item import Side
from compat.accord.models import AnswerChoice
from compat.accord.moving import MeanwhileError
from compat.record.chain import current_accord, record_of
from compat.record.checking import give_check
from compat.record.due import READING_ITEM, interval
from compat.record.events import Kind
from compat.record.exceptions import exceptions_of
from compat.record.flowing import correct_event, end_flow, log_event, say_go, stop_flow
from compat.record.models import TransferRecord
from compat.record.moving import move
from compat.record.opening import accept_arrangement, open_record, propose_arrangement
from compat.record.states import Move, MoveError, State
from compat.record.what_is_due import due_now
from shared.calc.errors import AccordError, InputError
from shared.models import Person
from shared.permissions import NotAllowedError
from tests.builders import NOW
from tests.compat.accord.building import amend_to_force, bring_to
from tests.compat.record.keeping import ARRANGEMENT, START, flowing, open_kept, read

pytestmark = pytest.mark.django_db
LEAKS = "watch.no-leaks"
OUTSIDERS = ["ship_reader", "terminal_reader", "auditor", "stranger", "installation_admin"]


def state_of(record: TransferRecord) -> str:
    record.refresh_from_db()
    return record.state


def test_a_record_is_opened_under_a_plan_in_force_and_the_other_side_accepts(
    ship_officer: Person, terminal_officer: Person
) -> None:
    accord = bring_to("in force", ship_officer, terminal_officer)  # type: ignore[arg-type]
    record = open_record(by=ship_officer, now=NOW, accord=accord, arrangement=ARRANGEMENT)
    with pytest.raises(NotAllowedError, match="the terminal accepts it"):
        accept_arrangement(by=ship_officer, now=NOW, record=record, seen=record.arranged_at)
    later = NOW + timedelta(minutes=5)
    other = ARRANGEMENT.model_copy(update={"band_percent": 3.0})
    propose_arrangement(by=terminal_officer, now=later, record=record, arrangement=other, seen=record.arranged_at)
    with pytest.raises(MeanwhileError, match="another arrangement"):
        propose_arrangement(by=ship_officer, now=later, record=record, arrangement=other, seen=NOW)
    record.refresh_from_db()
    accept_arrangement(by=ship_officer, now=later, record=record, seen=later)
    assert state_of(record) == State.WAITING
    assert record.arranged().band_percent == 3.0


def test_a_record_needs_a_plan_in_force_and_there_is_one_only(ship_officer: Person, terminal_officer: Person) -> None:
    settled = bring_to("settled", ship_officer, terminal_officer)  # type: ignore[arg-type]
    with pytest.raises(InputError, match="in force"):
        open_record(by=ship_officer, now=NOW, accord=settled, arrangement=ARRANGEMENT)
    record = open_kept(
        ship_officer,
        terminal_officer,
        bring_to("in force", ship_officer, terminal_officer, ship_name="Berit Halvard", berth_name="Inner berth"),  # type: ignore[arg-type]
    )
    with pytest.raises(MeanwhileError, match="open already"):
        open_record(by=terminal_officer, now=NOW, accord=record.accord, arrangement=ARRANGEMENT)


def test_oil_flows_when_both_have_said_go_and_not_before(ship_officer: Person, terminal_officer: Person) -> None:
    record = open_kept(ship_officer, terminal_officer)
    assert say_go(by=ship_officer, now=START, record=record) is False
    assert state_of(record) == State.WAITING
    with pytest.raises(MeanwhileError, match="has said go already"):
        say_go(by=ship_officer, now=START, record=record)
    assert say_go(by=terminal_officer, now=START, record=record) is True
    assert state_of(record) == State.FLOWING
    assert record.started_at == START
    assert [event.kind for event in record.events.all()] == [Kind.STARTED]


def test_a_stop_takes_back_what_was_said_and_both_say_go_again(ship_officer: Person, terminal_officer: Person) -> None:
    record = flowing(ship_officer, terminal_officer)
    at = START + timedelta(hours=2)
    stop_flow(by=terminal_officer, now=at, record=record, at=at, reason="Tank change.", caused_by="terminal")
    assert state_of(record) == State.STOPPED
    assert not record.go_said_by(Side.SHIP)
    say_go(by=terminal_officer, now=at, record=record)
    assert state_of(record) == State.STOPPED
    say_go(by=ship_officer, now=at + timedelta(hours=1), record=record)
    assert state_of(record) == State.FLOWING
    assert record.started_at == START
    assert [event.kind for event in record.events.all()] == [Kind.STARTED, Kind.STOPPED, Kind.RESTARTED]


def test_a_required_item_that_turns_false_holds_the_transfer_until_both_say_otherwise(
    ship_officer: Person, terminal_officer: Person
) -> None:
    record = flowing(ship_officer, terminal_officer)
    now = START + timedelta(hours=1)
    no, yes = AnswerChoice.NO, AnswerChoice.YES
    give_check(by=ship_officer, now=now, record=record, item_key=LEAKS, answer=no, remark="Drip at the reducer.")
    assert state_of(record) == State.HELD
    assert "Drip at the reducer." in record.state_reason
    for person in (ship_officer, terminal_officer):
        with pytest.raises(MoveError, match="1 required item stands at “no”"):
            say_go(by=person, now=now, record=record)
    give_check(by=ship_officer, now=now, record=record, item_key=LEAKS, answer=yes)
    assert state_of(record) == State.HELD
    say_go(by=ship_officer, now=now, record=record)
    assert state_of(record) == State.HELD
    say_go(by=terminal_officer, now=now, record=record)
    assert state_of(record) == State.FLOWING


def test_an_item_that_is_advice_holds_nothing(ship_officer: Person, terminal_officer: Person) -> None:
    record = flowing(ship_officer, terminal_officer)
    end_flow(by=ship_officer, now=START, record=record, at=START)
    give_check(
        by=ship_officer,
        now=START,
        record=record,
        item_key="end.quantities-compared",
        answer=AnswerChoice.NO,
        remark="Shore figures come tomorrow.",
    )
    assert state_of(record) == State.COMPLETED


def test_the_move_is_one_conditional_update(ship_officer: Person, terminal_officer: Person) -> None:
    record = flowing(ship_officer, terminal_officer)
    stale = TransferRecord.objects.get(pk=record.pk)
    stop_flow(by=ship_officer, now=START, record=record, at=START, reason="Tank change.", caused_by="ship")
    with pytest.raises(MeanwhileError, match="Someone else acted first"):
        move(stale, Move.COMPLETE, Side.SHIP, now=START)
    assert state_of(record) == State.STOPPED


@pytest.mark.parametrize("who", OUTSIDERS)
def test_nobody_else_moves_the_flow_or_answers_checks(
    who: str, ship_officer: Person, terminal_officer: Person, request: pytest.FixtureRequest
) -> None:
    person: Person = request.getfixturevalue(who)
    record = flowing(ship_officer, terminal_officer)
    acts = [
        lambda: say_go(by=person, now=START, record=record),
        lambda: stop_flow(by=person, now=START, record=record, at=START, reason="why", caused_by="ship"),
        lambda: end_flow(by=person, now=START, record=record, at=START),
        lambda: log_event(by=person, now=START, record=record, kind=Kind.MOORED, at=START),
        lambda: correct_event(by=person, now=START, event=record.events.get(), at=START, remark="", reason="why"),
        lambda: give_check(by=person, now=START, record=record, item_key=LEAKS, answer=AnswerChoice.YES),
        lambda: open_record(by=person, now=NOW, accord=record.accord, arrangement=ARRANGEMENT),
        lambda: accept_arrangement(by=person, now=NOW, record=record, seen=NOW),
        lambda: propose_arrangement(by=person, now=NOW, record=record, arrangement=ARRANGEMENT, seen=NOW),
    ]
    for act in acts:
        with pytest.raises(NotAllowedError):
            act()


def test_times_that_can_not_be_are_refused(ship_officer: Person, terminal_officer: Person) -> None:
    record = flowing(ship_officer, terminal_officer)
    early, late = START - timedelta(hours=1), START + timedelta(hours=1)
    with pytest.raises(InputError, match="lies before flow began"):
        stop_flow(by=ship_officer, now=START, record=record, at=early, reason="why", caused_by="ship")
    with pytest.raises(InputError, match="lies ahead of now"):
        end_flow(by=ship_officer, now=START, record=record, at=late)


def test_starts_and_stops_are_not_typed_into_the_time_sheet(ship_officer: Person, terminal_officer: Person) -> None:
    record = flowing(ship_officer, terminal_officer)
    with pytest.raises(InputError, match="is written when the flow itself"):
        log_event(by=ship_officer, now=START, record=record, kind=Kind.STARTED, at=START)
    with pytest.raises(InputError, match="Say in the remark"):
        log_event(by=ship_officer, now=START, record=record, kind=Kind.OTHER, at=START)


def test_a_line_of_the_time_sheet_is_corrected_beside_the_old_one(
    ship_officer: Person, terminal_officer: Person
) -> None:
    record = open_kept(ship_officer, terminal_officer)
    line = log_event(by=ship_officer, now=NOW, record=record, kind=Kind.MOORED, at=NOW)
    early = NOW - timedelta(minutes=20)
    with pytest.raises(NotAllowedError, match="line of the ship"):
        correct_event(by=terminal_officer, now=NOW, event=line, at=early, remark="", reason="why")
    right = correct_event(
        by=ship_officer, now=NOW, event=line, at=early, remark="Last line 20 min earlier", reason="Log."
    )
    line.refresh_from_db()
    assert line.at == NOW
    assert (right.at, right.corrects) == (early, line)
    with pytest.raises(MeanwhileError):
        correct_event(by=ship_officer, now=NOW, event=line, at=NOW, remark="", reason="again")


def due_of(record: TransferRecord, side: Side, hours: float) -> dict[str, float]:
    now = START + timedelta(hours=hours)
    found = due_now(record, current_accord(record), now)
    return {one.item.key: one.left / timedelta(minutes=1) for one in found if one.side is side}


def test_readings_are_due_each_quarter_of_an_hour_first_and_hourly_then(
    ship_officer: Person, terminal_officer: Person
) -> None:
    record = flowing(ship_officer, terminal_officer)
    assert due_of(record, Side.SHIP, 0)[READING_ITEM] == 15
    read(record, ship_officer, after_h=0.25)
    assert due_of(record, Side.SHIP, 0.25)[READING_ITEM] == 15
    read(record, ship_officer, after_h=1.0)
    assert due_of(record, Side.SHIP, 1.0)[READING_ITEM] == 60
    assert due_of(record, Side.TERMINAL, 1.0)[READING_ITEM] == -45  # overdue, and shown to both


def test_checks_come_due_again_after_their_interval_and_lateness_is_kept(
    ship_officer: Person, terminal_officer: Person
) -> None:
    record = flowing(ship_officer, terminal_officer)
    assert due_of(record, Side.SHIP, 0)[LEAKS] == 60
    given = give_check(
        by=ship_officer, now=START + timedelta(minutes=85), record=record, item_key=LEAKS, answer=AnswerChoice.YES
    )
    assert given.late_min == 25
    assert due_of(record, Side.SHIP, 85 / 60)[LEAKS] == 60
    assert due_of(record, Side.TERMINAL, 85 / 60)[LEAKS] == -25


def test_nothing_is_due_before_flow_and_after_its_end(ship_officer: Person, terminal_officer: Person) -> None:
    record = open_kept(ship_officer, terminal_officer)
    assert due_of(record, Side.SHIP, 0) == {}
    record = flowing_from(record, ship_officer, terminal_officer)
    end_flow(by=ship_officer, now=START, record=record, at=START)
    record.refresh_from_db()
    assert due_of(record, Side.SHIP, 5) == {}


def flowing_from(record: TransferRecord, *people: Person) -> TransferRecord:
    for person in people:
        say_go(by=person, now=START, record=record)
    record.refresh_from_db()
    return record


def test_a_check_needs_its_side_its_reason_and_to_be_on_the_list(
    ship_officer: Person, terminal_officer: Person
) -> None:
    record = flowing(ship_officer, terminal_officer)
    with pytest.raises(NotAllowedError, match="answered by the ship"):
        give_check(by=terminal_officer, now=START, record=record, item_key="sea.valves-sealed", answer=AnswerChoice.YES)
    with pytest.raises(InputError, match="needs a remark"):
        give_check(by=ship_officer, now=START, record=record, item_key=LEAKS, answer=AnswerChoice.NO)
    with pytest.raises(InputError, match="is not answered in this record"):
        give_check(by=ship_officer, now=START, record=record, item_key="watch.cow", answer=AnswerChoice.YES)


def test_an_amendment_carries_its_record_on(ship_officer: Person, terminal_officer: Person) -> None:
    record = flowing(ship_officer, terminal_officer)
    amendment = amend_to_force(record.accord, ship_officer, terminal_officer)
    found = record_of(amendment)
    assert found == record
    assert current_accord(record) == amendment
    assert read(record, ship_officer).plan_number == 2


def test_without_a_plan_in_force_flow_does_not_go_on(ship_officer: Person, terminal_officer: Person) -> None:
    record = flowing(ship_officer, terminal_officer)
    stop_flow(by=ship_officer, now=START, record=record, at=START, reason="Tank change.", caused_by="ship")
    accord_actions.withdraw(by=ship_officer, now=START, accord=record.accord, reason="The ship is sent elsewhere.")
    with pytest.raises(AccordError, match="No plan is in force"):
        say_go(by=ship_officer, now=START, record=record)


def test_an_interval_that_both_sides_agreed_goes_before_the_proposed_one() -> None:
    item = item_named("comms.proved")
    assert interval(item, ARRANGEMENT, timedelta(hours=3)) == timedelta(minutes=30)
    assert interval(item, ARRANGEMENT, timedelta(hours=3), {"comms.proved": 45.0}) == timedelta(minutes=45)


def test_what_is_answered_late_in_one_go_is_one_departure(ship_officer: Person, terminal_officer: Person) -> None:
    record = flowing(ship_officer, terminal_officer)
    at = START + timedelta(hours=4)
    for minute, key in enumerate(("watch.no-leaks", "watch.weather")):
        give_check(
            by=ship_officer,
            now=at + timedelta(minutes=minute),
            record=record,
            item_key=key,
            answer=AnswerChoice.YES,
        )
    late = [one for one in exceptions_of(record, at + timedelta(minutes=2)) if one.closed == "Answered late."]
    assert len(late) == 1
    assert "Answered late by the ship" in late[0].said
    assert "2 items." in late[0].said
