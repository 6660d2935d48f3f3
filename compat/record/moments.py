"""From what was read to rows that the model can answer: levels, water, speeds and shore at each moment (pure)."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np

from compat.calc.operating_point import point_at_speeds
from compat.calc.record.gauges import Gauges, pumps_apart
from compat.calc.system import ShipShore
from compat.case.case_arrays import CaseArrays, arrays_of
from compat.case.case_file import CaseFile, case_document, check_case
from compat.record.readings import (
    DISCHARGE,
    DRAUGHT,
    MANIFOLD,
    RATE,
    SHORE_LEVEL,
    SPEED,
    SUCTION,
    TANK_LEVEL,
    TIDE,
    number_of,
    pump_keys,
)
from shared.calc.arrays import take
from shared.calc.root import Array
from shared.calc.units import BAR_PA, GRAVITY_M_PER_S2, HOUR_S

GAS = "inert_gas_pressure_bar_gauge"
_CASES_KEPT = 64


@dataclass(frozen=True)
class Moment:
    """One reading with what else was known then; ``others`` are the other side's latest values."""

    own: Mapping[str, str]
    others: Mapping[str, str]

    def known(self, key: str) -> float | None:
        """Return a value of one's own, else the other side's."""
        found = number_of(self.own, key)
        return number_of(self.others, key) if found is None else found


@dataclass(frozen=True)
class Rows:
    """Moments as rows of the model; ``notes`` say of each row what was not read and taken from the plan."""

    system: ShipShore
    speed_rpm: Array
    observed: Gauges
    pumps: tuple[str, ...]
    notes: tuple[tuple[str, ...], ...]

    @property
    def speeds_known(self) -> np.ndarray:
        """Tell for each row whether the speed of any pump is known and above zero."""
        return np.asarray((self.speed_rpm > 0).any(-1))


def rows_of(case: CaseFile, moments: Sequence[Moment]) -> Rows:
    """Return moments under one case as rows; speeds that nobody read are 0, as of a pump that stands still."""
    return rows_under([case] * len(moments), moments)


def rows_under(cases: Sequence[CaseFile], moments: Sequence[Moment]) -> Rows:
    """Return moments as rows, each under its own case; where cases differ in pumps, ``pumps`` are those of the first.

    Pumps that a case does not have stand still in its rows.
    """
    texts = [_text(case) for case in cases]
    known = list(dict.fromkeys(texts))
    row_case = np.array([known.index(text) for text in texts])
    system = take(_base(tuple(known)), row_case)
    keys = [pump_keys(case) for case in cases]
    most = system.pumps.count.shape[1]
    speed = _by_pump(moments, keys, SPEED, 0.0, most)
    keel, keel_notes = _keel(cases, moments)
    rise = keel - np.array([case.keel_elevation_m for case in cases])
    shore, shore_notes = _shore(cases, moments)
    elevation = system.point_elevation_m.copy()
    elevation[:, 0] += rise
    pumps = replace(
        system.pumps,
        elevation_m=system.pumps.elevation_m + rise[:, None],
        tank_head_m=system.pumps.tank_head_m + rise[:, None],
    )
    berth = replace(system.berth, end_head_m=system.berth.end_head_m + shore)
    system = replace(system, pumps=pumps, berth=berth, point_elevation_m=elevation)
    system, by_suction, tank_notes = _tanks(cases, system, moments, keys, speed)
    suction = np.where(by_suction, np.nan, _own_by_pump(moments, keys, SUCTION, most) * BAR_PA)
    stands = speed <= 0
    observed = Gauges(
        np.array([_own(moment, RATE) for moment in moments]) / HOUR_S,
        np.array([_own(moment, MANIFOLD) for moment in moments]) * BAR_PA,
        np.where(stands, np.nan, suction),
        np.where(stands, np.nan, _own_by_pump(moments, keys, DISCHARGE, most) * BAR_PA),
    )
    notes = tuple(tuple(note for note in row if note) for row in zip(keel_notes, shore_notes, tank_notes, strict=True))
    return Rows(system, speed, observed, tuple(keys[0]), notes)


def _text(case: CaseFile) -> str:
    return json.dumps(case_document(case), sort_keys=True)


@lru_cache(maxsize=_CASES_KEPT)
def _base(texts: tuple[str, ...]) -> ShipShore:
    """Return the systems of cases with every pump of their operation running, each on its own."""
    cases = [_all_running(json.loads(text)) for text in texts]
    arrays: CaseArrays = arrays_of(cases)
    places = [
        [{key: k for k, kind in enumerate(kinds) for key in kind.keys}[key] for key in pump_keys(case)]
        for case, kinds in zip(cases, arrays.pumps.kinds, strict=True)
    ]
    most = max(len(row) for row in places)
    return pumps_apart(arrays.system, np.array([row + [row[0]] * (most - len(row)) for row in places]))


