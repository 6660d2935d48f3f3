"""Pressure rating of a steel flange over temperature, from published tables. Nothing on gaskets, bolts or surge.

Straight lines between the tables' temperatures, which ASME B16.5 allows; never outside them and never between
classes. A lower figure on the maker's plate, hose or arm wins.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from shared.calc.errors import InputError
from shared.calc.ranges import Numbers, checked
from shared.calc.root import Array
from shared.calc.units import ZERO_CELSIUS_K, to_si


@dataclass(frozen=True)
class FlangeTable:
    """Ratings in bar gauge at temperatures in °C; ``confirmed`` is False where the standard was not read."""

    key: str
    temperatures_c: tuple[float, ...]
    ratings_bar_gauge: tuple[float, ...]
    source: str
    confirmed: bool


@dataclass(frozen=True)
class FlangeAnswer:
    """Highest working pressure allowed, in Pa above atmosphere."""

    rating_pa_gauge: Array
    key: str
    source: str
    confirmed: bool


_B16_5_TEMPERATURES = (-29.0, 38.0, 50.0, 100.0, 150.0, 200.0, 250.0, 300.0)
_B16_5_SOURCE = "ASME B16.5-2009, table 2-1.1, material group 1.1 (A105, A216 WCB, A350 LF2)"
_EN_TEMPERATURES = (-10.0, 50.0, 100.0, 150.0, 200.0, 250.0, 300.0)
_EN_SOURCE = "EN 1092-1, annex G, material group 3E0, from memory; check it against the standard"

_ALL_TABLES = (
    FlangeTable(
        "class 150", _B16_5_TEMPERATURES, (19.6, 19.6, 19.2, 17.7, 15.8, 13.8, 12.1, 10.2), _B16_5_SOURCE, True
    ),
    FlangeTable(
        "class 300", _B16_5_TEMPERATURES, (51.1, 51.1, 50.1, 46.6, 45.1, 43.8, 41.9, 39.8), _B16_5_SOURCE, True
    ),
    FlangeTable("PN 10", _EN_TEMPERATURES, (10.0, 10.0, 9.2, 8.8, 8.3, 7.6, 6.9), _EN_SOURCE, False),
    FlangeTable("PN 16", _EN_TEMPERATURES, (16.0, 16.0, 14.8, 14.0, 13.3, 12.1, 11.0), _EN_SOURCE, False),
)
FLANGES = MappingProxyType({table.key: table for table in _ALL_TABLES})


def flange_rating(key: str, temperature_k: Numbers) -> FlangeAnswer:
    """Return the rating of a flange of the closed list ``FLANGES`` at a temperature [K] or an array of them.

    Class 150 and 300: -29 to 300 °C; PN 10 and PN 16: -10 to 300 °C. Raises OutOfRangeError outside, InputError for
    another key. Sources: the tables above.
    """
    if key not in FLANGES:
        raise InputError(f"Flange “{key}” is not known; use one of {', '.join(FLANGES)}, or state the rating itself.")
    table = FLANGES[key]
    least, greatest = table.temperatures_c[0], table.temperatures_c[-1]
    temperature = checked(
        f"Temperature of the {key} flange", temperature_k, "°C", least, greatest, "State the rating given by the maker."
    )
    rating_bar = np.interp(temperature - ZERO_CELSIUS_K, table.temperatures_c, table.ratings_bar_gauge)
    return FlangeAnswer(np.asarray(rating_bar) * to_si(1.0, "bar"), key, table.source, table.confirmed)
