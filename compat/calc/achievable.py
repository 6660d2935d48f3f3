"""The highest flow within every limit, and the speeds that make it.

Limits that depend on the flow alone (pressures, velocities, agreed and receiving rates) cap it first;
the speed range caps it next; limits of single pumps (rated flow, suction) are met last, by slowing down.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from compat.calc.operating_point import OperatingPoint, SpeedForFlow, SpeedRule, point_at_speeds, speed_for_flow
from compat.calc.system import ShipShore
from shared.calc.root import Array, Flags, find_falling_root
from terminals.calc.berth_line import arm_flows
from vessels.calc.suction import SuctionLimits, suction_margin

_BAR_PA = 1e5
_ROOM_TOLERANCE = 1e-10  # bar or fraction: far below any gauge, far above rounding


@dataclass(frozen=True)
class FlowLimits:
    """What is allowed; infinity where a limit is absent or not known.

    ``flow_m3_per_s`` (cases,): least of all caps on the total flow. ``pressure_pa_gauge``
    (cases, points): at manifold, arm end and segment ends. ``arm_flow_m3_per_s`` (cases, kinds of arm):
    through one arm. ``pump_flow_m3_per_s`` (cases, kinds of pump).
    """

    flow_m3_per_s: Array
    pressure_pa_gauge: Array
    arm_flow_m3_per_s: Array
    pump_flow_m3_per_s: Array
    suction: SuctionLimits


@dataclass(frozen=True)
class Achievable:
    """The highest flow within the limits; ``static_excess_pa`` > 0 where they are broken even at rest."""

    setting: Array
    point: OperatingPoint
    flow_at_greatest_speed_m3_per_s: Array
    static_excess_pa: Array


def achievable_flow(system: ShipShore, rule: SpeedRule, limits: FlowLimits) -> Achievable:
    """Return the highest flow that keeps every limit, and the speed setting that makes it."""
    fastest = point_at_speeds(system, rule.speeds(rule.greatest_setting)[0])
    most = np.minimum(fastest.flow_m3_per_s, limits.flow_m3_per_s)
    within, static_excess = _flow_within_shore_limits(system, limits, most)
    found = speed_for_flow(system, rule, within)
    violation, _ = _pump_violation(system, limits, found)
    if (violation > 0).any():
        slower = _flow_within_pump_limits(system, rule, limits, within, violation > 0)
        found = speed_for_flow(system, rule, slower)
    return Achievable(found.setting, found.point, fastest.flow_m3_per_s, static_excess)


def _flow_within_shore_limits(system: ShipShore, limits: FlowLimits, most: Array) -> tuple[Array, Array]:
    """Return the highest flow up to ``most`` at which no point is over its pressure and no arm over its flow.

    The second answer is by how much, in Pa, a pressure is exceeded even at rest (negative: it is not).
    """

    def room(flow: Array) -> tuple[Array, Array]:
        pressure, slope = system.point_pressures(flow)
        arms, arms_slope = arm_flows(system.berth, flow)
        excess = np.concatenate([(pressure - limits.pressure_pa_gauge) / _BAR_PA, arms / limits.arm_flow_m3_per_s - 1.0], -1)
        slopes = np.concatenate([slope / _BAR_PA, arms_slope / limits.arm_flow_m3_per_s], -1)
        worst = excess.argmax(-1)[..., None]
        return -np.take_along_axis(excess, worst, -1)[..., 0], -np.take_along_axis(slopes, worst, -1)[..., 0]

    at_rest, _ = room(np.zeros_like(most))
    at_most, _ = room(most)
    bound = (at_rest >= 0) & (at_most < 0)
    otherwise = np.where(at_rest < 0, 0.0, most)
    if not bound.any():
        return otherwise, -at_rest * _BAR_PA
    root = find_falling_root(room, np.zeros_like(most), np.where(bound, most, 0.0), start=most, tolerance=_ROOM_TOLERANCE)
    return np.where(bound, root.value, otherwise), -at_rest * _BAR_PA


def _pump_violation(system: ShipShore, limits: FlowLimits, found: SpeedForFlow) -> tuple[Array, Array]:
    """Return how far the worst pump is past its own limits, as a fraction, and its slope with total flow."""
    flow, speed = found.point.pump_flow_m3_per_s, found.point.speed_rpm
    rated = flow / limits.pump_flow_m3_per_s - 1.0
    rated_slope = found.pump_flow_slope / limits.pump_flow_m3_per_s
    short, by_flow, by_speed = suction_margin(system.pumps, limits.suction, flow, speed)
    short_slope = by_flow * found.pump_flow_slope + by_speed * found.speed_slope
    value = np.stack([rated, -short], axis=-1)
    slope = np.stack([rated_slope, -short_slope], axis=-1)
    value = np.where((system.pumps.count > 0)[..., None], value, -np.inf)
    value, slope = value.reshape(*flow.shape[:-1], -1), slope.reshape(*flow.shape[:-1], -1)
    worst = value.argmax(-1)[..., None]
    return np.take_along_axis(value, worst, -1)[..., 0], np.take_along_axis(slope, worst, -1)[..., 0]


def _flow_within_pump_limits(
    system: ShipShore, rule: SpeedRule, limits: FlowLimits, most: Array, wanted: Flags
) -> Array:
    def room(flow: Array) -> tuple[Array, Array]:
        violation, slope = _pump_violation(system, limits, speed_for_flow(system, rule, flow))
        return -violation, -slope

    root = find_falling_root(room, np.zeros_like(most), np.where(wanted, most, 0.0), start=most, tolerance=1e-9)
    return np.where(wanted, root.value, most)
