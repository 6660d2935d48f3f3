"""Kinematic viscosity of an oil over temperature from measured points. No blends, no wax, Newtonian liquids only.

ASTM D341 (-09 and -20): log10 log10 Z = A - B log10 T with Z = ν + 0.7 + exp(-1.47 - 1.84 ν - 0.51 ν²), ν in mm²/s,
T in K. The exponential is kept everywhere: it vanishes above 2 mm²/s, where the standard drops it, so there is no
jump there. The standard's line holds between cloud point and initial boiling point.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shared.calc.errors import InputError, OutOfRangeError
from shared.calc.ranges import Numbers, checked
from shared.calc.root import Array, Flags
from shared.calc.units import from_si

SOURCE = "ASTM D341 line through the measured points"
SLOPE_SOURCE = "ASTM D341 line through one measured point with the stated slope"
ONE_POINT_SOURCE = "measured, at the measured temperature only"

_LEAST_MM2_S, _GREATEST_MM2_S = 0.21, 2e7  # range of D341's Z, from memory of the standard
_MM2_S = 1e-6  # m²/s
_LEAST_C, _GREATEST_C = -70.0, 340.0  # low end from memory of the charts; high end read in D341-09, 1.2
_LEAST_SLOPE, _GREATEST_SLOPE = 1.0, 6.0  # our own bounds; petroleum oils lie about 2.8 to 4.2 (from memory)
_LEAST_SPAN_K = 5.0  # our own; closer points turn their own error into slope
SAME_TEMPERATURE_K = 0.05  # our own; finer than a tank thermometer reads
_NEWTON_STEPS = 8  # convex and rising, started to the right of the root: the error squares with each step


@dataclass(frozen=True)
class ViscosityPoint:
    """A measured kinematic viscosity; numbers, or arrays that fit together."""

    temperature_k: Numbers
    kinematic_viscosity_m2_per_s: Numbers


@dataclass(frozen=True)
class ViscosityLine:
    """log10 log10 Z = intercept - slope * log10 T, with the temperatures in K between which it was measured."""

    intercept: Array
    slope: Array
    coldest_point_k: Array
    warmest_point_k: Array
    source: str


@dataclass(frozen=True)
class ViscosityAnswer:
    """Kinematic viscosity in m²/s; not a number where not ``decided``. ``beyond_points`` marks extrapolation."""

    kinematic_viscosity_m2_per_s: Array
    decided: Flags
    beyond_points: Flags
    source: str
    reason: str = ""


def viscosity_at(
    points: Sequence[ViscosityPoint],
    temperature_k: Numbers,
    *,
    stated_slope: Numbers | None = None,
    pour_point_k: Numbers | None = None,
) -> ViscosityAnswer:
    """Return the kinematic viscosity at a temperature [K] from one or two measured points.

    One point answers at its own temperature (within 0.05 K) and is not decided elsewhere, unless ``stated_slope``
    (the B of D341, 1 to 6) is given. Temperatures -70 to 340 °C, viscosities 0.21 to 2e7 mm²/s, two points at least
    5 K apart. Raises InputError for another count of points or points that do not fall with temperature,
    OutOfRangeError outside the ranges or below ``pour_point_k`` [K]. Source: see the head of this file.
    """
    if len(points) not in (1, 2):
        raise InputError(
            f"{len(points)} viscosity points are given; allowed: 1 or 2. Keep those nearest the pumping temperature."
        )
    if len(points) == 2 and stated_slope is not None:
        raise InputError("Two viscosity points and a slope are given; state a second point or a slope, one of the two.")
    if len(points) == 2:
        return viscosity_on(line_through(*points), temperature_k, pour_point_k=pour_point_k)
    if stated_slope is not None:
        return viscosity_on(line_with_slope(points[0], stated_slope), temperature_k, pour_point_k=pour_point_k)
    return _at_own_temperature(points[0], temperature_k, pour_point_k)


def line_through(first: ViscosityPoint, second: ViscosityPoint) -> ViscosityLine:
    """Return the line through two measured points, in any order; limits and errors as in ``viscosity_at``."""
    first_k, first_z = _checked_point(first)
    second_k, second_z = _checked_point(second)
    if np.any(np.abs(second_k - first_k) < _LEAST_SPAN_K - SAME_TEMPERATURE_K):
        raise InputError(
            f"The two viscosity points lie less than {_LEAST_SPAN_K:g} K apart; give points further apart,"
            " or one point and a slope."
        )
    slope = (first_z - second_z) / (np.log10(second_k) - np.log10(first_k))
    if np.any(slope <= 0.0):
        raise InputError("Viscosity does not fall from the colder to the warmer point; correct the two points.")
    return ViscosityLine(
        first_z + slope * np.log10(first_k), slope, np.minimum(first_k, second_k), np.maximum(first_k, second_k), SOURCE
    )


def line_with_slope(point: ViscosityPoint, stated_slope: Numbers) -> ViscosityLine:
    """Return the line through one measured point with a stated slope B [-], 1 to 6; errors as in ``viscosity_at``."""
    temperature, double_log = _checked_point(point)
    slope = checked("Slope of viscosity (B of ASTM D341)", stated_slope, "1", _LEAST_SLOPE, _GREATEST_SLOPE)
    return ViscosityLine(double_log + slope * np.log10(temperature), slope, temperature, temperature, SLOPE_SOURCE)


def viscosity_on(
    line: ViscosityLine, temperature_k: Numbers, *, pour_point_k: Numbers | None = None
) -> ViscosityAnswer:
    """Return the kinematic viscosity on a line at a temperature [K]; limits and errors as in ``viscosity_at``."""
    temperature = _checked_temperature(temperature_k, pour_point_k)
    double_log = line.intercept - line.slope * np.log10(temperature)
    _check_range_of_line(double_log)
    viscosity = _viscosity_of(10.0 ** (10.0**double_log)) * _MM2_S
    slack = SAME_TEMPERATURE_K
    beyond = (temperature < line.coldest_point_k - slack) | (temperature > line.warmest_point_k + slack)
    return ViscosityAnswer(viscosity, np.ones_like(viscosity, dtype=bool), beyond, line.source)


def _at_own_temperature(point: ViscosityPoint, temperature_k: Numbers, pour_point_k: Numbers | None) -> ViscosityAnswer:
    measured_k, _ = _checked_point(point)
    temperature = _checked_temperature(temperature_k, pour_point_k)
    viscosity = np.array(point.kinematic_viscosity_m2_per_s, dtype=float)
    decided = np.abs(temperature - measured_k) <= SAME_TEMPERATURE_K
    reason = ""
    if not np.all(decided):
        reason = (
            "Viscosity was measured at one temperature only; ask for the viscosity at the pumping temperature,"
            " or for a second measured point."
        )
    return ViscosityAnswer(
        np.where(decided, viscosity, np.nan), decided, np.zeros_like(decided), ONE_POINT_SOURCE, reason
    )


def _checked_point(point: ViscosityPoint) -> tuple[Array, Array]:
    """Return the temperature in K and log10 log10 Z of a measured point."""
    temperature = checked("Temperature of a viscosity point", point.temperature_k, "°C", _LEAST_C, _GREATEST_C)
    viscosity = checked(
        "Measured viscosity", point.kinematic_viscosity_m2_per_s, "mm²/s", _LEAST_MM2_S, _GREATEST_MM2_S
    )
    return temperature, _double_log(viscosity / _MM2_S)


def _checked_temperature(temperature_k: Numbers, pour_point_k: Numbers | None) -> Array:
    temperature = checked("Temperature", temperature_k, "°C", _LEAST_C, _GREATEST_C)
    if pour_point_k is not None and np.any(temperature < pour_point_k):
        raise OutOfRangeError(
            f"Temperature is below the pour point of the oil ({from_si(float(np.max(pour_point_k)), '°C'):.1f} °C),"
            " where the oil is not a plain liquid; heat it, or ask for a measured viscosity."
        )
    return temperature


def _check_range_of_line(double_log: Array) -> None:
    low, high = _double_log(np.array([_LEAST_MM2_S, _GREATEST_MM2_S]))
    if np.any((double_log < low - 1e-9) | (double_log > high + 1e-9)):
        raise OutOfRangeError(
            f"Viscosity at this temperature leaves the range of ASTM D341, {_LEAST_MM2_S:g} to {_GREATEST_MM2_S:,.0f}"
            " mm²/s; use a viscosity measured at the pumping temperature instead."
        )


def _double_log(viscosity_mm2_s: Array) -> Array:
    return np.log10(np.log10(viscosity_mm2_s + 0.7 + _low_end_term(viscosity_mm2_s)))


def _low_end_term(viscosity_mm2_s: Array) -> Array:
    return np.exp(-1.47 - 1.84 * viscosity_mm2_s - 0.51 * viscosity_mm2_s**2)


def _viscosity_of(z: Array) -> Array:
    """Invert Z(ν) exactly, so that measured points come back as they were given (D341's own inverse is a fit)."""
    viscosity = z - 0.7
    for _ in range(_NEWTON_STEPS):
        term = _low_end_term(viscosity)
        slope = 1.0 - (1.84 + 1.02 * viscosity) * term
        viscosity = viscosity - (viscosity + 0.7 + term - z) / slope
    return viscosity
