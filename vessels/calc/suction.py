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


def npsh_required_m(limits: SuctionLimits, flow_m3_per_s: Array, speed_rpm: Array) -> Array:
    """Return NPSH required in m, carried to a speed by the square of its ratio (from memory: ANSI/HI 9.6.1)."""
    ratio = speed_rpm / limits.speed_rpm
    return ratio**2 * limits.required.evaluate(flow_m3_per_s / ratio)[0]


def suction_margin_m(group: PumpGroup, limits: SuctionLimits, flow_m3_per_s: Array, speed_rpm: Array) -> Array:
    """Return NPSH available less required in m; infinite where it is not known or the pump stands at no flow."""
    left = npsh_available_m(group, limits, flow_m3_per_s) - npsh_required_m(limits, flow_m3_per_s, speed_rpm)
    return np.where(limits.known & (flow_m3_per_s > 0), left, np.inf)
