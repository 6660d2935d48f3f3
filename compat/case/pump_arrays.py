"""The pumps of cases as arrays in SI, and what limits each pump (pure: no Django)."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from compat.calc.balance import SpeedRule
from compat.calc.stepped import DriveSteps
from compat.case.case_file import CaseFile, PumpState
from shared.calc.arrays import fold_rows
from shared.calc.curve import Pieces, constant_pieces, stack_pieces
from shared.calc.line import Pipes
from shared.calc.root import Array
from shared.calc.units import ATMOSPHERE_PA, BAR_PA, GRAVITY_M_PER_S2, HOUR_S, KPA_PA, KW_W, MM2_PER_S
from shared.cargo_facts import Liquid
from shared.facts import Facts, PipeSegment
from shared.pipe_arrays import area_m2, pipes_of
from vessels.calc.power import PowerData
from vessels.calc.pump import stack_curves
from vessels.calc.pump_group import PumpGroup
from vessels.calc.suction import SuctionLimits
from vessels.facts import PumpFacts, ShipFacts
from vessels.pump_curves import AtSpeed, PumpData, ViscosityMethod, pump_data, thick_notes

AS_TESTED: ViscosityMethod = "as tested"


@dataclass(frozen=True)
class PumpKind:
    """Running pumps of one case that are alike in every respect, so that they share flow equally."""

    pump: PumpFacts
    state: PumpState
    keys: tuple[str, ...]


Alike = dict[tuple[int, int], bool]


def driven_eductors(case: CaseFile) -> list[tuple[PumpFacts, PumpState]]:
    """Return the running eductors that running pumps drive; where only eductors run, they are driven from elsewhere."""
    if not any(pump.kind == "eductor" for pump in case.ship.pumps):
        return []
    pumps = {pump.key: pump for pump in case.ship.pumps}
    running = [(pumps[state.pump], state) for state in case.operation.pumps if state.running]
    eductors = [(pump, state) for pump, state in running if pump.kind == "eductor"]
    return eductors if len(eductors) < len(running) else []


def pump_kinds(case: CaseFile, known: Alike | None = None) -> list[PumpKind]:
    """Return the running pumps, those alike in curve, lines, height, tank and speed taken together.

    Eductors that others drive are not among them.
    ``known`` keeps, by identity, which pumps were found alike, for cases that share them.
    """
    known = {} if known is None else known
    pumps = {pump.key: pump for pump in case.ship.pumps}
    kinds: list[PumpKind] = []
    driven = {pump.key for pump, _ in driven_eductors(case)}
    for state in case.operation.pumps:
        if not state.running or state.pump in driven:
            continue
        own = PumpKind(pumps[state.pump], state, (state.pump,))
        place = next((i for i, kind in enumerate(kinds) if _alike(kind, own, known)), None)
        if place is None:
            kinds.append(own)
        else:
            kinds[place] = PumpKind(kinds[place].pump, kinds[place].state, (*kinds[place].keys, state.pump))
    return kinds


def _alike(one: PumpKind, other: PumpKind, known: Alike) -> bool:
    if not _same_but_for(one.state, other.state, {"pump"}):
        return False
    mark = (id(one.pump), id(other.pump))
    if mark not in known:
        known[mark] = _same_but_for(one.pump, other.pump, {"key", "name"})
    return known[mark]


def _same_but_for(one: Facts, other: Facts, names: set[str]) -> bool:
    return all(getattr(one, name) == getattr(other, name) for name in type(one).model_fields if name not in names)


@dataclass(frozen=True)
class PumpRows:
    """The kinds of pump of each case with their data; the arrays made from them have shape (cases, kinds)."""

    cases: Sequence[CaseFile]
    kinds: list[list[PumpKind]]
    data: list[list[PumpData]]
    liquids: Sequence[Liquid]

    @cached_property
    def most(self) -> int:
        """Return how many kinds of pump the case with the most of them has."""
        return max(len(row) for row in self.kinds)

    def notes(self, row: int) -> tuple[str, ...]:
        """Return what a case's pumps have to be cautioned of: their data, and a liquid too thick for it."""
        found = [note for data in self.data[row] for note in data.notes]
        if self.cases[row].operation.viscosity_correction == AS_TESTED:
            viscosity = self.liquids[row].kinematic_viscosity_mm2_per_s * MM2_PER_S
            found += [note for kind in self.kinds[row] for note in thick_notes(kind.pump, viscosity)]
        return tuple(dict.fromkeys(found))

    @cached_property
    def filled(self) -> list[tuple[CaseFile, Liquid, PumpKind, PumpData]]:
        """Cases and kinds in array order, a case's first kind standing in for those it does not have."""
        return [
            (case, liquid, kinds[k if k < len(kinds) else 0], data[k if k < len(kinds) else 0])
            for case, liquid, kinds, data in zip(self.cases, self.liquids, self.kinds, self.data, strict=True)
            for k in range(self.most)
        ]

    def array(self, read: Callable[[CaseFile, PumpKind], float]) -> Array:
        """Return one number for each kind."""
        values = [read(case, kind) for case, _, kind, _ in self.filled]
        return np.array(values, dtype=float).reshape(len(self.kinds), self.most)


