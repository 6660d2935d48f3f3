"""Where pumps and shore agree: total flow at given speeds, and the common speed for a given flow."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from compat.calc.balance import Balance, SpeedRule, balance_flow, balance_speed, balance_throttle
from compat.calc.bracketed import bracket_flow, bracket_speed, bracket_throttle
from compat.calc.system import ShipShore
from shared.calc.arrays import place, take
from shared.calc.root import Array, Flags
from vessels.calc.pump import greatest_tested_flow


@dataclass(frozen=True)
class OperatingPoint:
    """Flow and head where pumps meet the shore; ``residual_m`` is the head left unbalanced at the junction.

    ``flow_m3_per_s`` and heads have shape (cases,); pump flows and speeds (cases, kinds).
    """

    flow_m3_per_s: Array
    pump_flow_m3_per_s: Array
    speed_rpm: Array
    junction_head_m: Array
    throttled_head_m: Array
    residual_m: Array
    converged: Flags


@dataclass(frozen=True)
class SpeedForFlow:
    """The setting of a speed rule that makes a flow; ``short`` where even the greatest setting falls short of it."""

    setting: Array
    point: OperatingPoint
    short: Flags


def point_at_speeds(system: ShipShore, speed_rpm: Array) -> OperatingPoint:
    """Return the operating point at given pump speeds (cases, kinds)."""
    found = balance_flow(system, speed_rpm, 0.7 * greatest_tested_flow(system.pumps.curves, speed_rpm))
    found = _bracket_the_rest(found, lambda rows: bracket_flow(take(system, rows), speed_rpm[rows]))
    return _point(system, found, found.free, speed_rpm, np.zeros_like(found.free))


def speed_for_flow(
    system: ShipShore, rule: SpeedRule, flow_m3_per_s: Array, near: tuple[Array, Array] | None = None
) -> SpeedForFlow:
    """Return the speed setting at which the pumps together deliver ``flow_m3_per_s`` (cases,).

    Where even the least setting delivers more, the point is throttled there and says how much head is
    taken away. Where the greatest falls short, the point is the one at the greatest setting. ``near`` are
    pump flows and a setting known to be close.
    """
    if near is None:
        share = greatest_tested_flow(system.pumps.curves, rule.greatest_rpm)
        near = share * (flow_m3_per_s / (system.pumps.count * share).sum(-1))[..., None], rule.greatest_setting
    found = balance_speed(system, rule, flow_m3_per_s, *near)
    found = _bracket_the_rest(
        found, lambda rows: bracket_speed(take(system, rows), take(rule, rows), flow_m3_per_s[rows])
    )
    speed = rule.speeds(found.free)[0]
    tolerance = 1e-9 + 1e-9 * flow_m3_per_s
    answer = SpeedForFlow(
        found.free,
        _point(system, found, flow_m3_per_s, speed, np.zeros_like(found.free)),
        found.lack_m3_per_s > tolerance,
    )
    answer = _replace_point(answer, answer.short, lambda rows: point_at_speeds(take(system, rows), speed[rows]))
    over = found.lack_m3_per_s < -tolerance
    return _replace_point(answer, over, lambda rows: _throttled(take(system, rows), speed[rows], flow_m3_per_s[rows]))


def _throttled(system: ShipShore, speed: Array, flow: Array) -> OperatingPoint:
    start = speed * 0.0 + (flow / np.maximum(system.pumps.count.sum(-1), 1.0))[..., None]
    found = balance_throttle(system, speed, flow, start)
    found = _bracket_the_rest(found, lambda rows: bracket_throttle(take(system, rows), speed[rows], flow[rows]))
    return _point(system, found, flow, speed, found.free)


def _bracket_the_rest(found: Balance, search: Callable[[np.ndarray], Balance]) -> Balance:
    rows = np.flatnonzero(~found.converged)
    return place(found, rows, search(rows)) if rows.size else found


def _replace_point(answer: SpeedForFlow, wanted: Flags, solve: Callable[[np.ndarray], OperatingPoint]) -> SpeedForFlow:
    rows = np.flatnonzero(wanted)
    if not rows.size:
        return answer
    return SpeedForFlow(answer.setting, place(answer.point, rows, solve(rows)), answer.short)


def _point(system: ShipShore, found: Balance, flow: Array, speed: Array, throttled: Array) -> OperatingPoint:
    head, _ = system.junction_head(flow)
    delivered, by_flow, _ = system.pumps.junction_head(found.pump_flow_m3_per_s, speed)
    running = (found.pump_flow_m3_per_s > 0) & (system.pumps.count > 0)
    unbalanced = np.where(running, np.abs(delivered - (head + throttled)[..., None]), 0.0).max(-1)
    missing = np.abs((system.pumps.count * found.pump_flow_m3_per_s).sum(-1) - flow)
    steepest = np.where(running, np.abs(by_flow), 0.0).max(-1)
    residual = unbalanced + missing * steepest
    return OperatingPoint(flow, found.pump_flow_m3_per_s, speed, head, throttled, residual, found.converged)
