"""What kept records teach about a ship's pumps or a berth's line, and the act that takes it into their facts.

Readings whose drift was explained by something else, or that were taken under other data of pumps or line, are left
out. What belongs to the other side (a berth's line for a ship, a ship's wear for a berth) is fitted as well, since it
is in the same readings, and is told to nobody here.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np

from compat.calc.record.fit import Estimate, Fit, Forecast, Known, fit_known, forecast_errors, vector
from compat.case.answer import answer_case
from compat.case.case_file import CaseFile
from compat.record.chain import chain_of, current_accord, planned
from compat.record.models import Reading, TransferRecord
from compat.record.moments import Moment, Rows, rows_under
from compat.record.readings import MANIFOLD, RATE, SPEED, pump_keys
from compat.record.taking import OTHERS_COUNT_AHEAD, OTHERS_COUNT_FOR, standing_readings
from shared.calc.errors import InputError
from shared.models import Person
from terminals.actions import revise_berth
from terminals.facts import BerthFacts, FoundFacts
from terminals.models import Berth, BerthRevision
from vessels.actions import revise_vessel
from vessels.facts import PumpFacts, ShipFacts
from vessels.models import Vessel, VesselRevision

APART_WITHIN = 0.015  # half the range of a pump's head, as a share: wider, and pumps are taken as worn alike
TOGETHER = 0.9
MOST_READINGS = 2000


@dataclass(frozen=True)
class Learned:
    """One number that readings tell: in use now, found, and its range that holds the truth in 90 of 100."""

    key: str
    label: str
    unit: str
    in_use: float | None
    found: float
    low: float
    high: float
    at_bound: bool


@dataclass(frozen=True)
class Lesson:
    """All that records teach about one ship or berth; ``left_out`` says which records do not count, and why."""

    learned: tuple[Learned, ...]
    fit: Fit
    forecast: Forecast
    records: int
    readings: int
    left_out: tuple[str, ...]
    pumps_alike: bool
    effect: tuple[str, float, float] | None

    @property
    def moves_together(self) -> bool:
        """Tell whether resistance and static head can hardly be told apart."""
        return self.fit.moved_together > TOGETHER

    def as_text(self) -> str:
        """Return what was found as one line, by which a later look tells whether it is still the same."""
        return " ".join(f"{one.key}={one.found:.2f}" for one in self.learned)


@dataclass(frozen=True)
class Fitted:
    """The fit to all readings that count, before anything is said about it."""

    gathered: _Gathered
    known: Known
    before: _Before
    fit: Fit
    alike: bool


def fitted(subject: Vessel | Berth, records: Iterable[TransferRecord], *, with_static: bool) -> Fitted:
    """Return the fit to records; pumps are taken as worn alike where readings can't tell them apart, and for a berth.

    Raises InputError where there are too few readings.
    """
    ship = isinstance(subject, Vessel)
    gathered = _gather(records, _newest(subject))
    if not gathered.rows:
        raise InputError(
            "No reading counts yet: take readings with rate, manifold pressure and pump speeds in a transfer record."
        )
    known, before = _known(gathered, alike=not ship)
    fit = fit_known(known, with_static=with_static)
    widest = max(one.high - one.low for one in fit.head_kept)
    if not ship or len(fit.head_kept) == 1 or widest <= 2.0 * APART_WITHIN:
        return Fitted(gathered, known, before, fit, alike=not ship)
    known, before = _known(gathered, alike=True)
    return Fitted(gathered, known, before, fit_known(known, with_static=with_static), alike=True)


def lesson_of(subject: Vessel | Berth, records: Iterable[TransferRecord], *, with_static: bool) -> Lesson:
    """Return what records teach; raise InputError where there are too few readings."""
    found = fitted(subject, records, with_static=with_static)
    ship, newest, rows = isinstance(subject, Vessel), _newest(subject), found.gathered.rows
    in_use = _in_use(found.before, with_static=with_static)
    learned = _of_ship(newest, found.gathered, found.fit, alike=found.alike) if ship else _of_berth(newest, found.fit)
    return Lesson(
        learned=learned,
        fit=found.fit,
        forecast=forecast_errors(found.known, in_use, found.fit, with_static=with_static),
        records=len({row.record for row in rows}),
        readings=len(rows),
        left_out=tuple(found.gathered.left_out),
        pumps_alike=found.alike and ship,
        effect=_effect(rows[-1].case, newest, learned),
    )


def _newest(subject: Vessel | Berth) -> ShipFacts | BerthFacts:
    if isinstance(subject, Vessel):
        return VesselRevision.objects.filter(vessel=subject).latest("number").ship_facts()
    return BerthRevision.objects.filter(berth=subject).latest("number").berth_facts()


def accept_lesson(
    *, by: Person, now: datetime, subject: Vessel | Berth, lesson: Lesson, seen: str, started_from: int
) -> VesselRevision | BerthRevision:
    """Take what was found into the next revision of the facts; ``seen`` is the lesson that the person had before them.

    Raises InputError where readings came in meanwhile, and what revising a ship or berth raises.
    """
    if lesson.as_text() != seen:
        raise InputError(
            "Meanwhile readings came in or were corrected, and the figures are others now. Nothing was saved; look at"
            " them, then take them over."
        )
    note = f"From {lesson.readings} readings of {lesson.records} transfer records"
    if isinstance(subject, Vessel):
        ship = VesselRevision.objects.filter(vessel=subject).latest("number").ship_facts()
        worn = taught_ship(ship, lesson.learned)
        return revise_vessel(by=by, now=now, vessel=subject, started_from=started_from, facts=worn, note=note)
    berth = BerthRevision.objects.filter(berth=subject).latest("number").berth_facts()
    taught = taught_berth(berth, lesson.learned)
    return revise_berth(by=by, now=now, berth=subject, started_from=started_from, facts=taught, note=note)


def taught_ship(facts: ShipFacts, learned: Sequence[Learned]) -> ShipFacts:
    """Return a ship's facts with the heads that her pumps were found to keep."""
    kept = {one.key: round(min(max(one.found, 50.0), 110.0), 1) for one in learned}
    pumps = [
        pump.model_copy(update={"head_kept_percent": kept[pump.key]}) if pump.key in kept else pump
        for pump in facts.pumps
    ]
    return ShipFacts.model_validate(facts.model_copy(update={"pumps": pumps}).model_dump())