def pump_rows(cases: Sequence[CaseFile], liquids: Sequence[Liquid]) -> PumpRows:
    """Return the pumps of cases with their data; a pump that many cases share is worked out once for each liquid."""
    known: dict[tuple[int, float, str], PumpData] = {}
    alike: Alike = {}

    def data(pump: PumpFacts, viscosity: float, case: CaseFile) -> PumpData:
        method = case.operation.viscosity_correction
        mark = (id(pump), 0.0 if method == AS_TESTED else viscosity, method)
        if mark not in known:
            known[mark] = pump_data(pump, viscosity, method)
        return known[mark]

    kinds = [pump_kinds(case, alike) for case in cases]
    rows = [
        [data(kind.pump, liquid.kinematic_viscosity_mm2_per_s * MM2_PER_S, case) for kind in row]
        for case, liquid, row in zip(cases, liquids, kinds, strict=True)
    ]
    return PumpRows(cases, kinds, rows, liquids)


def pump_group(rows: PumpRows, density: Array, viscosity: Array) -> PumpGroup:
    """Return the pumps with their tanks and lines."""
    weight = (density * GRAVITY_M_PER_S2)[:, None]
    gas = rows.array(lambda _, kind: kind.state.tank_gas_pressure_bar_gauge * BAR_PA)
    surface = rows.array(lambda case, kind: case.keel_elevation_m + kind.state.tank_surface_elevation_m)
    count = rows.array(lambda _, kind: float(len(kind.keys)))
    exists = np.arange(rows.most) < np.array([len(row) for row in rows.kinds])[:, None]
    return PumpGroup(
        curves=fold_rows(stack_curves([data.curves for *_, data in rows.filled]), count.shape),
        count=np.where(exists, count, 0.0),
        tank_head_m=surface + gas / weight,
        elevation_m=rows.array(lambda case, kind: case.keel_elevation_m + kind.pump.elevation_m),
        suction=_lines(rows, lambda pump: pump.suction_line),
        discharge=_lines(rows, lambda pump: pump.discharge_line),
        viscosity_m2_per_s=np.repeat(viscosity[:, None], rows.most, axis=1),
    )


def _lines(rows: PumpRows, line: Callable[[PumpFacts], Sequence[PipeSegment]]) -> Pipes:
    return fold_rows(pipes_of([line(kind.pump) for _, _, kind, _ in rows.filled]), (len(rows.kinds), rows.most))


def speed_rule(rows: PumpRows) -> SpeedRule:
    """Return how the free speeds move: in revolutions together, or in fractions of each pump's fastest tested speed."""

    def scale(case: CaseFile, kind: PumpKind) -> float:
        return 1.0 if case.operation.speed == "one common speed" else max(c.speed_rpm for c in kind.pump.curves)

    def greatest(case: CaseFile, kind: PumpKind) -> float:
        own = [limit.speed_rpm for limit in case.own_limits if limit.speed_rpm is not None]
        return float(max(min([kind.pump.greatest_speed_rpm, *own]), kind.pump.least_speed_rpm))

    scales, least, most = rows.array(scale), rows.array(lambda _, kind: kind.pump.least_speed_rpm), rows.array(greatest)
    free = least < most
    # Pumps that share a speed share its range too; one of a single speed runs at that, whatever the others do.
    common_least = np.where(free, least / scales, -np.inf).max(-1, keepdims=True)
    common_most = np.where(free, most / scales, np.inf).min(-1, keepdims=True)
    common_most = np.maximum(common_most, common_least)
    return SpeedRule(
        scales,
        np.where(free, np.maximum(least, common_least * scales), least),
        np.where(free, np.minimum(most, common_most * scales), most),
    )


