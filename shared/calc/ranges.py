"""The one gatekeeper for numbers that enter a published correlation: finite, within its range, never mutated."""

from __future__ import annotations

import numpy as np

from shared.calc.errors import OutOfRangeError
from shared.calc.root import Array
from shared.calc.units import from_si, to_si

Numbers = Array | float
_SLACK = 1e-9  # relative; a limit given in °C or mm²/s is not exact once it is in K or m²/s


def checked(name: str, values_si: Numbers, unit: str, least: float, greatest: float, advice: str = "") -> Array:
    """Return ``values_si`` as a new float array, or raise OutOfRangeError for the first value outside.

    ``least`` and ``greatest`` are in ``unit``, a symbol of the list of units, as is the sentence;
    ``advice`` is added to it. A value that is not finite is outside.
    """
    values = np.array(values_si, dtype=float)
    low, high = to_si(least, unit), to_si(greatest, unit)
    outside = ~((values >= low - _SLACK * abs(low)) & (values <= high + _SLACK * abs(high)))
    if outside.any():
        raise OutOfRangeError(_sentence(name, values[outside].flat[0], unit, least, greatest, advice))
    return values


def _sentence(name: str, value_si: float, unit: str, least: float, greatest: float, advice: str) -> str:
    shown_unit = "" if unit == "1" else f" {unit}"
    allowed = f"{least:,.10g} to {greatest:,.10g}{shown_unit}"
    if not np.isfinite(value_si):
        return f"{name} is {value_si}, which is not a finite number; allowed: {allowed}.{_spaced(advice)}"
    return f"{name} is {from_si(value_si, unit):,.6g}{shown_unit}; allowed: {allowed}.{_spaced(advice)}"


def _spaced(advice: str) -> str:
    return f" {advice}" if advice else ""
