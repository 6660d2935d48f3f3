"""The highest flow at which no pump is past its own limits: rated flow, suction, driver power.

Flows, speed setting and total flow are found together by Newton's method: to the equations of a balance comes one
more, that the worst pump is right at its limit. What does not settle is searched by brackets, which is slower and
always ends.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from compat.calc.balance import FLOW_TOLERANCE_M3_PER_S, SpeedRule, gaps, settled
from compat.calc.operating_point import OperatingPoint, SpeedForFlow, speed_for_flow
from compat.calc.system import ShipShore
from shared.calc.arrays import place, take
from shared.calc.root import Array, Flags, find_falling_root
from vessels.calc.power import shaft_power_slopes, shaft_power_w
from vessels.calc.pump import pump_head
from vessels.calc.suction import suction_margin_m, suction_margin_slopes

if TYPE_CHECKING:
    from compat.calc.achievable import FlowLimits

ROOM_TOLERANCE = 1e-10  # bar, metre or fraction: far below any gauge, far above rounding
_MOST_ITERATIONS = 25
_SLOPE_STEP = 1e-6


def pump_excess(system: ShipShore, limits: FlowLimits, flow: Array, speed: Array) -> Array:
    """Return how far the worst pump is past its own limits: a fraction of flow or power, or metres of NPSH."""
    return _worst(system, _excesses(system, limits, flow, speed))[0]


def excess_of_each(system: ShipShore, limits: FlowLimits, flow: Array, speed: Array) -> Array:
    """Return how far each pump is past its own limits, (cases, kinds): as ``pump_excess`` for the worst."""
    excesses = [one.value for one in _excesses(system, limits, flow, speed)]
    return np.where(system.pumps.count > 0, np.maximum.reduce(excesses), -np.inf)


def flow_within_pump_limits(
    system: ShipShore, rule: SpeedRule, limits: FlowLimits, point: OperatingPoint, setting: Array
) -> SpeedForFlow:
    """Return the highest total flow, below that of ``point``, at which no pump is past its own limits, and its speeds.

    ``setting`` is the one that makes ``point``.
    """
    flow, near, found = _by_newton(system, rule, limits, point, setting)
    rows = np.flatnonzero(~found)
    if rows.size:
        part = take(system, rows), take(rule, rows), take(limits, rows), take(point, rows)
        flow = place(flow, rows, _by_brackets(*part))
    return speed_for_flow(system, rule, flow, near)


@dataclass(frozen=True)
class _Excess:
    """Each pump's excess over one limit (cases, kinds), with its slopes by flow and by speed where asked for."""

    value: Array
    by_flow: Array
    by_speed: Array


def _excesses(
    system: ShipShore, limits: FlowLimits, flow: Array, speed: Array, *, slopes: bool = False
) -> list[_Excess]:
    none = np.zeros_like(flow)
    found = [_Excess(flow / limits.pump_flow_m3_per_s - 1.0, 1.0 / limits.pump_flow_m3_per_s, none)]
    margin = suction_margin_m(system.pumps, limits.suction, flow, speed)
    by_flow, by_speed = suction_margin_slopes(system.pumps, limits.suction, flow, speed) if slopes else (none, none)
    found.append(_Excess(-margin, -by_flow, -by_speed))
    if np.isfinite(limits.power.limit_w).any():
        head, head_by_flow, head_by_speed = pump_head(system.pumps.curves, flow, speed)
        density = system.density_kg_per_m3[:, None]
        power = shaft_power_w(limits.power, flow, head, speed, density) / limits.power.limit_w - 1.0
        if slopes:
            by_flow, by_speed = shaft_power_slopes(
                limits.power, flow, (head, head_by_flow, head_by_speed), speed, density
            )
        scale = 1.0 / limits.power.limit_w
        known = limits.power.known
        found.append(_Excess(np.where(known, power, -np.inf), by_flow * scale, by_speed * scale))
    return found


def _worst(system: ShipShore, excesses: list[_Excess]) -> tuple[Array, Array]:
    """Return the greatest excess of each case, and its place among limits and kinds of pump."""
    runs = system.pumps.count > 0
    every = np.concatenate([np.where(runs, one.value, -np.inf) for one in excesses], -1)
    at = every.argmax(-1)
    return np.take_along_axis(every, at[:, None], -1)[:, 0], at


