"""An earlier discharge of the demo scenario, kept to its end and signed by both: a stop, a correction, a late check."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

from compat.accord.checklist.item import Side
from compat.accord.ending import expire_due
from compat.accord.models import Accord, AnswerChoice
from compat.assessing.models import Assessment
from compat.demo.accords import Table, in_force
from compat.demo.cast import SECRET
from compat.demo.checklist import Answers
from compat.demo.clock import Clock
from compat.demo.records import QUARTERS_H, Deck, open_deck
from compat.record.checking import closing_items, give_check
from compat.record.closing import settle_record, sign_record
from compat.record.events import Kind
from compat.record.flowing import end_flow, log_event, say_go, stop_flow
from compat.record.readings import MANIFOLD
from compat.record.taking import correct_reading
from shared.models import Organisation, Person

_HOURS = 19
_STOP_AT, _STOPPED_FOR = 9, 1.25
_SLOW_AT = 13


def closed(table: Table, assessment: Assessment, auditor: Organisation, reliefs: dict[Side, Person]) -> Accord:
    """Agree a plan, keep its record for nineteen hours of flow, sign it, and let the plan expire."""
    accord = in_force(table, assessment, auditor, in_hours=20, holds_for_days=1.5)
    clock = table.clock
    deck = open_deck(accord, table.ship, table.terminal, clock, accord.planned_start, seed=17)
    deck.watch(clock, table.ship, table.terminal)
    for after_h in QUARTERS_H:
        deck.read(clock, after_h, speed=0.9 if after_h < 0.5 else 0.96)
    log_event(by=deck.ship, now=clock.tick(), record=deck.record, kind=Kind.FULL_RATE, at=deck.at(0.7))
    for hour in range(1, _HOURS + 1):
        if _STOP_AT < hour < _STOP_AT + 0.5 + _STOPPED_FOR:
            continue  # no flow
        _hour(deck, clock, hour, reliefs)
    _end(deck, clock, _HOURS + 0.4)
    _sign(deck, clock)
    clock.wait_until(max(clock.now, accord.holds_until or clock.now) + timedelta(minutes=1))
    expire_due(now=clock.now)
    return accord


def _hour(deck: Deck, clock: Clock, hour: int, reliefs: dict[Side, Person]) -> None:
    late = hour == _SLOW_AT
    deck.check(clock, hour + (0.35 if late else 0.0))
    number, _ = deck.read(clock, hour + (0.4 if late else 0.0))
    if hour == 6:
        deck.watch(clock, *reliefs.values())
    if hour == 12:
        deck.watch(clock, deck.ship, deck.terminal)
    if hour == 7:
        _correct(deck, clock, number)
    if hour == _STOP_AT:
        _stop(deck, clock)


def _correct(deck: Deck, clock: Clock, number: int) -> None:
    reading = deck.record.readings.get(pk=number)
    values = {key: Decimal(text) for key, text in reading.values.items()}
    values[MANIFOLD] -= Decimal("0.03")
    correct_reading(
        by=deck.ship,
        now=clock.tick(),
        reading=reading,
        at=reading.at,
        values=values,
        reason="Read again at the manifold: the gauge in the control room lags by a needle's width.",
    )


def _stop(deck: Deck, clock: Clock) -> None:
    at = deck.at(_STOP_AT + 0.5)
    clock.wait_until(at + timedelta(minutes=1))
    stop_flow(
        by=deck.terminal,
        now=clock.tick(seconds=20),
        record=deck.record,
        at=at,
        reason="Change of the receiving tank; valves set and checked.",
        caused_by="terminal",
    )
    deck.stopped(_STOP_AT + 0.5, _STOPPED_FOR)
    deck.check(clock, _STOP_AT + 1)
    clock.wait_until(deck.at(_STOP_AT + 0.5 + _STOPPED_FOR) - timedelta(seconds=40))
    for person in (deck.terminal, deck.ship):
        deck.record.refresh_from_db()
        say_go(by=person, now=clock.tick(seconds=20), record=deck.record)
    deck.record.refresh_from_db()


def _end(deck: Deck, clock: Clock, after_h: float) -> None:
    log_event(by=deck.ship, now=clock.tick(), record=deck.record, kind=Kind.STRIPPING, at=deck.at(after_h - 0.6))
    clock.wait_until(max(clock.now, deck.at(after_h) + timedelta(minutes=1)))
    end_flow(by=deck.ship, now=clock.tick(seconds=20), record=deck.record, at=deck.at(after_h))
    deck.record.refresh_from_db()
    for hours, kind, who in ((0.5, Kind.DRAINED, deck.terminal), (1.2, Kind.HOSES_OFF, deck.terminal)):
        clock.wait_until(deck.at(after_h + hours) + timedelta(minutes=1))
        log_event(by=who, now=clock.tick(), record=deck.record, kind=kind, at=deck.at(after_h + hours))
    answers = Answers(deck.record.accord)
    for item in closing_items(deck.record.accord):
        for side in item.answered_by:
            now = clock.tick(seconds=30)
            by = deck.ship if side is Side.SHIP else deck.terminal
            values = answers.values(item, side, now)
            give_check(by=by, now=now, record=deck.record, item_key=item.key, answer=AnswerChoice.YES, values=values)


def _sign(deck: Deck, clock: Clock) -> None:
    settle_record(by=deck.ship, now=clock.tick(), record=deck.record)
    for person in (deck.ship, deck.terminal):
        deck.record.refresh_from_db()
        sign_record(
            by=person,
            now=clock.tick(),
            record=deck.record,
            secret=SECRET,
            title=person.title,
            seen_sha256=deck.record.payload_sha256,
        )
