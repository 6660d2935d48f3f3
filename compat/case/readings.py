"""From solved arrays to what each gauge of each case should read (pure: no Django)."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import accumulate

import numpy as np

from compat.calc.operating_point import OperatingPoint
from compat.case.answer_parts import ArmFlow, BoosterReading, ProfilePoint, PumpReading, Readings, TankFlow
from compat.case.case_arrays import CaseArrays
from compat.case.case_file import CaseFile
from shared.calc.root import Array, Flags
from shared.calc.units import BAR_PA, HOUR_S, KW_W
from terminals.calc.berth_line import arm_flows, branch_flows, heads_along
from vessels.calc.power import shaft_power_w
from vessels.calc.pump import beyond_curve, greatest_tested_flow, pump_head
from vessels.calc.suction import (
    flow_within_suction_m3_per_s,
    level_to_spare_m,
    level_to_stop_m,
    npsh_available_m,
    npsh_required_m,
)


@dataclass(frozen=True)
class SolvedArrays:
    """Operating points of cases with everything that is read off them, worked out for all cases at once."""

    point: OperatingPoint
    pump_head_m: Array
    shut_off_head_m: Array
    suction_pa_gauge: Array
    discharge_pa_gauge: Array
    npsh_available_m: Array
    npsh_required_m: Array
    power_w: Array
    beyond_curve: Flags
    ashore_m3_per_s: Array
    arm_flow_m3_per_s: Array
    arm_velocity_m_per_s: Array
    heads_m: Array
    pressures_pa_gauge: Array
    booster_pa_gauge: Array
    lowest_pump_m: Array
    ship_line_pa_gauge: Array
    at_rest_pa_gauge: Array
    junction_head_at_rest_m: Array
    tank_flow_m3_per_s: Array
    suction_flow_m3_per_s: Array
    greatest_flow_m3_per_s: Array
    level_to_slow_m: Array
    level_to_stop_m: Array


def solved_arrays(arrays: CaseArrays, point: OperatingPoint, *, stated: bool) -> SolvedArrays:
    """Return what is read off operating points; ``stated`` speeds stay as they are when a tank's level falls.

    ``shut_off_head_m`` is the highest head the pumps hold at no flow.
    """
    system, flow, speed = arrays.system, point.pump_flow_m3_per_s, point.speed_rpm
    pumps = system.pumps
    head = pump_head(pumps.curves, flow, speed)[0]
    suction_head = pumps.tank_head_m - pumps.suction_loss(flow)[0]
    held = pumps.junction_head(np.zeros_like(flow), speed)[0]
    ashore = system.ashore(point.flow_m3_per_s)
    arms, _ = arm_flows(system.berth, ashore)
    heads = heads_along(system.berth, ashore)[0]
    nothing, lowest = np.zeros_like(point.flow_m3_per_s), system.lowest_pump_m
    greatest = greatest_tested_flow(pumps.curves, speed)
    return SolvedArrays(
        point=point,
        pump_head_m=head,
        shut_off_head_m=np.where(pumps.count > 0, held, -np.inf).max(-1),
        suction_pa_gauge=system.pressure_pa_gauge(suction_head, pumps.elevation_m),
        discharge_pa_gauge=system.pressure_pa_gauge(suction_head + head, pumps.elevation_m),
        npsh_available_m=npsh_available_m(pumps, arrays.limits.suction, flow),
        npsh_required_m=npsh_required_m(arrays.limits.suction, flow, speed),
        power_w=shaft_power_w(arrays.limits.power, flow, head, speed, system.density_kg_per_m3[:, None]),
        beyond_curve=beyond_curve(pumps.curves, flow, speed),
        arm_flow_m3_per_s=arms,
        arm_velocity_m_per_s=arms / system.berth.arms.area_m2,
        heads_m=heads,
        pressures_pa_gauge=system.pressure_pa_gauge(heads, system.point_elevation_m),
        lowest_pump_m=lowest,
        ship_line_pa_gauge=system.pressure_pa_gauge(point.junction_head_m, lowest),
        booster_pa_gauge=system.booster_pressure(point.flow_m3_per_s)[0],
        at_rest_pa_gauge=system.point_pressures(nothing)[0],
        junction_head_at_rest_m=system.junction_head(nothing)[0],
        suction_flow_m3_per_s=flow_within_suction_m3_per_s(pumps, arrays.limits.suction, speed, greatest),
        greatest_flow_m3_per_s=greatest,
        level_to_slow_m=level_to_spare_m(
            pumps, arrays.limits.suction, flow, speed, speed if stated else arrays.rule.greatest_rpm
        ),
        level_to_stop_m=_level_to_stop(arrays),
        tank_flow_m3_per_s=branch_flows(system.berth, ashore),
        ashore_m3_per_s=ashore,
    )


def _level_to_stop(arrays: CaseArrays) -> Array:
    """Return how far each tank's surface may fall with every pump at its least continuous flow; nothing stated is 0."""
    system, pumps = arrays.system, arrays.system.pumps
    flow = arrays.pumps.array(lambda _, kind: (kind.pump.least_continuous_flow_m3_per_h or 0.0) / HOUR_S)
    needed, _ = system.junction_head((pumps.count * flow).sum(-1))
    rule = arrays.rule
    return level_to_stop_m(pumps, arrays.limits.suction, flow, needed, rule.least_rpm, rule.greatest_rpm)