def _all_running(document: dict[str, Any]) -> CaseFile:
    fastest = {pump["key"]: pump["greatest_speed_rpm"] for pump in document["ship"]["pumps"]}
    states = [
        {**state, "running": True, "speed_rpm": fastest[state["pump"]]} for state in document["operation"]["pumps"]
    ]
    operation = {**document["operation"], "speed": "as stated", "pumps": states}
    return check_case({**document, "operation": operation, "tolerances": []}, "The plan's case")


def _own(moment: Moment, key: str) -> float:
    found = number_of(moment.own, key)
    return np.nan if found is None else found


Keys = Sequence[Sequence[str]]


def _own_by_pump(moments: Sequence[Moment], keys: Keys, name: str, most: int) -> Array:
    rows = [[_own(moment, f"{name}:{key}") for key in row] for moment, row in zip(moments, keys, strict=True)]
    return _padded(rows, np.nan, most)


def _by_pump(moments: Sequence[Moment], keys: Keys, name: str, otherwise: float, most: int) -> Array:
    rows = [[moment.known(f"{name}:{key}") for key in row] for moment, row in zip(moments, keys, strict=True)]
    return _padded([[otherwise if value is None else value for value in row] for row in rows], otherwise, most)


def _padded(rows: Sequence[Sequence[float]], filling: float, most: int) -> Array:
    return np.array([[*row, *[filling] * (most - len(row))] for row in rows], dtype=float)


def _keel(cases: Sequence[CaseFile], moments: Sequence[Moment]) -> tuple[Array, list[str]]:
    keel, notes = [], []
    for case, moment in zip(cases, moments, strict=True):
        tide, draught = moment.known(TIDE), moment.known(DRAUGHT)
        known = tide is not None and draught is not None
        keel.append((tide or 0.0) - (draught or 0.0) if known else case.keel_elevation_m)
        notes.append("" if known else "draught and tide as in the plan")
    return np.array(keel), notes


def _shore(cases: Sequence[CaseFile], moments: Sequence[Moment]) -> tuple[Array, list[str]]:
    shift, notes = [], []
    for case, moment in zip(cases, moments, strict=True):
        tank, level = case.berth.shore_end.tank, moment.known(SHORE_LEVEL)
        shift.append(0.0 if tank is None or level is None else level - tank.surface_elevation_m)
        notes.append("level ashore as in the plan" if tank is not None and level is None else "")
    return np.array(shift), notes


def _tanks(
    cases: Sequence[CaseFile], system: ShipShore, moments: Sequence[Moment], keys: Keys, speed: Array
) -> tuple[ShipShore, np.ndarray, list[str]]:
    """Return the system with the heads of the ship's tanks, where they follow from the suction gauges, and notes.

    A level that was read counts first; else the suction gauge tells the tank's head, and can't be compared then.
    """
    most = speed.shape[1]
    levels = np.array([_known(moment, TANK_LEVEL) for moment in moments])
    weight = system.density_kg_per_m3 * GRAVITY_M_PER_S2
    states = [{state.pump: state for state in case.operation.pumps} for case in cases]
    stated = _padded(
        [[by_key[key].tank_surface_elevation_m for key in row] for by_key, row in zip(states, keys, strict=True)],
        0.0,
        most,
    )
    gas_stated = _padded(
        [[by_key[key].tank_gas_pressure_bar_gauge for key in row] for by_key, row in zip(states, keys, strict=True)],
        0.0,
        most,
    )
    gas = np.array([_known(moment, GAS) for moment in moments])
    more_gas = np.where(np.isfinite(gas)[:, None], gas[:, None] - gas_stated, 0.0) * BAR_PA / weight[:, None]
    deeper = np.where(np.isfinite(levels)[:, None], levels[:, None] - stated, 0.0)
    head = system.pumps.tank_head_m + more_gas + deeper
    system = replace(system, pumps=replace(system.pumps, tank_head_m=head))
    suction = _by_pump(moments, keys, SUCTION, np.nan, most) * BAR_PA
    by_suction = np.isfinite(suction) & ~np.isfinite(levels)[:, None] & (speed > 0)
    if by_suction.any():
        running = replace(system, pumps=replace(system.pumps, count=system.pumps.count * (speed > 0)))
        flow = point_at_speeds(running, np.where(speed > 0, speed, 1.0)).pump_flow_m3_per_s
        from_gauge = suction / weight[:, None] + system.pumps.elevation_m + system.pumps.suction_loss(flow)[0]
        system = replace(system, pumps=replace(system.pumps, tank_head_m=np.where(by_suction, from_gauge, head)))
    notes = [
        "" if np.isfinite(level) else "tank levels from the suction gauges" if row.any() else "tank levels as planned"
        for level, row in zip(levels, by_suction, strict=True)
    ]
    return system, by_suction, notes


def _known(moment: Moment, key: str) -> float:
    found = moment.known(key)
    return np.nan if found is None else found
