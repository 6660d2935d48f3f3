"""Speeds held to the steps of their drives: never above a limit, and throttled only where no step keeps it.

Slowing one pump down raises the flow of the others, so that pumps of unlike steps can pass a limit of their own
although each turns slower than was found. Such a pump is slowed further, by as many of its steps as it takes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from compat.calc.achievable import Achievable, FlowLimits, achievable_flow
from compat.calc.balance import FLOW_TOLERANCE_M3_PER_S, SpeedRule
from compat.calc.operating_point import OperatingPoint, point_at_speeds
from compat.calc.pump_limits import ROOM_TOLERANCE, excess_of_each
from compat.calc.system import ShipShore
from shared.calc.arrays import place, take
from shared.calc.root import Array, Flags

_FREE_STEP_RPM = 0.1  # a drive without steps that has to give way alone is slowed in these: finer than it is set
_ROUNDS_A_PUMP = 4


@dataclass(frozen=True)
class DriveSteps:
    """Steps in which drives are set, as arrays of shape (cases, kinds): 0 is free; they count from ``least_rpm``."""

    step_rpm: Array
    least_rpm: Array


@dataclass(frozen=True)
class _Cases:
    system: ShipShore
    rule: SpeedRule
    limits: FlowLimits
    steps: DriveSteps

    def rows(self, rows: np.ndarray) -> _Cases:
        return take(self, rows)

    def excess(self, speed_rpm: Array) -> Array:
        """Return how far each pump is past its own limits at given speeds."""
        return self.excess_at(point_at_speeds(self.system, speed_rpm))

    def excess_at(self, point: OperatingPoint) -> Array:
        """Return how far each pump is past its own limits at an operating point."""
        return excess_of_each(self.system, self.limits, point.pump_flow_m3_per_s, point.speed_rpm)


def point_on_steps(
    system: ShipShore, rule: SpeedRule, limits: FlowLimits, steps: DriveSteps, found: Achievable
) -> OperatingPoint:
    """Return the point that drives with steps can be set to: at most the flow found, within every limit.

    A case without steps keeps its point.
    """
    rows = np.flatnonzero((steps.step_rpm > 0).any(-1))
    if not rows.size:
        return found.point
    cases = _Cases(take(system, rows), take(rule, rows), take(limits, rows), take(steps, rows))
    speed = _slowed(cases, _nearest_below(take(found, rows), cases))
    point = point_at_speeds(cases.system, speed)
    past = cases.excess_at(point).max(-1) > ROOM_TOLERANCE
    over = np.flatnonzero(past | (point.flow_m3_per_s > found.point.flow_m3_per_s[rows] + FLOW_TOLERANCE_M3_PER_S))
    if over.size:
        point = place(point, over, _throttled(cases.rows(over), speed[over]))
    return place(found.point, rows, point)


def _nearest_below(found: Achievable, cases: _Cases) -> Array:
    """Return the nearest speeds below; drives without steps slow down with the rest, so as not to take over flow."""
    speed, step, least = found.point.speed_rpm, cases.steps.step_rpm, cases.steps.least_rpm
    many = np.floor((speed - least) / np.where(step > 0, step, 1.0) + 1e-9)
    held = np.where(step > 0, least + many * step, speed)
    slowed: Array = np.where(step > 0, held, cases.rule.speeds(found.setting * (held / speed).min(-1))[0])
    return slowed


def _slowed(cases: _Cases, speed: Array) -> Array:
    """Slow the pump that is furthest past its limits, one after the other, until none is or all are at their least."""
    speed = speed.copy()
    for _ in range(_ROUNDS_A_PUMP * speed.shape[-1]):
        excess = np.where(speed > cases.steps.least_rpm, cases.excess(speed), -np.inf)
        over = np.flatnonzero(excess.max(-1) > ROOM_TOLERANCE)
        if not over.size:
            break
        worst = excess[over].argmax(-1)
        speed[over, worst] = _speed_within(cases.rows(over), speed[over], worst)
    return speed


def _speed_within(cases: _Cases, speed: Array, pump: np.ndarray) -> Array:
    """Return the highest step of one pump in each case at which it is within its limits, by halving; else its least."""
    row = np.arange(speed.shape[0])
    least, step = cases.steps.least_rpm[row, pump], cases.steps.step_rpm[row, pump]
    unit = np.where(step > 0, step, _FREE_STEP_RPM)
    top = speed[row, pump]

    def lowered(steps: Array) -> Array:
        slower: Array = np.maximum(top - steps * unit, least)
        return slower

    def within(steps: Array) -> Flags:
        tried = speed.copy()
        tried[row, pump] = lowered(steps)
        return np.asarray(cases.excess(tried)[row, pump] <= ROOM_TOLERANCE)

    few, many = np.zeros_like(top), np.ceil((top - least) / unit)
    while (many - few > 1).any():
        middle = np.floor((few + many) / 2.0)
        inside = within(middle)
        few, many = np.where(inside, few, middle), np.where(inside, middle, many)
    return lowered(many)


def _throttled(cases: _Cases, speed: Array) -> OperatingPoint:
    """Return the highest flow within the limits at these very speeds: what is too much is throttled away."""
    return achievable_flow(cases.system, SpeedRule(speed, speed, speed), cases.limits).point
