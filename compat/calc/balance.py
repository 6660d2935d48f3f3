"""Pumps and shore balanced together by Newton's method, all flows of a case at once.

Unknown are the pumps' flows and one thing more: the total flow, the speed setting, or the head that is
throttled away. Each pump's equation holds its own flow only, so that a step costs one division a pump.
What does not settle here is left to the bracketed search, which is slower and always ends.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from compat.calc.system import ShipShore
from shared.calc.root import Array, Flags
from vessels.calc.pump_group import HEAD_TOLERANCE_M

FLOW_TOLERANCE_M3_PER_S = 1e-10
_MOST_ITERATIONS = 30
_LEAST_SLOPE = -1e-9  # m per m3/s: a curve that is flat for a moment still gives a finite step


@dataclass(frozen=True)
class SpeedRule:
    """Speeds that move together: speed = setting * scale, held between each pump's own least and greatest."""

    scale: Array
    least_rpm: Array
    greatest_rpm: Array

    def speeds(self, setting: Array) -> tuple[Array, Array]:
        """Return each pump's speed in rpm at a setting (cases,), and its slope with the setting."""
        wanted = setting[..., None] * self.scale
        free = (wanted >= self.least_rpm) & (wanted <= self.greatest_rpm)
        return np.clip(wanted, self.least_rpm, self.greatest_rpm), np.where(free, self.scale, 0.0)

    @property
    def least_setting(self) -> Array:
        """Setting below which no pump slows any further."""
        return np.asarray((self.least_rpm / self.scale).min(-1))

    @property
    def greatest_setting(self) -> Array:
        """Setting above which no pump goes any faster."""
        return np.asarray((self.greatest_rpm / self.scale).max(-1))


@dataclass(frozen=True)
class Balance:
    """Pump flows (cases, kinds) with the free thing (cases,); ``lack_m3_per_s`` > 0 where the flow is not reached."""

    pump_flow_m3_per_s: Array
    free: Array
    lack_m3_per_s: Array
    converged: Flags


def balance_flow(system: ShipShore, speed_rpm: Array, start: Array) -> Balance:
    """Balance at given speeds (cases, kinds): the total flow is free."""
    count = system.pumps.count
    flow, done = start, np.zeros(start.shape[:-1], dtype=bool)
    for _ in range(_MOST_ITERATIONS):
        head, head_slope = system.junction_head((count * flow).sum(-1))
        gap, yielding, _ = gaps(system, flow, speed_rpm, head)
        done = settled(gap, yielding)
        if done.all():
            break
        push = (count * yielding * gap).sum(-1)
        change = push / (1.0 - head_slope * (count * yielding).sum(-1))
        step = yielding * (gap + (head_slope * change)[..., None])
        flow = np.where(done[..., None], flow, np.maximum(flow + step, 0.0))
    total = (count * flow).sum(-1)
    return Balance(flow, total, np.zeros_like(total), done)


def balance_speed(system: ShipShore, rule: SpeedRule, flow_m3_per_s: Array, start: Array, setting: Array) -> Balance:
    """Balance at a given total flow (cases,): the speed setting is free between its least and greatest.

    The search starts from pump flows ``start`` and from ``setting``.
    """
    count = system.pumps.count
    head, _ = system.junction_head(flow_m3_per_s)
    least, greatest = rule.least_setting, rule.greatest_setting
    flow, lack = start, flow_m3_per_s
    setting = np.clip(setting, least, greatest)
    done = np.zeros(head.shape, dtype=bool)
    for _ in range(_MOST_ITERATIONS):
        speed, speed_slope = rule.speeds(setting)
        gap, yielding, by_speed = gaps(system, flow, speed, head)
        lack = flow_m3_per_s - (count * flow).sum(-1)
        at_end = ((setting <= least) & (lack <= 0)) | ((setting >= greatest) & (lack >= 0))
        done = settled(gap, yielding) & ((np.abs(lack) <= FLOW_TOLERANCE_M3_PER_S) | at_end)
        if done.all():
            break
        push = (count * yielding * gap).sum(-1)
        pull = (count * yielding * by_speed * speed_slope).sum(-1)
        change = np.where(pull < 0, push - lack, 0.0) / np.where(pull < 0, pull, 1.0)
        moved = np.clip(setting + change, least, greatest)
        step = yielding * (gap - by_speed * speed_slope * (moved - setting)[..., None])
        setting = np.where(done, setting, moved)
        flow = np.where(done[..., None], flow, np.maximum(flow + step, 0.0))
    return Balance(flow, setting, lack, done)


def balance_throttle(system: ShipShore, speed_rpm: Array, flow_m3_per_s: Array, start: Array) -> Balance:
    """Balance at given speeds and total flow: the head throttled away is free, never below zero."""
    count = system.pumps.count
    head, _ = system.junction_head(flow_m3_per_s)
    flow, throttled, lack = start, np.zeros_like(head), flow_m3_per_s
    done = np.zeros(head.shape, dtype=bool)
    for _ in range(_MOST_ITERATIONS):
        gap, yielding, _ = gaps(system, flow, speed_rpm, head + throttled)
        lack = flow_m3_per_s - (count * flow).sum(-1)
        done = settled(gap, yielding) & (np.abs(lack) <= FLOW_TOLERANCE_M3_PER_S)
        if done.all():
            break
        give = (count * yielding).sum(-1)
        change = np.where(give < 0, lack - (count * yielding * gap).sum(-1), 0.0) / np.where(give < 0, give, 1.0)
        moved = np.maximum(throttled + change, 0.0)
        step = yielding * (gap + (moved - throttled)[..., None])
        throttled = np.where(done, throttled, moved)
        flow = np.where(done[..., None], flow, np.maximum(flow + step, 0.0))
    return Balance(flow, throttled, lack, done)


def gaps(system: ShipShore, flow: Array, speed: Array, head: Array) -> tuple[Array, Array, Array]:
    """Return the head each pump lacks, how its flow yields to head (0 where it is shut), and head by speed."""
    given, by_flow, by_speed = system.pumps.junction_head(flow, speed)
    gap = head[..., None] - given
    shut = (system.pumps.count == 0) | ((flow <= 0) & (gap >= 0))
    yielding = np.where(shut, 0.0, 1.0 / np.minimum(by_flow, _LEAST_SLOPE))
    return gap, yielding, by_speed


def settled(gap: Array, yielding: Array) -> Flags:
    """Tell in which cases no running pump lacks head any more."""
    return np.asarray((np.abs(np.where(yielding < 0, gap, 0.0)) <= HEAD_TOLERANCE_M).all(-1))
