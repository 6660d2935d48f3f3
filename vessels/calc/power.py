"""Shaft power of a pump, and the limit of its driver."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shared.calc.curve import Pieces
from shared.calc.root import Array
from shared.calc.units import GRAVITY_M_PER_S2

_LEAST_EFFICIENCY = 0.01  # keeps the power finite beyond the stated points, where the curve is not trusted anyway


@dataclass(frozen=True)
class PowerData:
    """Efficiency (a fraction) over flow in m3/s at ``speed_rpm``, and the driver's limit in W (infinite: no limit).

    Arrays have the pumps' shape; ``known`` is false where no efficiency is stated.
    """

    known: np.ndarray
    efficiency: Pieces
    speed_rpm: Array
    limit_w: Array


def shaft_power_w(
    data: PowerData, flow_m3_per_s: Array, head_m: Array, speed_rpm: Array, density_kg_per_m3: Array
) -> Array:
    """Return the shaft power in W, not a number where it is not known: P = rho g Q H / eta (Crane TP-410).

    Efficiency is carried to other speeds at the same share of flow over speed.
    """
    carried = flow_m3_per_s * data.speed_rpm / speed_rpm
    efficiency = np.maximum(data.efficiency.evaluate(carried)[0], _LEAST_EFFICIENCY)
    power = density_kg_per_m3 * GRAVITY_M_PER_S2 * flow_m3_per_s * head_m / efficiency
    return np.where(data.known, power, np.nan)