def drive_steps(rows: PumpRows) -> DriveSteps:
    """Return the steps in which each pump's speed can be set."""
    return DriveSteps(
        rows.array(lambda _, kind: kind.pump.speed_step_rpm or 0.0),
        rows.array(lambda _, kind: kind.pump.least_speed_rpm),
    )


def pump_flow_caps(rows: PumpRows) -> Array:
    """Return the highest flow in m3/s of each pump by rated and continuous flow and by velocity in its own lines."""

    def cap(case: CaseFile, kind: PumpKind) -> float:
        stated = [kind.pump.rated_flow_m3_per_h, kind.pump.greatest_continuous_flow_m3_per_h]
        caps = [flow / HOUR_S for flow in stated if flow is not None]
        if case.ship.ship_line_velocity_limit_m_per_s is not None:
            lines = [*kind.pump.suction_line, *kind.pump.discharge_line]
            caps += [case.ship.ship_line_velocity_limit_m_per_s * area_m2(segment) for segment in lines]
        return min(caps, default=np.inf)

    return rows.array(cap)


def ship_line_caps(ships: Sequence[ShipFacts]) -> Array:
    """Return the rating in Pa gauge of each ship's cargo lines, (cases, 1); (cases, 0) where none states one."""
    ratings = [ship.cargo_line_rating_bar_gauge for ship in ships]
    if all(rating is None for rating in ratings):
        return np.zeros((len(ratings), 0))
    return np.array([[np.inf if rating is None else rating * BAR_PA] for rating in ratings])


def suction_limits(rows: PumpRows) -> SuctionLimits:
    """Return what each pump's suction has and needs."""

    def head(liquid: Liquid, kind: PumpKind) -> float:
        gas = kind.state.tank_gas_pressure_bar_gauge * BAR_PA + ATMOSPHERE_PA
        vapour = (liquid.vapour_pressure_kpa_abs or 0.0) * KPA_PA
        height = kind.state.tank_surface_elevation_m - kind.pump.elevation_m
        return float((gas - vapour) / (liquid.density_kg_per_m3 * GRAVITY_M_PER_S2) + height)

    shape = (len(rows.kinds), rows.most)
    vapour_known = [liquid.vapour_pressure_kpa_abs is not None for _, liquid, _, _ in rows.filled]
    required = _stacked([data.npsh_required for *_, data in rows.filled], 0.0)
    return SuctionLimits(
        (required.known & np.array(vapour_known)).reshape(shape),
        np.array([head(liquid, kind) for _, liquid, kind, _ in rows.filled]).reshape(shape),
        fold_rows(required.pieces, shape),
        required.speed_rpm.reshape(shape),
    )


def power_data(rows: PumpRows) -> PowerData:
    """Return each pump's efficiency and its driver's limit."""
    shape = (len(rows.kinds), rows.most)
    efficiency = _stacked([data.efficiency for *_, data in rows.filled], 1.0)
    limits = rows.array(
        lambda _, kind: np.inf if kind.pump.driver_power_limit_kw is None else kind.pump.driver_power_limit_kw * KW_W
    )
    return PowerData(
        efficiency.known.reshape(shape),
        fold_rows(efficiency.pieces, shape),
        efficiency.speed_rpm.reshape(shape),
        limits,
    )


@dataclass(frozen=True)
class _Stacked:
    known: np.ndarray
    pieces: Pieces
    speed_rpm: Array


def _stacked(curves: Sequence[AtSpeed | None], otherwise: float) -> _Stacked:
    pieces = [constant_pieces(otherwise) if curve is None else curve.pieces for curve in curves]
    speeds = [1.0 if curve is None else curve.speed_rpm for curve in curves]
    known = np.array([curve is not None for curve in curves])
    return _Stacked(known, stack_pieces(pieces), np.array(speeds, dtype=float))
