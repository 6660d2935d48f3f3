"""The transfer records of the demo scenario: gauges as the engine has them, with the small errors that people read.

Ship and shore depart a little from their data: pumps worn by one point, a line that loses a little more than stated.
For some hours a strainer fills until it is changed. Numbers come from a fixed seed, so that every demo is the same.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from decimal import Decimal

import numpy as np

from compat.accord.checklist.item import Side
from compat.accord.models import Accord, AnswerChoice
from compat.calc.record.gauges import Change, changed_system, gauges_at
from compat.case.case_file import CaseFile
from compat.demo.cast import SECRET
from compat.demo.checklist import Answers
from compat.demo.clock import Clock
from compat.record.arrangement import PROPOSAL, check_arrangement
from compat.record.chain import planned
from compat.record.checking import give_check
from compat.record.due import READING_ITEM
from compat.record.events import Kind
from compat.record.flowing import log_event, say_go
from compat.record.models import DriftAnswer, TransferRecord
from compat.record.moments import Moment, rows_of
from compat.record.opening import accept_arrangement, open_record
from compat.record.readings import (
    DISCHARGE,
    DISCHARGED,
    MANIFOLD,
    RATE,
    RECEIVED,
    SHORE_LEVEL,
    SPEED,
    SUCTION,
    TANK_LEVEL,
    pump_keys,
)
from compat.record.taking import answer_drift, take_reading
from compat.record.watching import take_watch
from compat.record.what_is_due import due_now
from shared.calc.units import BAR_PA, HOUR_S
from shared.models import Person

QUARTERS_H = (0.25, 0.5, 0.75)
_KEPT, _RESISTANCE = 0.99, 1.03
_SHARE_OF_SPEED = 0.975
_PRESSURE_BAR, _RATE_SHARE, _SPEED_RPM = 0.02, 0.004, 1.0  # standard deviations of what people read
_SHORE_SHARE = 0.9990
_SOON = timedelta(minutes=55)


@dataclass
class Deck:
    """Who keeps one record, its clock, and what has gone ashore so far."""

    ship: Person
    terminal: Person
    record: TransferRecord
    case: CaseFile
    started: datetime
    rpm: float
    chance: np.random.Generator
    discharged_m3: float = 0.0
    last_h: float = 0.0
    rate: float = 0.0

    def at(self, after_h: float) -> datetime:
        """Return the time so many hours after flow began."""
        return self.started + timedelta(hours=after_h)

    def stopped(self, after_h: float, hours: float) -> None:
        """Count what went ashore until a stop, and nothing while it lasted."""
        self.discharged_m3 += self.rate * (after_h - self.last_h)
        self.last_h = after_h + hours

    def read(
        self, clock: Clock, after_h: float, resistance: float = _RESISTANCE, speed: float = 1.0
    ) -> tuple[int, bool]:
        """Take the readings of both sides at one time; return the ship's one, and whether it drifted."""
        at = self.at(after_h)
        level = max(self.case.operation.pumps[0].tank_surface_elevation_m - 0.42 * after_h, 2.5)
        values, self.rate = self._gauges(level, 0.3 * after_h, resistance, speed)
        self.discharged_m3 += self.rate * (after_h - self.last_h)
        self.last_h = after_h
        shore = self._shore(after_h, values)
        clock.wait_until(at + timedelta(minutes=2))
        values[DISCHARGED] = _rounded(self.discharged_m3, 0)
        made = take_reading(
            by=self.ship, now=clock.tick(seconds=20), record=self.record, at=at, values=values, confirmed=True
        )
        take_reading(by=self.terminal, now=clock.tick(seconds=5), record=self.record, at=at, values=shore)
        return made.pk, made.drifted

    def _gauges(
        self, level: float, shore_rise: float, resistance: float, speed: float
    ) -> tuple[dict[str, Decimal], float]:
        keys = pump_keys(self.case)
        running = {state.pump for state in self.case.operation.pumps if state.running}
        rpm = {key: self.rpm * speed if key in running else 0.0 for key in keys}
        own = {f"{SPEED}:{key}": str(value) for key, value in rpm.items()} | {TANK_LEVEL: f"{level:.3f}"}
        others: Mapping[str, str] = {}
        if self.case.berth.shore_end.tank is not None:
            others = {SHORE_LEVEL: f"{self.case.berth.shore_end.tank.surface_elevation_m + shore_rise:.3f}"}
        rows = rows_of(self.case, [Moment(own, others)])
        none = Change.none(1, len(keys))
        worn = replace(none, head_kept=none.head_kept * _KEPT, resistance=none.resistance * resistance)
        found = gauges_at(changed_system(rows.system, worn), rows.speed_rpm)
        rate = float(found.flow_m3_per_s[0]) * HOUR_S
        values = {TANK_LEVEL: _rounded(level, 2), RATE: _rounded(rate * (1 + self._off(_RATE_SHARE)), 0)}
        values[MANIFOLD] = _rounded(float(found.manifold_pa_gauge[0]) / BAR_PA + self._off(_PRESSURE_BAR), 2)
        for place, key in enumerate(keys):
            values[f"{SPEED}:{key}"] = _rounded(rpm[key] + self._off(_SPEED_RPM), 0) if rpm[key] else Decimal(0)
            if rpm[key]:
                for name, pressures in ((SUCTION, found.suction_pa_gauge), (DISCHARGE, found.discharge_pa_gauge)):
                    read = float(pressures[0, place]) / BAR_PA + self._off(_PRESSURE_BAR)
                    values[f"{name}:{key}"] = _rounded(read, 2)
        return values, rate

    def _shore(self, after_h: float, values: Mapping[str, Decimal]) -> dict[str, Decimal]:
        found = {MANIFOLD: values[MANIFOLD] + _rounded(self._off(_PRESSURE_BAR), 2)}
        found[RECEIVED] = _rounded(self.discharged_m3 * _SHORE_SHARE, 0)
        tank = self.case.berth.shore_end.tank
        if tank is not None:
            found[SHORE_LEVEL] = _rounded(tank.surface_elevation_m + 0.3 * after_h, 2)
        return found

    def _off(self, sigma: float) -> float:
        return float(self.chance.normal() * sigma)

    def watch(self, clock: Clock, *people: Person) -> None:
        """Let people take over the watch of their sides."""
        for person in people:
            now = clock.tick(seconds=20)
            take_watch(by=person, now=now, record=self.record, secret=SECRET, title=person.title, consents=True)

    def check(self, clock: Clock, after_h: float) -> None:
        """Let both sides answer with yes what is due soon."""
        clock.wait_until(max(clock.now, self.started + timedelta(hours=after_h, minutes=-6)))
        answers = Answers(self.record.accord)
        for one in due_now(self.record, self.record.accord, clock.now):
            if one.left > _SOON or one.item.key == READING_ITEM:
                continue
            now = clock.tick(seconds=8)
            give_check(
                by=self.ship if one.side is Side.SHIP else self.terminal,
                now=now,
                record=self.record,
                item_key=one.item.key,
                answer=AnswerChoice.YES,
                values=answers.values(one.item, one.side, now),
            )


