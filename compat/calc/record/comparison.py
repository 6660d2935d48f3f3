"""Readings beside what was expected: the range in which each may lie, and which of them drifted.

A reading may depart from what is expected by the agreed band, and in any case by what the gauges themselves leave
unsure. The second is set so that, with gauges as sure as stated, a reading exactly on plan raises an alarm no more
often than the stated false-alarm rate, over all its channels taken together (Šidák's correction; normal errors).
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from compat.calc.record.gauges import Gauges, by_speed, gauges_at
from compat.calc.system import ShipShore
from shared.calc.root import Array, Flags, find_falling_root
from shared.calc.units import GRAVITY_M_PER_S2
from vessels.calc.pump import PumpCurves, greatest_tested_flow, pump_head

SURE = 1.959963984540054  # standard deviations either side that hold 95 of 100 (normal distribution)


@dataclass(frozen=True)
class Accuracy:
    """How sure gauges are: 95 of 100 readings lie within these of the truth."""

    pressure_pa: float
    flow_share: float
    speed_rpm: float


@dataclass(frozen=True)
class Rule:
    """When a reading counts as drifted: beyond the agreed band (a share of what is expected) and the gauges' own."""

    band: float
    false_alarm_rate: float


@dataclass(frozen=True)
class Compared:
    """Channels (rows, 2 + 2 pumps): expected, the range allowed, the standard deviation, how far off, and drift."""

    expected: Array
    low: Array
    high: Array
    deviation: Array
    sigma: Array
    drifted: Flags


def compare(system: ShipShore, speed_rpm: Array, observed: Gauges, accuracy: Accuracy, rule: Rule) -> Compared:
    """Compare readings with what the model expects at the speeds that were read; NaN was not read."""
    expected = gauges_at(system, speed_rpm).channels()
    read = observed.channels()
    sigma = np.sqrt(np.diagonal(covariances(system, speed_rpm, expected, accuracy), axis1=1, axis2=2))
    count = np.maximum(np.isfinite(read).sum(-1), 1)
    margin = np.maximum(sigma * _quantile(rule.false_alarm_rate, count)[:, None], rule.band * np.abs(expected))
    deviation = read - expected
    with np.errstate(invalid="ignore"):
        drifted = np.abs(deviation) > margin
    return Compared(expected, expected - margin, expected + margin, deviation, sigma, drifted)


def own_sigma(expected: Array, accuracy: Accuracy) -> Array:
    """Return the standard deviation of each channel's own gauge, in SI."""
    sigma = np.full(expected.shape, accuracy.pressure_pa / SURE)
    sigma[..., 0] = np.maximum(accuracy.flow_share * np.abs(expected[..., 0]), 1e-9) / SURE
    return sigma


def covariances(system: ShipShore, speed_rpm: Array, expected: Array, accuracy: Accuracy) -> Array:
    """Return the covariance of channels in SI (rows, channels, channels): own gauges, and speeds read wrongly."""
    own = own_sigma(expected, accuracy)
    slope = by_speed(system, speed_rpm) * (accuracy.speed_rpm / SURE)
    together = np.einsum("rcp,rdp->rcd", slope, slope)
    diagonal = np.zeros_like(together)
    place = np.arange(own.shape[-1])
    diagonal[:, place, place] = own**2
    return np.asarray(together + diagonal)


def _quantile(rate: float, count: Array) -> Array:
    """Return how many standard deviations each of ``count`` channels may be off at a rate for all of them."""
    each = 1.0 - (1.0 - rate) ** (1.0 / count)
    return np.array([NormalDist().inv_cdf(1.0 - one / 2.0) for one in each])


@dataclass(frozen=True)
class FlowFromHead:
    """Flow in m3/s that a pump's curve gives for the head between its gauges, with its standard deviation.

    NaN where gauges or speed were not read; ``flat`` where the curve is too flat there for the gauges to tell.
    """

    head_m: Array
    flow_m3_per_s: Array
    sigma_m3_per_s: Array
    flat: Flags


def flow_from_head(
    curves: PumpCurves, suction_pa: Array, discharge_pa: Array, speed_rpm: Array, density: Array, accuracy: Accuracy
) -> FlowFromHead:
    """Return each pump's flow from its curve at its speed and the head between its gauges; all (rows, pumps)."""
    weight = density * GRAVITY_M_PER_S2
    head = (discharge_pa - suction_pa) / weight
    known = np.isfinite(head) & (speed_rpm > 0)
    wanted, speed = np.where(known, head, 0.0), np.where(speed_rpm > 0, speed_rpm, 1.0)

    def surplus(flow: Array) -> tuple[Array, Array]:
        value, slope, _ = pump_head(curves, flow, speed)
        return value - wanted, slope

    most = 1.3 * greatest_tested_flow(curves, speed)
    found = find_falling_root(surplus, np.zeros_like(most), most, tolerance=1e-6).value
    _, by_flow, by_rpm = pump_head(curves, found, speed)
    sigma_head = np.hypot(np.sqrt(2.0) * accuracy.pressure_pa / SURE / weight, by_rpm * accuracy.speed_rpm / SURE)
    sigma = sigma_head / np.maximum(-by_flow, 1e-9)
    flow = np.where(known, found, np.nan)
    return FlowFromHead(np.where(known, head, np.nan), flow, np.where(known, sigma, np.nan), known & (sigma > found))