def _by_newton(
    system: ShipShore, rule: SpeedRule, limits: FlowLimits, point: OperatingPoint, setting: Array
) -> tuple[Array, tuple[Array, Array], Flags]:
    """Return the total flow, pump flows with their setting, and where they are found.

    One number, the control, moves speed and throttling: down to its least value it is the speed setting, and what
    it is below that is the head in m that is throttled away.
    """
    count, most = system.pumps.count, point.flow_m3_per_s
    least, greatest = rule.least_setting, rule.greatest_setting
    control = setting - point.throttled_head_m
    flow, total = point.pump_flow_m3_per_s, most
    done = np.zeros(total.shape, dtype=bool)
    for _ in range(_MOST_ITERATIONS):
        speed, speed_slope = rule.speeds(np.maximum(control, least))
        slows = control > least
        head, head_slope = system.junction_head(total)
        gap, yielding, by_speed = gaps(system, flow, speed, head + np.maximum(least - control, 0.0))
        lack = total - (count * flow).sum(-1)
        excesses = _excesses(system, limits, flow, speed, slopes=True)
        worst, at = _worst(system, excesses)
        done = settled(gap, yielding) & (np.abs(lack) <= FLOW_TOLERANCE_M3_PER_S) & (np.abs(worst) <= ROOM_TOLERANCE)
        if done.all():
            break
        turns = np.where(slows[:, None], speed_slope, 0.0)
        own, by_total = yielding * gap, yielding * head_slope[:, None]
        by_control = yielding * np.where(slows[:, None], -by_speed * turns, -1.0)
        which = (at % flow.shape[-1])[:, None]
        by_flow, excess_by_speed = _slopes_at(excesses, at)

        def of_worst(values: Array, which: np.ndarray = which) -> Array:
            return np.take_along_axis(values, which, -1)[:, 0]

        a11, a12 = (count * by_total).sum(-1) - 1.0, (count * by_control).sum(-1)
        b1 = lack - (count * own).sum(-1)
        a21 = by_flow * of_worst(by_total)
        a22 = by_flow * of_worst(by_control) + excess_by_speed * of_worst(turns)
        b2 = -worst - by_flow * of_worst(own)
        whole = a11 * a22 - a12 * a21
        usable = np.isfinite(whole) & (np.abs(whole) > 1e-30) & np.isfinite(b2) & ~done
        whole = np.where(usable, whole, 1.0)
        change = np.where(usable, (b1 * a22 - b2 * a12) / whole, 0.0)
        turn = np.where(usable, (a11 * b2 - a21 * b1) / whole, 0.0)
        moved_total = np.clip(total + change, 0.0, most)
        moved = np.minimum(control + turn, greatest)
        step = own + by_total * (moved_total - total)[:, None] + by_control * (moved - control)[:, None]
        total, control = moved_total, moved
        flow = np.where(done[:, None], flow, np.maximum(flow + step, 0.0))
    return total, (flow, np.maximum(control, least)), done


def _slopes_at(excesses: list[_Excess], at: np.ndarray) -> tuple[Array, Array]:
    by_flow = np.concatenate([one.by_flow for one in excesses], -1)
    by_speed = np.concatenate([one.by_speed for one in excesses], -1)
    return np.take_along_axis(by_flow, at[:, None], -1)[:, 0], np.take_along_axis(by_speed, at[:, None], -1)[:, 0]


def _by_brackets(system: ShipShore, rule: SpeedRule, limits: FlowLimits, point: OperatingPoint) -> Array:
    """Search the flow between none and that of ``point``; where a pump is past its limits even at rest it is none."""

    def excess(flow: Array) -> Array:
        balanced = speed_for_flow(system, rule, flow).point
        return pump_excess(system, limits, balanced.pump_flow_m3_per_s, balanced.speed_rpm)

    def room(flow: Array) -> tuple[Array, Array]:
        here, below = excess(flow), excess(flow * (1.0 - _SLOPE_STEP))
        with np.errstate(invalid="ignore"):
            slope = (below - here) / np.maximum(flow * _SLOPE_STEP, 1e-30)
        return -here, np.where(np.isfinite(slope), slope, 0.0)

    most = point.flow_m3_per_s
    most = np.where(excess(np.zeros_like(most)) < 0.0, most, 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(system.pumps.count > 0, limits.pump_flow_m3_per_s / point.pump_flow_m3_per_s, np.inf).min(-1)
    start = most * np.clip(share, 0.0, 1.0)
    return find_falling_root(room, np.zeros_like(most), most, start=start, tolerance=ROOM_TOLERANCE).value
