"""The highest flow within every limit, and the speeds that make it.

Limits that depend on the flow alone (pressures, velocities, agreed and receiving rates) cap it first;
the speed range caps it next; limits of single pumps (rated flow, suction) are met last, by slowing down.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from compat.calc.balance import SpeedRule
from compat.calc.operating_point import OperatingPoint, SpeedForFlow, point_at_speeds, speed_for_flow
from compat.calc.pump_limits import ROOM_TOLERANCE, flow_within_pump_limits, pump_excess
from compat.calc.system import ShipShore
from shared.calc.arrays import place, take
from shared.calc.root import Array, find_falling_root
from terminals.calc.berth_line import arm_flows
from vessels.calc.power import PowerData
from vessels.calc.pump import greatest_tested_flow
from vessels.calc.suction import SuctionLimits

_BAR_PA = 1e5
_RUN_OUT_ALLOWANCE = 1.5


@dataclass(frozen=True)
class FlowLimits:
    """What is allowed; infinity where a limit is absent or not known.

    ``flow_m3_per_s`` (cases,): least of all caps on the pumps' total flow. ``pressure_pa_gauge`` (cases, points): at
    manifold, arm end and segment ends. ``booster_pa_gauge`` (cases, 1): behind the booster pump, and
    ``ship_line_pa_gauge`` (cases, 1): where the pumps meet; both (cases, 0) where there is none. ``arm_flow_m3_per_s``
    (cases, kinds of arm): through one arm. ``pump_flow_m3_per_s`` (cases, kinds of pump).
    """

    flow_m3_per_s: Array
    pressure_pa_gauge: Array
    booster_pa_gauge: Array
    ship_line_pa_gauge: Array
    arm_flow_m3_per_s: Array
    pump_flow_m3_per_s: Array
    suction: SuctionLimits
    power: PowerData


@dataclass(frozen=True)
class Achievable:
    """The highest flow within the limits; ``static_excess_pa`` > 0 where they are broken even at rest."""

    setting: Array
    point: OperatingPoint
    static_excess_pa: Array


def achievable_flow(system: ShipShore, rule: SpeedRule, limits: FlowLimits) -> Achievable:
    """Return the highest flow that keeps every limit, and the speed setting that makes it."""
    fastest = rule.speeds(rule.greatest_setting)[0]
    # Hardly a line lets a pump run out further than this; where one does, it is searched again below.
    run_out = (system.pumps.count * greatest_tested_flow(system.pumps.curves, fastest)).sum(-1) * _RUN_OUT_ALLOWANCE
    most = np.minimum(limits.flow_m3_per_s, run_out)
    within, static_excess = _flow_within_shore_limits(system, limits, most)
    found = speed_for_flow(system, rule, within)
    rows = np.flatnonzero((within >= run_out) & (run_out < limits.flow_m3_per_s) & ~found.short)
    if rows.size:
        found = place(found, rows, _run_out(take(system, rows), take(rule, rows), take(limits, rows)))
    past = pump_excess(system, limits, found.point.pump_flow_m3_per_s, found.point.speed_rpm)
    rows = np.flatnonzero(past > ROOM_TOLERANCE)
    if rows.size:
        part = take(system, rows), take(rule, rows), take(limits, rows), take(found, rows)
        found = place(found, rows, flow_within_pump_limits(*part[:3], part[3].point, part[3].setting))
    return Achievable(found.setting, found.point, static_excess)


def _run_out(system: ShipShore, rule: SpeedRule, limits: FlowLimits) -> SpeedForFlow:
    """Search again up to what the pumps give at their greatest speeds."""
    most = point_at_speeds(system, rule.speeds(rule.greatest_setting)[0]).flow_m3_per_s
    within, _ = _flow_within_shore_limits(system, limits, np.minimum(limits.flow_m3_per_s, most))
    return speed_for_flow(system, rule, within)


def _flow_within_shore_limits(system: ShipShore, limits: FlowLimits, most: Array) -> tuple[Array, Array]:
    """Return the highest flow up to ``most`` at which no point is over its pressure and no arm over its flow.

    The second answer is by how much, in Pa, a pressure is exceeded even at rest (negative: it is not).
    """

    def room(flow: Array) -> tuple[Array, Array]:
        pressure, slope = system.point_pressures(flow)
        boosted, boosted_slope = system.booster_pressure(flow)
        arms, arms_slope = arm_flows(system.berth, system.ashore(flow))
        own, own_slope = ship_line_pressure(system, limits, flow)
        excess = np.concatenate(
            [
                (pressure - limits.pressure_pa_gauge) / _BAR_PA,
                (boosted - limits.booster_pa_gauge) / _BAR_PA,
                (own - limits.ship_line_pa_gauge) / _BAR_PA,
                arms / limits.arm_flow_m3_per_s - 1.0,
            ],
            -1,
        )
        by_pressure = [slope / _BAR_PA, boosted_slope / _BAR_PA, own_slope / _BAR_PA]
        slopes = np.concatenate([*by_pressure, arms_slope / limits.arm_flow_m3_per_s], -1)
        worst = excess.argmax(-1)[..., None]
        return -excess.max(-1), -np.take_along_axis(slopes, worst, -1)[..., 0]

    at_rest, _ = room(np.zeros_like(most))
    at_most, _ = room(most)
    bound = (at_rest >= 0) & (at_most < 0)
    otherwise = np.where(at_rest < 0, 0.0, most)
    if not bound.any():
        return otherwise, -at_rest * _BAR_PA
    root = find_falling_root(
        room, np.zeros_like(most), np.where(bound, most, 0.0), start=most, tolerance=ROOM_TOLERANCE
    )
    return np.where(bound, root.value, otherwise), -at_rest * _BAR_PA


def ship_line_pressure(system: ShipShore, limits: FlowLimits, flow: Array) -> tuple[Array, Array]:
    """Return the pressure in the ship's lines in Pa and its slope with flow, (cases, 0) where no rating is stated."""
    if not limits.ship_line_pa_gauge.shape[-1]:
        return limits.ship_line_pa_gauge, limits.ship_line_pa_gauge
    return system.ship_line_pressure(flow)
