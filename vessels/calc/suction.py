"""Net positive suction head: what a tank and its suction line offer, against what a pump requires."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shared.calc.curve import Pieces
from shared.calc.root import Array
from vessels.calc.pump_group import PumpGroup


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


def npsh_required_m(limits: SuctionLimits, flow_m3_per_s: Array, speed_rpm: Array) -> tuple[Array, Array, Array]:
    """Return NPSH required in m and its slopes by flow and speed, carried to a speed by the square of its ratio."""
    ratio = speed_rpm / limits.speed_rpm
    value, slope = limits.required.evaluate(flow_m3_per_s / ratio)
    return ratio**2 * value, ratio * slope, (2.0 * ratio * value - flow_m3_per_s * slope) / limits.speed_rpm


def suction_margin(
    group: PumpGroup, limits: SuctionLimits, flow_m3_per_s: Array, speed_rpm: Array
) -> tuple[Array, Array, Array]:
    """Return NPSH available less required in m and its slopes by flow and speed; infinite where not known."""
    loss, loss_slope = group.suction_loss(flow_m3_per_s)
    required, by_flow, by_speed = npsh_required_m(limits, flow_m3_per_s, speed_rpm)
    known = limits.known & (flow_m3_per_s > 0)
    margin = np.where(known, limits.absolute_head_m - loss - required, np.inf)
    return margin, np.where(known, -loss_slope - by_flow, 0.0), np.where(known, -by_speed, 0.0)