def taught_berth(facts: BerthFacts, learned: Sequence[Learned]) -> BerthFacts:
    """Return a berth's facts with what was found of its line."""
    found = {one.key: round(one.found, 1 if one.unit == "%" else 2) for one in learned}
    return BerthFacts.model_validate(facts.model_copy(update={"found": FoundFacts(**found)}).model_dump())


@dataclass(frozen=True)
class _Row:
    record: int
    at: datetime
    case: CaseFile
    stated: CaseFile
    moment: Moment
    ship: str
    berth: str


@dataclass(frozen=True)
class _Gathered:
    rows: list[_Row]
    left_out: list[str]
    accuracy: Any


def _gather(records: Iterable[TransferRecord], newest: ShipFacts | BerthFacts) -> _Gathered:
    rows: list[_Row] = []
    left_out: list[str] = []
    accuracy = None
    for record in records:
        accord = current_accord(record)
        stated = planned(accord)[0]
        if not _comparable(stated, newest):
            left_out.append(f"{record.accord.reference}: pumps or line are stated otherwise since")
            continue
        found = list(_rows(record, stated))[:MOST_READINGS]
        if not found:
            left_out.append(f"{record.accord.reference}: no reading with rate, manifold pressure and speeds")
            continue
        accuracy = record.arranged().accuracy()
        rows += found
    return _Gathered(rows, left_out, accuracy)


def _rows(record: TransferRecord, stated: CaseFile) -> Iterable[_Row]:
    readings = list(standing_readings(record).select_related("answer").order_by("at", "id"))
    shore = [one for one in readings if one.side == "terminal"]
    accord = chain_of(record.accord)[0]
    ship, berth = str(accord.vessel_revision.vessel_id), str(accord.berth_revision.berth_id)
    stripped = _as_stated(stated)
    for reading in readings:
        if reading.side != "ship" or not _usable(reading):
            continue
        moment = Moment(reading.values, _others(shore, reading))
        yield _Row(record.pk, reading.at, stated, stripped, moment, ship, berth)


def _usable(reading: Reading) -> bool:
    explained = reading.drifted and hasattr(reading, "answer")
    speeds = any(key.startswith("speed_rpm") and float(text) > 0 for key, text in reading.values.items())
    return RATE in reading.values and MANIFOLD in reading.values and speeds and not explained


def _others(shore: Sequence[Reading], reading: Reading) -> dict[str, str]:
    first, last = reading.at - OTHERS_COUNT_FOR, reading.at + OTHERS_COUNT_AHEAD
    near = [one for one in shore if first <= one.at <= last]
    return dict(near[-1].values) if near else {}


def _as_stated(case: CaseFile) -> CaseFile:
    """Return the case without anything that was learned before."""
    pumps = [pump.model_copy(update={"head_kept_percent": None}) for pump in case.ship.pumps]
    ship = case.ship.model_copy(update={"pumps": pumps})
    return case.model_copy(update={"ship": ship, "berth": case.berth.model_copy(update={"found": None})})