def open_deck(accord: Accord, ship: Person, terminal: Person, clock: Clock, started: datetime, seed: int) -> Deck:
    """Open the record of a plan in force, agree how it is kept, and let oil flow at ``started``."""
    accord.refresh_from_db()
    clock.wait_until(started - timedelta(hours=6))
    arrangement = check_arrangement(PROPOSAL)
    record = open_record(by=ship, now=clock.tick(), accord=accord, arrangement=arrangement)
    accept_arrangement(by=terminal, now=clock.tick(), record=record, seen=record.arranged_at)
    for hours, kind, who in (
        (-5.0, Kind.NOTICE, ship),
        (-4.5, Kind.NOTICE_TAKEN, terminal),
        (-3.0, Kind.MOORED, ship),
        (-2.0, Kind.MEETING, terminal),
        (-1.25, Kind.CONNECTED, terminal),
    ):
        at = started + timedelta(hours=hours)
        clock.wait_until(at + timedelta(minutes=2))
        log_event(by=who, now=clock.tick(), record=record, kind=kind, at=at)
    clock.wait_until(started - timedelta(minutes=2))
    say_go(by=ship, now=clock.tick(seconds=20), record=record)
    clock.wait_until(started)
    say_go(by=terminal, now=started, record=record)
    record.refresh_from_db()
    case, answer = planned(accord)
    rpm = (answer or {}).get("common_speed_rpm") or 1200.0
    chance = np.random.default_rng(seed)
    return Deck(ship, terminal, record, case, started, rpm * _SHARE_OF_SPEED, chance)


def alongside(
    accord: Accord, ship: Person, terminal: Person, clock: Clock, now: datetime, reliefs: Sequence[Person]
) -> None:
    """Fourteen hours of a discharge that goes on: readings on plan, and one that a fouled strainer explains."""
    started = (now - timedelta(hours=14, minutes=12)).replace(minute=0, second=0, microsecond=0)
    deck = open_deck(accord, ship, terminal, clock, started, seed=41)
    deck.watch(clock, ship, terminal)
    for after_h in QUARTERS_H:
        deck.read(clock, after_h, speed=0.9 if after_h < 0.5 else 0.96)
    at = started + timedelta(minutes=50)
    log_event(by=ship, now=clock.tick(), record=deck.record, kind=Kind.FULL_RATE, at=at)
    strainer = {8: 1.08, 9: 1.25, 10: 1.75}
    for hour in range(1, 15):
        if hour == 9:
            deck.watch(clock, *reliefs)
        deck.check(clock, hour)
        number, drifted = deck.read(clock, hour, resistance=_RESISTANCE * strainer.get(hour, 1.0))
        if drifted and hour == max(strainer):
            clock.wait_until(deck.started + timedelta(hours=hour, minutes=19))
            answer_drift(
                by=terminal,
                now=clock.tick(),
                reading=deck.record.readings.get(pk=number),
                what=DriftAnswer.What.EXPLAINED,
                said="The strainer ahead of the receiving tank was filling; its twin was put in line at once.",
            )


def _rounded(value: float, decimals: int) -> Decimal:
    return Decimal(str(round(value, decimals)))