def readings_of(case: CaseFile, arrays: CaseArrays, solved: SolvedArrays, row: int) -> Readings:
    """Return what one case's gauges should read."""
    return Readings(
        total_flow_m3_per_h=float(solved.ashore_m3_per_s[row]) * HOUR_S,
        pumps=_pumps(case, arrays, solved, row),
        arms=tuple(
            ArmFlow(
                arm.name,
                arm.count,
                float(solved.arm_flow_m3_per_s[row, a]) * HOUR_S,
                float(solved.arm_velocity_m_per_s[row, a]),
            )
            for a, arm in enumerate(case.berth.arms)
        ),
        profile=_profile(case, arrays, solved, row),
        tanks=tuple(
            TankFlow(tank.name, float(solved.tank_flow_m3_per_s[row, t]) * HOUR_S)
            for t, tank in enumerate(case.berth.shore_end.tanks)
        ),
        shut_off_head_m=float(solved.shut_off_head_m[row]),
        booster=_booster(case, arrays, solved, row),
        lowest_pump_m=float(solved.lowest_pump_m[row]),
        ship_line_pressure_bar_gauge=float(solved.ship_line_pa_gauge[row]) / BAR_PA,
    )


def _booster(case: CaseFile, arrays: CaseArrays, solved: SolvedArrays, row: int) -> BoosterReading | None:
    stated, booster = case.berth.booster, arrays.system.berth.booster
    if stated is None or booster is None:
        return None
    flow = solved.ashore_m3_per_s
    return BoosterReading(
        name=stated.name,
        discharge_pressure_bar_gauge=float(solved.booster_pa_gauge[row, 0]) / BAR_PA,
        shut_off_head_m=float(booster.head.evaluate(np.zeros_like(flow))[0][row]),
        beyond_curve=bool(booster.head.beyond(flow)[row]),
    )