def _comparable(case: CaseFile, newest: ShipFacts | BerthFacts) -> bool:
    """Tell whether pumps (or the line) are stated as they are in the newest facts, whatever was learned since."""
    if isinstance(newest, ShipFacts):
        own = {pump.key: _bare(pump) for pump in newest.pumps}
        running = [pump for pump in case.ship.pumps if pump.key in pump_keys(case)]
        return all(own.get(pump.key) == _bare(pump) for pump in running)
    same_line = [one.model_dump() for one in newest.shore_line] == [one.model_dump() for one in case.berth.shore_line]
    arms = {arm.name: (arm.length_m, arm.bore_mm, arm.roughness_mm, arm.loss_coefficient) for arm in newest.arms}
    connected = {a.name: (a.length_m, a.bore_mm, a.roughness_mm, a.loss_coefficient) for a in case.berth.arms}
    return same_line and all(arms.get(name) == sizes for name, sizes in connected.items())


def _bare(pump: PumpFacts) -> dict[str, Any]:
    kept = {"curves", "elevation_m", "suction_line", "discharge_line", "kind"}
    return pump.model_dump(include=kept)


@dataclass(frozen=True)
class _Before:
    """What is in use now, in the order of the unknowns."""

    head_kept: np.ndarray
    resistance: np.ndarray
    static_m: np.ndarray


def _known(gathered: _Gathered, *, alike: bool) -> tuple[Known, _Before]:
    rows = gathered.rows
    made: Rows = rows_under([row.stated for row in rows], [row.moment for row in rows])
    pumps: dict[tuple[str, str], int] = {}
    berths: dict[str, int] = {}
    kept, found = list[float](), list[FoundFacts | None]()
    unknown = np.zeros(made.speed_rpm.shape, dtype=int)
    berth = np.zeros(len(rows), dtype=int)
    for number, row in enumerate(rows):
        stated = {pump.key: pump.head_kept_percent for pump in row.case.ship.pumps}
        for place, key in enumerate(pump_keys(row.case)):
            name = (row.ship, "" if alike else key)
            if made.speed_rpm[number, place] <= 0:
                continue  # it stood still here; if it never ran, nothing is known of it
            if name not in pumps:
                pumps[name] = len(pumps)
                kept.append((stated[key] or 100.0) / 100.0)
            unknown[number, place] = pumps[name]
        if row.berth not in berths:
            berths[row.berth] = len(berths)
            found.append(row.case.berth.found)
        berth[number] = berths[row.berth]
    groups = list(dict.fromkeys(row.record for row in rows))
    group = np.array([groups.index(row.record) for row in rows])
    known = Known(made.system, made.speed_rpm, made.observed, unknown, berth, group, gathered.accuracy)
    resistance = [(one.resistance_percent if one and one.resistance_percent else 100.0) / 100.0 for one in found]
    static = [(one.static_head_m if one and one.static_head_m else 0.0) for one in found]
    return known, _Before(np.array(kept), np.array(resistance), np.array(static))


def _in_use(before: _Before, *, with_static: bool) -> np.ndarray:
    return vector(before.head_kept, before.resistance, before.static_m if with_static else None)


def _of_ship(newest: Any, gathered: _Gathered, fit: Fit, *, alike: bool) -> tuple[Learned, ...]:
    ran = list(
        dict.fromkeys(
            key
            for row in gathered.rows
            for key in pump_keys(row.case)
            if float(row.moment.own.get(f"{SPEED}:{key}", 0)) > 0
        )
    )
    stated = {pump.key: pump for pump in newest.pumps}
    return tuple(
        _learned(key, f"{stated[key].name}: head kept", "%", stated[key].head_kept_percent, estimate, 100.0)
        for key, estimate in ((key, fit.head_kept[0 if alike else ran.index(key)]) for key in ran)
    )


def _of_berth(newest: Any, fit: Fit) -> tuple[Learned, ...]:
    now = newest.found or FoundFacts()
    found = [
        _learned(
            "resistance_percent",
            "Head lost in arms and line, of the stated",
            "%",
            now.resistance_percent,
            fit.resistance[0],
            100.0,
        )
    ]
    if fit.static_head_m:
        estimate = fit.static_head_m[0]
        found.append(_learned("static_head_m", "Static head added", "m", now.static_head_m, estimate, 1.0))
    return tuple(found)


def _learned(key: str, label: str, unit: str, in_use: float | None, one: Estimate, factor: float) -> Learned:
    return Learned(key, label, unit, in_use, one.value * factor, one.low * factor, one.high * factor, one.at_bound)


def _effect(
    case: CaseFile, newest: ShipFacts | BerthFacts, learned: Sequence[Learned]
) -> tuple[str, float, float] | None:
    """Return what it changes: the latest plan's rate as it was and as it would be, with the plan's title."""
    if isinstance(newest, ShipFacts):
        taught = case.model_copy(update={"ship": taught_ship(case.ship, learned)})
    else:
        taught = case.model_copy(update={"berth": taught_berth(case.berth, learned)})
    rates = [answer_case(one).total_flow_m3_per_h for one in (case, taught)]
    if rates[0] is None or rates[1] is None:
        return None
    return case.title, rates[0], rates[1]
