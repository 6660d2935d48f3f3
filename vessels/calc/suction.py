"""Net positive suction head: what a tank and its suction line offer, against what a pump requires."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shared.calc.curve import Pieces
from shared.calc.root import Array, find_falling_root
from vessels.calc.pump import pump_head
from vessels.calc.pump_group import HEAD_TOLERANCE_M, PumpGroup


@dataclass(frozen=True)
class SuctionLimits:
    """NPSH data as arrays of the pumps' shape; ``known`` is false where a pump's data is missing.

    ``absolute_head_m`` is atmosphere plus tank gas pressure less vapour pressure, as head, plus the height
    of the tank's surface over the pump. ``required`` gives NPSH required in m over flow in m3/s at ``speed_rpm``.
    """

    known: np.ndarray
    absolute_head_m: Array
    required: Pieces
    speed_rpm: Array


def npsh_available_m(group: PumpGroup, limits: SuctionLimits, flow_m3_per_s: Array) -> Array:
    """Return NPSH available in m: absolute head over vapour pressure less suction losses (ANSI/HI 9.6.1)."""
    return limits.absolute_head_m - group.suction_loss(flow_m3_per_s)[0]


def npsh_required_m(limits: SuctionLimits, flow_m3_per_s: Array, speed_rpm: Array) -> Array:
    """Return NPSH required in m, carried to a speed by the square of its ratio (from memory: ANSI/HI 9.6.1)."""
    ratio = speed_rpm / limits.speed_rpm
    return ratio**2 * limits.required.evaluate(flow_m3_per_s / ratio)[0]


def suction_margin_m(group: PumpGroup, limits: SuctionLimits, flow_m3_per_s: Array, speed_rpm: Array) -> Array:
    """Return NPSH available less required in m; infinite where it is not known."""
    left = npsh_available_m(group, limits, flow_m3_per_s) - npsh_required_m(limits, flow_m3_per_s, speed_rpm)
    return np.where(limits.known, left, np.inf)


def suction_margin_slopes(
    group: PumpGroup, limits: SuctionLimits, flow_m3_per_s: Array, speed_rpm: Array
) -> tuple[Array, Array]:
    """Return the slopes of the suction margin with flow in m per m3/s and with speed in m per rpm; 0 where unknown."""
    ratio = speed_rpm / limits.speed_rpm
    required, slope = limits.required.evaluate(flow_m3_per_s / ratio)
    by_flow = -group.suction_loss(flow_m3_per_s)[1] - ratio * slope
    by_speed = -(2.0 * ratio * required - flow_m3_per_s * slope) / limits.speed_rpm
    return np.where(limits.known, by_flow, 0.0), np.where(limits.known, by_speed, 0.0)


def level_to_spare_m(
    group: PumpGroup,
    limits: SuctionLimits,
    flow_m3_per_s: Array,
    speed_rpm: Array,
    greatest_rpm: Array,
    asked_head_m: Array | None = None,
) -> Array:
    """Return how far in m each tank's surface may fall until NPSH available meets what is required at the same flow.

    The lift lost is made up by speed, up to ``greatest_rpm`` (all arrays of the pumps' shape), and more speed
    requires more; beyond it the flow falls, which is left out. ``asked_head_m`` is the head that the pumps have to
    give now: what they give at ``speed_rpm`` where it is None; where it is less, the rest is throttled away at first.
    Below zero where the surface is too low already.
    """
    head_now = pump_head(group.curves, flow_m3_per_s, speed_rpm)[0] if asked_head_m is None else asked_head_m
    available = npsh_available_m(group, limits, flow_m3_per_s)

    def margin(speed: Array) -> tuple[Array, Array]:
        head, _, by_speed = pump_head(group.curves, flow_m3_per_s, speed)
        ratio = speed / limits.speed_rpm
        required, slope = limits.required.evaluate(flow_m3_per_s / ratio)
        by_ratio = 2.0 * ratio * required - flow_m3_per_s * slope
        return available - (head - head_now) - ratio**2 * required, -by_speed - by_ratio / limits.speed_rpm

    short_now, short_at_most = margin(speed_rpm)[0] <= 0.0, margin(greatest_rpm)[0] >= 0.0
    most = np.where(short_now, speed_rpm, greatest_rpm)
    least = np.where(short_at_most & ~short_now, greatest_rpm, speed_rpm)
    speed = find_falling_root(margin, least, most, start=speed_rpm, tolerance=HEAD_TOLERANCE_M).value
    return available - npsh_required_m(limits, flow_m3_per_s, speed)


def level_to_stop_m(
    group: PumpGroup,
    limits: SuctionLimits,
    flow_m3_per_s: Array,
    junction_head_m: Array,
    least_rpm: Array,
    greatest_rpm: Array,
) -> Array:
    """Return how far in m each tank's surface may fall until a pump at its least flow loses its suction or its lift.

    ``flow_m3_per_s`` is each pump's least continuous flow, ``junction_head_m`` (cases,) what is needed at the junction
    then. From ``least_rpm`` the speed rises with the lift, up to ``greatest_rpm``: beyond, the head is not reached.
    """
    brought, _, _ = group.junction_head(flow_m3_per_s, greatest_rpm)
    lift_left = brought - junction_head_m[..., None]
    asked = pump_head(group.curves, flow_m3_per_s, greatest_rpm)[0] - lift_left
    spare = level_to_spare_m(group, limits, flow_m3_per_s, least_rpm, greatest_rpm, asked)
    return np.minimum(spare, lift_left)


def flow_within_suction_m3_per_s(
    group: PumpGroup, limits: SuctionLimits, speed_rpm: Array, most_m3_per_s: Array
) -> Array:
    """Return the highest flow in m3/s of each pump that its suction allows at a speed and the tanks' present level.

    It is ``most_m3_per_s`` where suction allows that or is not known, and 0 where it allows nothing.
    """

    def margin(flow: Array) -> tuple[Array, Array]:
        return suction_margin_m(group, limits, flow, speed_rpm), suction_margin_slopes(group, limits, flow, speed_rpm)[
            0
        ]

    none = np.zeros_like(most_m3_per_s)
    most = np.where(limits.known, most_m3_per_s, none)
    found = find_falling_root(margin, none, most, start=most, tolerance=HEAD_TOLERANCE_M).value
    return np.where(limits.known, found, most_m3_per_s)
