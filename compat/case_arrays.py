"""From case files to arrays in SI: the one door between stated facts and the calculation (pure: no Django)."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from compat.calc.achievable import FlowLimits
from compat.calc.balance import SpeedRule
from compat.calc.system import ShipShore
from compat.case_file import CaseFile, PumpState
from shared.calc.arrays import fold_rows
from shared.calc.curve import constant_pieces, pieces_through, stack_pieces
from shared.calc.line import Pipes
from shared.calc.root import Array
from shared.calc.units import ATMOSPHERE_PA, GRAVITY_M_PER_S2
from shared.cargo_facts import Liquid, liquid_of
from shared.facts import PipeSegment
from terminals.calc.berth_line import BerthLine
from terminals.facts import BerthFacts
from vessels.calc.pump import PumpCurves, curve_by_coefficients, curves_by_points, stack_curves
from vessels.calc.pump_group import PumpGroup
from vessels.calc.suction import SuctionLimits
from vessels.facts import CurvePoint, PumpFacts

BAR_PA = 1e5
HOUR_S = 3600.0
MM_M = 1e-3
MM2_PER_S = 1e-6
INERT_GAS_FACTOR = 1.25  # inert gas delivery over discharge rate: FSS Code ch. 15, SOLAS II-2/4.5.5


@dataclass(frozen=True)
class PumpKind:
    """Running pumps of one case that are alike in every respect, so that they share flow equally."""

    pump: PumpFacts
    state: PumpState
    keys: tuple[str, ...]


@dataclass(frozen=True)
class CaseArrays:
    """Cases as arrays; ``stated_rpm`` is NaN where the speed is free, ``rule`` says how free speeds move."""

    system: ShipShore
    stated_rpm: Array
    rule: SpeedRule
    limits: FlowLimits


def pump_kinds(case: CaseFile) -> list[PumpKind]:
    """Return the running pumps, those alike in curve, lines, height, tank and speed taken together."""
    pumps = {pump.key: pump for pump in case.ship.pumps}
    kinds: dict[str, PumpKind] = {}
    for state in case.operation.pumps:
        if not state.running:
            continue
        pump = pumps[state.pump]
        alike = pump.model_dump_json(exclude={"key", "name"}) + state.model_dump_json(exclude={"pump"})
        known = kinds.get(alike)
        kinds[alike] = PumpKind(pump, state, (*(known.keys if known else ()), pump.key))
    return list(kinds.values())


def arrays_of(cases: Sequence[CaseFile]) -> CaseArrays:
    """Return cases as arrays, padded to the longest; raise nothing that the case file has not refused before."""
    kinds = [pump_kinds(case) for case in cases]
    liquids = [liquid_of(case.cargo) for case in cases]
    density = np.array([liquid.density_kg_per_m3 for liquid in liquids])
    viscosity = np.array([liquid.kinematic_viscosity_mm2_per_s for liquid in liquids]) * MM2_PER_S
    system = ShipShore(
        pumps=_pump_group(cases, kinds, density, viscosity),
        common_line=_pipes([case.ship.common_line for case in cases]),
        berth=_berth_line(cases, density, viscosity),
        point_elevation_m=_point_elevations(cases),
        density_kg_per_m3=density,
        viscosity_m2_per_s=viscosity,
    )
    stated = _by_kind(kinds, lambda _, kind: kind.state.speed_rpm or np.nan, cases, 1.0)
    free = np.array([case.operation.speed != "as stated" for case in cases])[:, None]
    return CaseArrays(
        system, np.where(free, np.nan, stated), _speed_rule(cases, kinds), _flow_limits(cases, kinds, liquids)
    )


def end_head_m(berth: BerthFacts, density_kg_per_m3: float) -> float:
    """Return the head at the shore end in m over the berth's zero."""
    weight = density_kg_per_m3 * GRAVITY_M_PER_S2
    end = berth.shore_end
    if end.tank is not None:
        return float(end.tank.surface_elevation_m + end.tank.gas_pressure_bar_gauge * BAR_PA / weight)
    line = berth.shore_line
    elevation = line[-1].end_elevation_m if line else berth.arm_shore_end_elevation_m
    return float(elevation + (end.back_pressure_bar_gauge or 0.0) * BAR_PA / weight)


def _pump_group(cases: Sequence[CaseFile], kinds: list[list[PumpKind]], density: Array, viscosity: Array) -> PumpGroup:
    weight = (density * GRAVITY_M_PER_S2)[:, None]
    gas = _by_kind(kinds, lambda _, kind: kind.state.tank_gas_pressure_bar_gauge * BAR_PA, cases, 0.0)
    surface = _by_kind(
        kinds, lambda case, kind: case.keel_elevation_m + kind.state.tank_surface_elevation_m, cases, 0.0
    )
    most = max(len(row) for row in kinds)
    curves = stack_curves([_curves(kind.pump) for row in kinds for kind in _filled(row, most)])
    lines = (
        [[kind.pump.suction_line for kind in row] for row in kinds],
        [[kind.pump.discharge_line for kind in row] for row in kinds],
    )
    return PumpGroup(
        curves=fold_rows(curves, (len(cases), most)),
        count=_by_kind(kinds, lambda _, kind: float(len(kind.keys)), cases, 0.0),
        tank_head_m=surface + gas / weight,
        elevation_m=_by_kind(kinds, lambda case, kind: case.keel_elevation_m + kind.pump.elevation_m, cases, 0.0),
        suction=_pipes_by_kind(lines[0], most),
        discharge=_pipes_by_kind(lines[1], most),
        viscosity_m2_per_s=np.repeat(viscosity[:, None], most, axis=1),
    )