def _pumps(case: CaseFile, arrays: CaseArrays, solved: SolvedArrays, row: int) -> tuple[PumpReading, ...]:
    place = {key: k for k, kind in enumerate(arrays.pumps.kinds[row]) for key in kind.keys}
    vapour_known = arrays.pumps.liquids[row].vapour_pressure_kpa_abs is not None
    levels = {state.pump: state.tank_surface_elevation_m for state in case.operation.pumps}
    bottom = 0.0 if case.ship.cargo_tanks is None else case.ship.cargo_tanks.bottom_elevation_m
    readings = []
    for pump in case.ship.pumps:
        k = place.get(pump.key)
        if k is None:
            readings.append(PumpReading(pump.key, pump.name, running=False))
            continue
        known, least = bool(arrays.limits.suction.known[row, k]), pump.least_continuous_flow_m3_per_h
        slow = levels[pump.key] - float(solved.level_to_slow_m[row, k]) if known else None
        stop = levels[pump.key] - float(solved.level_to_stop_m[row, k]) if known and least is not None else None
        readings.append(
            PumpReading(
                pump=pump.key,
                name=pump.name,
                running=True,
                speed_rpm=float(solved.point.speed_rpm[row, k]),
                flow_m3_per_h=float(solved.point.pump_flow_m3_per_s[row, k]) * HOUR_S,
                head_m=float(solved.pump_head_m[row, k]),
                suction_pressure_bar_gauge=float(solved.suction_pa_gauge[row, k]) / BAR_PA,
                discharge_pressure_bar_gauge=float(solved.discharge_pa_gauge[row, k]) / BAR_PA,
                npsh_available_m=float(solved.npsh_available_m[row, k]) if vapour_known else None,
                npsh_required_m=float(solved.npsh_required_m[row, k]) if known else None,
                least_flow_m3_per_h=least,
                suction_allows_m3_per_h=_allowed_by_suction(solved, row, k) if known else None,
                slow_below_level_m=_above(bottom, slow),
                stop_below_level_m=_above(bottom, stop),
                level_note=_level_note(bottom, slow, stop),
                shaft_power_kw=float(solved.power_w[row, k]) / KW_W if arrays.limits.power.known[row, k] else None,
                beyond_curve=bool(solved.beyond_curve[row, k]),
            )
        )
    return tuple(readings)


def _allowed_by_suction(solved: SolvedArrays, row: int, k: int) -> float | None:
    """Return the flow that suction allows in m3/h, or nothing where it allows all that was tested."""
    allowed, greatest = float(solved.suction_flow_m3_per_s[row, k]), float(solved.greatest_flow_m3_per_s[row, k])
    return allowed * HOUR_S if allowed < greatest else None


def _above(bottom_m: float, level_m: float | None) -> float | None:
    return None if level_m is None or level_m < bottom_m else level_m


def _level_note(bottom_m: float, slow_m: float | None, stop_m: float | None) -> str:
    """Say what no level says: that suction does not limit the pump above the bottom of the tanks, or is not known."""
    if slow_m is None:
        return ""
    if slow_m < bottom_m:
        return "suction does not limit above the bottom of the tanks"
    if stop_m is None:
        return "the level at which to stop is not known; ask the ship for the least continuous flow"
    return "" if stop_m >= bottom_m else "at the least flow suction lasts to the bottom of the tanks"


def _profile(case: CaseFile, arrays: CaseArrays, solved: SolvedArrays, row: int) -> tuple[ProfilePoint, ...]:
    berth = case.berth
    arms = max(arm.length_m for arm in berth.arms)
    names = ["Ship's manifold", "Shore end of the arms", *(segment.name for segment in berth.shore_line)]
    lengths = [0.0, arms, *(segment.length_m for segment in berth.shore_line)]
    ratings = [case.ship.manifold.rating_bar_gauge, _least([arm.rating_bar_gauge for arm in berth.arms])]
    ratings += [segment.rating_bar_gauge for segment in berth.shore_line]
    known = 1 if berth.shore_end.observed is not None else len(names)  # nothing is known behind an observed manifold
    elevations = arrays.system.point_elevation_m[row, :known].tolist()
    heads, pressures = solved.heads_m[row, :known].tolist(), (solved.pressures_pa_gauge[row, :known] / BAR_PA).tolist()
    return tuple(map(ProfilePoint, names, accumulate(lengths), elevations, heads, pressures, ratings))


def _least(ratings: list[float | None]) -> float | None:
    return min((rating for rating in ratings if rating is not None), default=None)
