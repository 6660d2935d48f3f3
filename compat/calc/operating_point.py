"""Where pumps and shore agree: total flow at given speeds, and the common speed for a given flow."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from compat.calc.system import ShipShore
from shared.calc.root import Array, Flags, find_falling_root
from vessels.calc.pump_group import FlowsAtHead, flows_at_head

FLOW_TOLERANCE_M3_PER_S = 1e-10


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
        return (self.least_rpm / self.scale).min(-1)

    @property
    def greatest_setting(self) -> Array:
        """Setting above which no pump goes any faster."""
        return (self.greatest_rpm / self.scale).max(-1)


def point_at_speeds(system: ShipShore, speed_rpm: Array) -> OperatingPoint:
    """Return the operating point at given pump speeds (cases, kinds).

    The bracket runs from no flow to the sum of what the pumps deliver against the head that the
    shore asks at no flow; more than that they can't deliver against a line that loses head.
    """
    guess: list[Array | None] = [None]

    def surplus(flow: Array) -> tuple[Array, Array]:
        head, slope = system.junction_head(flow)
        found = _pump_flows(system, head, speed_rpm, guess)
        count = system.pumps.count
        return (count * found.flow_m3_per_s).sum(-1) - flow, (count * found.by_head).sum(-1) * slope - 1.0

    nothing = np.zeros(system.density_kg_per_m3.shape)
    most, _ = surplus(nothing)
    root = find_falling_root(surplus, nothing, most, tolerance=FLOW_TOLERANCE_M3_PER_S)
    return _point(system, root.value, speed_rpm, nothing, guess)


@dataclass(frozen=True)
class SpeedForFlow:
    """The setting of a speed rule that makes a flow, and how pump flows move with total flow there."""

    setting: Array
    point: OperatingPoint
    pump_flow_slope: Array
    speed_slope: Array


def speed_for_flow(system: ShipShore, rule: SpeedRule, flow_m3_per_s: Array) -> SpeedForFlow:
    """Return the speed setting at which the pumps together deliver ``flow_m3_per_s`` (cases,).

    Where even the least setting delivers more, the point is throttled at the least setting and says how
    much head is taken away; where the greatest delivers less, it is left unconverged at the greatest.
    """
    head, head_slope = system.junction_head(flow_m3_per_s)
    count = system.pumps.count
    guess: list[Array | None] = [None]

    def shortage(setting: Array) -> tuple[Array, Array]:
        speed, slope = rule.speeds(setting)
        found = _pump_flows(system, head, speed, guess)
        return (
            flow_m3_per_s - (count * found.flow_m3_per_s).sum(-1),
            -(count * found.by_speed * slope).sum(-1),
        )

    least, greatest = rule.least_setting, rule.greatest_setting
    overrun, _ = shortage(least)
    low_end = overrun <= 0.0
    root = find_falling_root(
        shortage, least, np.where(low_end, least, greatest), start=greatest, tolerance=FLOW_TOLERANCE_M3_PER_S
    )
    setting = np.where(low_end, least, root.value)
    speed, speed_slope = rule.speeds(setting)
    throttled = _throttled_head(system, flow_m3_per_s, head, speed, low_end & (overrun < -FLOW_TOLERANCE_M3_PER_S))
    point = _point(system, flow_m3_per_s, speed, throttled, guess)
    flows = _pump_flows(system, head + throttled, speed, guess)
    by_setting = (count * flows.by_speed * speed_slope).sum(-1)
    with np.errstate(divide="ignore", invalid="ignore"):
        setting_slope = (1.0 - (count * flows.by_head).sum(-1) * head_slope) / by_setting
    setting_slope = np.where(by_setting > 0, setting_slope, 0.0)[..., None]
    pump_slope = flows.by_head * head_slope[..., None] + flows.by_speed * speed_slope * setting_slope
    return SpeedForFlow(setting, point, pump_slope, speed_slope * setting_slope)


def _throttled_head(system: ShipShore, flow: Array, head: Array, speed: Array, wanted: Flags) -> Array:
    """Return the head in m to be taken away so that pumps at ``speed`` deliver only ``flow``."""
    if not wanted.any():
        return np.zeros_like(head)
    count = system.pumps.count
    guess: list[Array | None] = [None]

    def surplus(extra: Array) -> tuple[Array, Array]:
        found = _pump_flows(system, head + extra, speed, guess)
        return (count * found.flow_m3_per_s).sum(-1) - flow, (count * found.by_head).sum(-1)

    at_rest, _, _ = system.pumps.junction_head(np.zeros_like(speed), speed)
    most = np.maximum(np.where(count > 0, at_rest, -np.inf).max(-1) - head, 0.0)
    root = find_falling_root(surplus, np.zeros_like(head), most, tolerance=FLOW_TOLERANCE_M3_PER_S)
    return np.where(wanted, root.value, 0.0)


def _pump_flows(system: ShipShore, head: Array, speed: Array, guess: list[Array | None]) -> FlowsAtHead:
    found = flows_at_head(system.pumps, np.broadcast_to(head[..., None], speed.shape), speed, start=guess[0])
    guess[0] = found.flow_m3_per_s
    return found


def _point(
    system: ShipShore, flow: Array, speed: Array, throttled: Array, guess: list[Array | None]
) -> OperatingPoint:
    head, _ = system.junction_head(flow)
    found = _pump_flows(system, head + throttled, speed, guess)
    delivered, by_head, _ = system.pumps.junction_head(found.flow_m3_per_s, speed)
    running = (found.flow_m3_per_s > 0) & (system.pumps.count > 0)
    unbalanced = np.where(running, np.abs(delivered - (head + throttled)[..., None]), 0.0).max(-1)
    missing = np.abs((system.pumps.count * found.flow_m3_per_s).sum(-1) - flow)
    steepest = np.where(running, np.abs(by_head), 0.0).max(-1)
    residual = unbalanced + missing * steepest
    converged = found.root.converged.all(-1) & (missing <= 1e-7)
    return OperatingPoint(flow, found.flow_m3_per_s, speed, head, throttled, residual, converged)