def _curves(pump: PumpFacts) -> PumpCurves:
    first = pump.curves[0]
    if first.coefficients is not None:
        c = first.coefficients
        drop = c.drop_at_1_m3_per_h_m * HOUR_S**c.exponent
        return curve_by_coefficients(first.speed_rpm, c.shut_off_head_m, drop, c.exponent)
    points = [[(p.flow_m3_per_h / HOUR_S, p.head_m) for p in curve.points or []] for curve in pump.curves]
    return curves_by_points([curve.speed_rpm for curve in pump.curves], points)


def _berth_line(cases: Sequence[CaseFile], density: Array, viscosity: Array) -> BerthLine:
    most = max(len(case.berth.arms) for case in cases)
    counts = [[arm.count for arm in case.berth.arms] + [0] * (most - len(case.berth.arms)) for case in cases]
    return BerthLine(
        arms=_pipes([case.berth.arms for case in cases]),
        arm_count=np.array(counts, dtype=float),
        segments=_pipes([case.berth.shore_line for case in cases]),
        end_head_m=np.array([end_head_m(case.berth, float(rho)) for case, rho in zip(cases, density, strict=True)]),
        viscosity_m2_per_s=viscosity,
    )


def _point_elevations(cases: Sequence[CaseFile]) -> Array:
    most = max(len(case.berth.shore_line) for case in cases)
    rows = []
    for case in cases:
        row = [case.keel_elevation_m + case.ship.manifold.elevation_m, case.berth.arm_shore_end_elevation_m]
        row += [segment.end_elevation_m for segment in case.berth.shore_line]
        rows.append(row + [row[-1]] * (2 + most - len(row)))
    return np.array(rows, dtype=float)


def _speed_rule(cases: Sequence[CaseFile], kinds: list[list[PumpKind]]) -> SpeedRule:
    def scale(case: CaseFile, kind: PumpKind) -> float:
        return 1.0 if case.operation.speed == "one common speed" else max(c.speed_rpm for c in kind.pump.curves)

    # Padding repeats nothing: a kind that does not exist must not widen the range of settings.
    scales = _by_kind(kinds, scale, cases, np.nan)
    least = _by_kind(kinds, lambda _, kind: kind.pump.least_speed_rpm, cases, np.nan)
    greatest = _by_kind(kinds, lambda _, kind: kind.pump.greatest_speed_rpm, cases, np.nan)
    first = slice(0, 1)
    return SpeedRule(
        np.where(np.isnan(scales), scales[:, first], scales),
        np.where(np.isnan(least), least[:, first], least),
        np.where(np.isnan(greatest), greatest[:, first], greatest),
    )


def _flow_limits(cases: Sequence[CaseFile], kinds: list[list[PumpKind]], liquids: Sequence[Liquid]) -> FlowLimits:
    points = 2 + max(len(case.berth.shore_line) for case in cases)
    arms = max(len(case.berth.arms) for case in cases)
    return FlowLimits(
        flow_m3_per_s=np.array([_flow_cap(case) for case in cases]),
        pressure_pa_gauge=np.array([_pressure_caps(case, points) for case in cases]),
        arm_flow_m3_per_s=np.array([_arm_caps(case, arms) for case in cases]),
        pump_flow_m3_per_s=_by_kind(kinds, _pump_cap, cases, np.inf),
        suction=_suction(kinds, liquids),
    )


def _flow_cap(case: CaseFile) -> float:
    berth, ship, agreed = case.berth, case.ship, case.agreed
    rates = [agreed.highest_rate_m3_per_h, berth.receiving_rate_m3_per_h]
    if ship.inert_gas_delivery_m3_per_h is not None:
        rates.append(ship.inert_gas_delivery_m3_per_h / INERT_GAS_FACTOR)
    caps = [rate / HOUR_S for rate in rates if rate is not None]
    lines = [(segment, segment.velocity_limit_m_per_s) for segment in berth.shore_line]
    caps += [limit * area_m2(segment) for segment, limit in lines if limit is not None]
    if ship.ship_line_velocity_limit_m_per_s is not None:
        caps += [ship.ship_line_velocity_limit_m_per_s * area_m2(segment) for segment in ship.common_line]
    return min(caps, default=np.inf)


def area_m2(segment: PipeSegment) -> float:
    """Return the inside area of a pipe in m2."""
    return float(np.pi * (segment.bore_mm * MM_M) ** 2 / 4.0)


