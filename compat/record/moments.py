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
from shared.calc.arrays import repeat_row
from shared.calc.root import Array
from shared.calc.units import BAR_PA, GRAVITY_M_PER_S2, HOUR_S
from terminals.facts import BerthFacts

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
    """Return moments as rows; speeds that nobody read are 0, as of a pump that stands still."""
    keys = tuple(pump_keys(case))
    base = _base(json.dumps(case_document(case), sort_keys=True))
    system = repeat_row(base, len(moments))
    speed = _by_pump(moments, keys, SPEED, 0.0)
    keel, keel_notes = _keel(case, moments)
    rise = keel - case.keel_elevation_m
    shore, shore_notes = _shore(case.berth, moments)
    elevation = system.point_elevation_m.copy()
    elevation[:, 0] += rise
    pumps = replace(
        system.pumps,
        elevation_m=system.pumps.elevation_m + rise[:, None],
        tank_head_m=system.pumps.tank_head_m + rise[:, None],
    )
    berth = replace(system.berth, end_head_m=system.berth.end_head_m + shore)
    system = replace(system, pumps=pumps, berth=berth, point_elevation_m=elevation)
    system, by_suction, tank_notes = _tanks(case, system, moments, keys, speed)
    suction = np.where(by_suction, np.nan, _own_by_pump(moments, keys, SUCTION) * BAR_PA)
    stands = speed <= 0
    observed = Gauges(
        np.array([_own(moment, RATE) for moment in moments]) / HOUR_S,
        np.array([_own(moment, MANIFOLD) for moment in moments]) * BAR_PA,
        np.where(stands, np.nan, suction),
        np.where(stands, np.nan, _own_by_pump(moments, keys, DISCHARGE) * BAR_PA),
    )
    notes = tuple(tuple(note for note in row if note) for row in zip(keel_notes, shore_notes, tank_notes, strict=True))
    return Rows(system, speed, observed, keys, notes)


@lru_cache(maxsize=_CASES_KEPT)
def _base(case_text: str) -> ShipShore:
    """Return the system of a case with every pump of its operation running, each on its own."""
    document: dict[str, Any] = json.loads(case_text)
    states = [{**state, "running": True} for state in document["operation"]["pumps"]]
    fastest = {pump["key"]: pump["greatest_speed_rpm"] for pump in document["ship"]["pumps"]}
    states = [{**state, "speed_rpm": fastest[state["pump"]]} for state in states]
    operation = {**document["operation"], "speed": "as stated", "pumps": states}
    case = check_case({**document, "operation": operation, "tolerances": []}, "The plan's case")
    arrays: CaseArrays = arrays_of([case])
    place = {key: k for k, kind in enumerate(arrays.pumps.kinds[0]) for key in kind.keys}
    return pumps_apart(arrays.system, np.array([place[key] for key in pump_keys(case)]))


def _own(moment: Moment, key: str) -> float:
    found = number_of(moment.own, key)
    return np.nan if found is None else found


def _own_by_pump(moments: Sequence[Moment], keys: Sequence[str], name: str) -> Array:
    return np.array([[_own(moment, f"{name}:{key}") for key in keys] for moment in moments], dtype=float)


def _by_pump(moments: Sequence[Moment], keys: Sequence[str], name: str, otherwise: float) -> Array:
    rows = [[moment.known(f"{name}:{key}") for key in keys] for moment in moments]
    return np.array([[otherwise if value is None else value for value in row] for row in rows], dtype=float)


def _keel(case: CaseFile, moments: Sequence[Moment]) -> tuple[Array, list[str]]:
    keel, notes = [], []
    for moment in moments:
        tide, draught = moment.known(TIDE), moment.known(DRAUGHT)
        known = tide is not None and draught is not None
        keel.append((tide or 0.0) - (draught or 0.0) if known else case.keel_elevation_m)
        notes.append("" if known else "draught and tide as in the plan")
    return np.array(keel), notes


def _shore(berth: BerthFacts, moments: Sequence[Moment]) -> tuple[Array, list[str]]:
    tank = berth.shore_end.tank
    levels = [moment.known(SHORE_LEVEL) for moment in moments]
    if tank is None:
        return np.zeros(len(moments)), [""] * len(moments)
    shift = [0.0 if level is None else level - tank.surface_elevation_m for level in levels]
    return np.array(shift), ["level ashore as in the plan" if level is None else "" for level in levels]


def _tanks(
    case: CaseFile, system: ShipShore, moments: Sequence[Moment], keys: Sequence[str], speed: Array
) -> tuple[ShipShore, np.ndarray, list[str]]:
    """Return the system with the heads of the ship's tanks, where they follow from the suction gauges, and notes.

    A level that was read counts first; else the suction gauge tells the tank's head, and can't be compared then.
    """
    levels = np.array([_known(moment, TANK_LEVEL) for moment in moments])
    states = {state.pump: state for state in case.operation.pumps}
    weight = system.density_kg_per_m3 * GRAVITY_M_PER_S2
    stated = np.array([states[key].tank_surface_elevation_m for key in keys])
    gas_stated = np.array([states[key].tank_gas_pressure_bar_gauge for key in keys])
    gas = np.array([_known(moment, GAS) for moment in moments])
    more_gas = np.where(np.isfinite(gas)[:, None], gas[:, None] - gas_stated, 0.0) * BAR_PA / weight[:, None]
    deeper = np.where(np.isfinite(levels)[:, None], levels[:, None] - stated, 0.0)
    head = system.pumps.tank_head_m + more_gas + deeper
    system = replace(system, pumps=replace(system.pumps, tank_head_m=head))
    suction = _by_pump(moments, keys, SUCTION, np.nan) * BAR_PA
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
