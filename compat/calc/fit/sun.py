"""Sunrise and sunset, to a few minutes. Angles in degrees, hours of the day in UTC; arrays.

Low-precision formulae for the sun's declination and the equation of time (Spencer 1971, as NOAA's solar calculation
details give them; from memory). The sun's centre stands 0.833° below the horizon at sunrise (half its width and the
usual refraction).
"""

from __future__ import annotations

import numpy as np

from shared.calc.root import Array

_HORIZON_DEGREES = 90.833
_DAYS = 365.0


def daylight_hours(day_of_year: Array, latitude_degrees: Array, longitude_degrees: Array) -> tuple[Array, Array]:
    """Return sunrise and sunset in hours UTC, which may lie below 0 or above 24.

    A polar night gives a day of no length about noon, a polar day one of 24 hours.
    """
    angle = 2.0 * np.pi / _DAYS * (np.asarray(day_of_year, dtype=float) - 1.0)
    equation_min = 229.18 * (
        0.000075
        + 0.001868 * np.cos(angle)
        - 0.032077 * np.sin(angle)
        - 0.014615 * np.cos(2 * angle)
        - 0.040849 * np.sin(2 * angle)
    )
    declination = (
        0.006918
        - 0.399912 * np.cos(angle)
        + 0.070257 * np.sin(angle)
        - 0.006758 * np.cos(2 * angle)
        + 0.000907 * np.sin(2 * angle)
        - 0.002697 * np.cos(3 * angle)
        + 0.00148 * np.sin(3 * angle)
    )
    latitude = np.radians(latitude_degrees)
    cosine = np.cos(np.radians(_HORIZON_DEGREES)) / (np.cos(latitude) * np.cos(declination)) - np.tan(
        latitude
    ) * np.tan(declination)
    half_day_h = np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))) / 15.0
    noon_h = 12.0 - longitude_degrees / 15.0 - equation_min / 60.0
    return noon_h - half_day_h, noon_h + half_day_h


def hours_until_daylight(hour: Array, sunrise_h: Array, sunset_h: Array) -> Array:
    """Return how long to wait from an hour of the day until the sun is up; 0 while it is."""
    into_day = np.mod(hour - sunrise_h, 24.0)
    return np.where(into_day <= sunset_h - sunrise_h, 0.0, 24.0 - into_day)
