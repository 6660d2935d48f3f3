"""Density, viscosity and vapour pressure of a cargo at one temperature, each with its source or what to ask for.

A correlation that can't answer leaves the property not decided. The correlations are in density.py, viscosity.py and
vapour_pressure.py; a value measured at that temperature needs none of them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from shared.calc.density import SOURCE as DENSITY_SOURCE
from shared.calc.density import OilGroup, density_at
from shared.calc.errors import OutOfRangeError
from shared.calc.ranges import Numbers
from shared.calc.root import Array
from shared.calc.units import from_si
from shared.calc.vapour_pressure import vapour_pressure_of_crude, vapour_pressure_of_product
from shared.calc.viscosity import ViscosityPoint, viscosity_at


@dataclass(frozen=True, kw_only=True)
class LiquidStatement:
    """What a laboratory states about an oil; None is not known."""

    group: OilGroup | None = None
    density_at_15_c_kg_per_m3: Numbers | None = None
    viscosity_points: tuple[ViscosityPoint, ...] = ()
    viscosity_slope: Numbers | None = None
    pour_point_k: Numbers | None = None
    reid_vapour_pressure_pa: Numbers | None = None
    distillation_slope_k_per_percent: Numbers | None = None


@dataclass(frozen=True)
class LiquidProperty:
    """A property in the SI unit of its field in ``Liquid``; None where not decided, with ``question`` what to ask.

    ``caution`` says where a value is not to be trusted like a measured one.
    """

    value: Array | None
    source: str
    question: str = ""
    caution: str = ""


@dataclass(frozen=True)
class Liquid:
    """An oil at ``temperature_k``; each property in the unit of its name, vapour pressure above vacuum."""

    temperature_k: Array
    density_kg_per_m3: LiquidProperty
    kinematic_viscosity_m2_per_s: LiquidProperty
    vapour_pressure_pa_abs: LiquidProperty


def liquid_at(statement: LiquidStatement, temperature_k: Numbers) -> Liquid:
    """Return the properties of an oil at a temperature [K] or an array of them.

    A property that is missing, or outside the range of its correlation, is not decided and says what to ask for.
    Raises InputError where the statement contradicts itself.
    """
    temperature = np.array(temperature_k, dtype=float)
    return Liquid(
        temperature,
        _density(statement, temperature),
        _viscosity(statement, temperature),
        _vapour_pressure(statement, temperature),
    )


def _density(statement: LiquidStatement, temperature: Array) -> LiquidProperty:
    group, base = statement.group, statement.density_at_15_c_kg_per_m3
    if group is None or base is None:
        return _ask("Ask for the density at the pumping temperature, or for the density at 15 °C and the group of oil.")

    def answer() -> LiquidProperty:
        return LiquidProperty(density_at(base, temperature, group).density_kg_per_m3, DENSITY_SOURCE)

    return _decided_or_asked(answer)


def _viscosity(statement: LiquidStatement, temperature: Array) -> LiquidProperty:
    if not statement.viscosity_points:
        return _ask("Ask for the viscosity at the pumping temperature, or for two measured points.")

    def answer() -> LiquidProperty:
        found = viscosity_at(
            statement.viscosity_points,
            temperature,
            stated_slope=statement.viscosity_slope,
            pour_point_k=statement.pour_point_k,
        )
        value = found.kinematic_viscosity_m2_per_s if np.all(found.decided) else None
        caution = _beyond_points(statement.viscosity_points) if np.any(found.beyond_points) else ""
        return LiquidProperty(value, found.source if value is not None else "", found.reason, caution)

    return _decided_or_asked(answer)


def _beyond_points(points: tuple[ViscosityPoint, ...]) -> str:
    measured = [from_si(float(kelvin), "°C") for point in points for kelvin in np.ravel(point.temperature_k)]
    where = " and ".join(dict.fromkeys(f"{celsius:.4g}" for celsius in (min(measured), max(measured))))
    return (
        f"The viscosity is carried beyond what was measured, at {where} °C: an oil may thicken sooner than its line"
        " says, above all near its cloud point. Ask for a viscosity measured nearer the pumping temperature."
    )


def _vapour_pressure(statement: LiquidStatement, temperature: Array) -> LiquidProperty:
    reid, slope = statement.reid_vapour_pressure_pa, statement.distillation_slope_k_per_percent

    def answer() -> LiquidProperty:
        if statement.group == "crude oil" and reid is not None:
            found = vapour_pressure_of_crude(reid, temperature)
            return LiquidProperty(found.vapour_pressure_pa_abs, found.source)
        if statement.group == "refined product" and reid is not None and slope is not None:
            found = vapour_pressure_of_product(reid, slope, temperature)
            return LiquidProperty(found.vapour_pressure_pa_abs, found.source)
        return _ask(
            "Ask for the true vapour pressure at the pumping temperature, or for the Reid vapour pressure of a crude,"
            " or for the Reid vapour pressure and distillation slope of a gasoline or naphtha."
        )

    return _decided_or_asked(answer)


def _ask(question: str) -> LiquidProperty:
    return LiquidProperty(None, "", question)


def _decided_or_asked(answer: Callable[[], LiquidProperty]) -> LiquidProperty:
    try:
        return answer()
    except OutOfRangeError as error:
        return _ask(str(error))
