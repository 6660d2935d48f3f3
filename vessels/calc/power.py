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


def shaft_power_slopes(
    data: PowerData,
    flow_m3_per_s: Array,
    head: tuple[Array, Array, Array],
    speed_rpm: Array,
    density_kg_per_m3: Array,
) -> tuple[Array, Array]:
    """Return the slopes of the shaft power with flow in W per m3/s and with speed in W per rpm; 0 where unknown.

    ``head`` is the pump's head in m with its slopes by flow and by speed.
    """
    height, by_flow, by_speed = head
    share = data.speed_rpm / speed_rpm
    stated, slope = data.efficiency.evaluate(flow_m3_per_s * share)
    efficiency = np.maximum(stated, _LEAST_EFFICIENCY)
    slope = np.where(stated > _LEAST_EFFICIENCY, slope, 0.0)
    weight = density_kg_per_m3 * GRAVITY_M_PER_S2 / efficiency
    lost = flow_m3_per_s * height * slope * share / efficiency
    with_flow = weight * (height + flow_m3_per_s * by_flow - lost)
    with_speed = weight * flow_m3_per_s * (by_speed + lost / speed_rpm)
    return np.where(data.known, with_flow, 0.0), np.where(data.known, with_speed, 0.0)