def _pressure_caps(case: CaseFile, points: int) -> list[float]:
    berth = case.berth
    caps = [np.inf] * points
    at_manifold = [
        case.agreed.manifold_pressure_bar_gauge,
        berth.manifold_pressure_limit_bar_gauge,
        case.ship.manifold.rating_bar_gauge,
    ]
    arm_ratings = [arm.rating_bar_gauge for arm in berth.arms]
    line_ratings = [segment.rating_bar_gauge for segment in berth.shore_line]
    for rating in at_manifold + arm_ratings:
        caps[0] = min(caps[0], _pascal(rating))
    for rating in arm_ratings:
        caps[1] = min(caps[1], _pascal(rating))
    for i, rating in enumerate(line_ratings):
        caps[1 + i] = min(caps[1 + i], _pascal(rating))
        caps[2 + i] = min(caps[2 + i], _pascal(rating))
    return caps


def _pascal(rating_bar: float | None) -> float:
    return np.inf if rating_bar is None else rating_bar * BAR_PA


def _arm_caps(case: CaseFile, arms: int) -> list[float]:
    caps = [
        arm.velocity_limit_m_per_s * area_m2(arm) if arm.velocity_limit_m_per_s else np.inf for arm in case.berth.arms
    ]
    return caps + [np.inf] * (arms - len(caps))


def _pump_cap(case: CaseFile, kind: PumpKind) -> float:
    rated = kind.pump.rated_flow_m3_per_h
    caps = [np.inf if rated is None else rated / HOUR_S]
    if case.ship.ship_line_velocity_limit_m_per_s is not None:
        lines = [*kind.pump.suction_line, *kind.pump.discharge_line]
        caps += [case.ship.ship_line_velocity_limit_m_per_s * area_m2(segment) for segment in lines]
    return min(caps)


def _suction(kinds: list[list[PumpKind]], liquids: Sequence[Liquid]) -> SuctionLimits:
    most = max(len(row) for row in kinds)
    shape = (len(kinds), most)
    known, heads, pieces, speeds = [], [], [], []
    for row, liquid in zip(kinds, liquids, strict=True):
        weight = liquid.density_kg_per_m3 * GRAVITY_M_PER_S2
        vapour = liquid.vapour_pressure_kpa_abs
        for kind in _filled(row, most):
            gas = kind.state.tank_gas_pressure_bar_gauge * BAR_PA + ATMOSPHERE_PA
            height = kind.state.tank_surface_elevation_m - kind.pump.elevation_m
            speed, required = next(
                ((c.speed_rpm, found) for c in kind.pump.curves if (found := npsh_points(c.points))), (1.0, None)
            )
            known.append(vapour is not None and required is not None)
            heads.append((gas - (vapour or 0.0) * 1e3) / weight + height)
            pieces.append(pieces_through(*required) if required else constant_pieces(0.0))
            speeds.append(speed)
    folded = fold_rows(stack_pieces(pieces), shape)
    return SuctionLimits(
        np.array(known).reshape(shape), np.array(heads).reshape(shape), folded, np.array(speeds).reshape(shape)
    )


def npsh_points(points: Sequence[CurvePoint] | None) -> tuple[list[float], list[float]] | None:
    """Return flows in m3/s and NPSH required in m where at least two points state it, else nothing."""
    stated = [(p.flow_m3_per_h / HOUR_S, p.npsh_required_m) for p in points or [] if p.npsh_required_m is not None]
    if len(stated) < 2:
        return None
    return [flow for flow, _ in stated], [npsh for _, npsh in stated]


def _filled(row: list[PumpKind], most: int) -> list[PumpKind]:
    return row + [row[0]] * (most - len(row))


def _by_kind(
    kinds: list[list[PumpKind]], read: Callable[[CaseFile, PumpKind], float], cases: Sequence[CaseFile], fill: float
) -> Array:
    most = max(len(row) for row in kinds)
    rows = []
    for case, row in zip(cases, kinds, strict=True):
        values = [read(case, kind) for kind in row]
        rows.append(values + [fill] * (most - len(row)))
    return np.array(rows, dtype=float)


def _pipes_by_kind(lines: Sequence[Sequence[Sequence[PipeSegment]]], most: int) -> Pipes:
    return fold_rows(
        _pipes([line for row in lines for line in [*row, *([[]] * (most - len(row)))]]), (len(lines), most)
    )


def _pipes(lines: Sequence[Sequence[PipeSegment]]) -> Pipes:
    most = max((len(line) for line in lines), default=0)
    shape = (len(lines), most)
    length, bore, roughness, losses = np.zeros(shape), np.ones(shape), np.zeros(shape), np.zeros(shape)
    for i, line in enumerate(lines):
        for j, segment in enumerate(line):
            length[i, j] = segment.length_m
            bore[i, j] = segment.bore_mm * MM_M
            roughness[i, j] = segment.roughness_mm * MM_M
            losses[i, j] = segment.loss_coefficient or 0.0
    return Pipes(length, bore, roughness, losses)
