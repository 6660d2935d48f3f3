"""What is stated about the cargo (pure: no Django), and the liquid that follows from it.

A value measured at the pumping temperature always counts; where it is missing, it is worked out from
the laboratory's values by published correlations, and the liquid says so.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from shared.calc.bulk_modulus import SOURCE as BULK_MODULUS_SOURCE
from shared.calc.bulk_modulus import bulk_modulus_at
from shared.calc.errors import InputError, OutOfRangeError
from shared.calc.liquid import Liquid as WorkedOut
from shared.calc.liquid import LiquidProperty, LiquidStatement, liquid_at
from shared.calc.units import from_si, to_si
from shared.calc.viscosity import ViscosityPoint
from shared.facts import Facts, ShortText, quantity

_DENSITY_HINT = "Water is 1000 kg/m³; a density in t/m³ is to be multiplied by 1000."
MEASURED = "measured at the pumping temperature"
BULK_MODULUS_STATED = "as stated"

Density = quantity("kg/m³", 500, 1200, "Density at the pumping temperature", _DENSITY_HINT)
Density15 = quantity("kg/m³", 500, 1200, "Density at 15 °C from the laboratory or the bill of lading", _DENSITY_HINT)
Viscosity = quantity("mm²/s", 0.1, 5000, "Kinematic viscosity")
Temperature = quantity("°C", -50, 150, "Temperature of the liquid")
VapourPressure = quantity("kPa", 0, 500, "True vapour pressure at the pumping temperature")


class MeasuredViscosity(Facts):
    """One kinematic viscosity with the temperature at which it was measured."""

    temperature_c: Temperature
    kinematic_viscosity_mm2_per_s: Viscosity


class LaboratoryFacts(Facts):
    """What the laboratory states, at its own temperatures."""

    group: Literal["crude oil", "refined product", "lubricating oil"]
    density_at_15_c_kg_per_m3: Density15 | None = None
    viscosities: Annotated[list[MeasuredViscosity], Field(max_length=2)] = []
    viscosity_slope: quantity("1", 1, 6, "Slope B of ASTM D341, where only one viscosity is measured") | None = None
    pour_point_c: quantity("°C", -60, 80, "Pour point; no viscosity is worked out below it") | None = None
    reid_vapour_pressure_kpa_abs: quantity("kPa", 1, 150, "Reid vapour pressure (at 37.8 °C)") | None = None
    distillation_slope_k_per_percent: (
        quantity("1", 0.5, 3, "Slope of the ASTM D86 curve at 10 %, K per volume percent; products only") | None
    ) = None


class CargoFacts(Facts):
    """The liquid as it will be pumped: measured at that temperature, or worked out from the laboratory's values."""

    name: ShortText
    density_kg_per_m3: Density | None = None
    kinematic_viscosity_mm2_per_s: Viscosity | None = None
    temperature_c: quantity("°C", -50, 150, "Temperature while it is pumped") | None = None
    vapour_pressure_kpa_abs: VapourPressure | None = None
    bulk_modulus_mpa: (
        quantity(
            "MPa",
            300,
            4000,
            "Bulk modulus, for surge; left empty it follows from density at 15 °C and group, where these are stated",
        )
        | None
    ) = None
    quantity_m3: quantity("m³", 1, 600_000, "Volume to transfer at the pumping temperature") | None = None
    laboratory: LaboratoryFacts | None = None

    @model_validator(mode="after")
    def _liquid_is_known(self) -> Self:
        try:
            liquid_of(self)
        except InputError as error:
            raise ValueError(str(error)) from None
        return self


@dataclass(frozen=True)
class Liquid:
    """The liquid at its pumping temperature, where each value comes from, and which is not to be trusted."""

    density_kg_per_m3: float
    kinematic_viscosity_mm2_per_s: float
    vapour_pressure_kpa_abs: float | None
    temperature_c: float | None
    density_source: str
    viscosity_source: str
    vapour_pressure_source: str
    cautions: tuple[str, ...] = ()


def liquid_of(cargo: CargoFacts) -> Liquid:
    """Return the liquid of a cargo; raise InputError saying what is missing or out of range.

    The vapour pressure alone may stay not known: only checks that need it are then not decided.
    """
    found = _from_laboratory(cargo)
    density = _needed(cargo.density_kg_per_m3, found.density_kg_per_m3 if found else None, "density_kg_per_m3", "kg/m³")
    viscosity = _needed(
        cargo.kinematic_viscosity_mm2_per_s,
        found.kinematic_viscosity_m2_per_s if found else None,
        "kinematic_viscosity_mm2_per_s",
        "mm²/s",
    )
    vapour = _vapour_pressure(cargo.vapour_pressure_kpa_abs, found.vapour_pressure_pa_abs if found else None)
    worked_out = found.kinematic_viscosity_m2_per_s if found and cargo.kinematic_viscosity_mm2_per_s is None else None
    cautions = (worked_out.caution,) if worked_out and worked_out.caution else ()
    sources = density[1], viscosity[1], vapour[1]
    return Liquid(density[0], viscosity[0], vapour[0], cargo.temperature_c, *sources, cautions)


def _from_laboratory(cargo: CargoFacts) -> WorkedOut | None:
    stated = cargo.laboratory
    if stated is None:
        return None
    if cargo.temperature_c is None:
        raise InputError(
            "temperature_c is missing; laboratory values are worked out for the temperature while pumping."
        )
    statement = LiquidStatement(
        group=stated.group,
        density_at_15_c_kg_per_m3=stated.density_at_15_c_kg_per_m3,
        viscosity_points=tuple(
            ViscosityPoint(to_si(point.temperature_c, "°C"), to_si(point.kinematic_viscosity_mm2_per_s, "mm²/s"))
            for point in stated.viscosities
        ),
        viscosity_slope=stated.viscosity_slope,
        pour_point_k=None if stated.pour_point_c is None else to_si(stated.pour_point_c, "°C"),
        reid_vapour_pressure_pa=(
            None if stated.reid_vapour_pressure_kpa_abs is None else to_si(stated.reid_vapour_pressure_kpa_abs, "kPa")
        ),
        distillation_slope_k_per_percent=stated.distillation_slope_k_per_percent,
    )
    return liquid_at(statement, to_si(cargo.temperature_c, "°C"))


def _needed(measured: float | None, worked_out: LiquidProperty | None, key: str, unit: str) -> tuple[float, str]:
    if measured is not None:
        return float(measured), MEASURED
    if worked_out is None:
        raise InputError(
            f"{key} is missing; state it in {unit} at the pumping temperature, or state laboratory values."
        )
    if worked_out.value is None:
        raise InputError(f"{key} is missing, and not decided by the laboratory's values. {worked_out.question}")
    return from_si(float(worked_out.value), unit), worked_out.source


def _vapour_pressure(measured: float | None, worked_out: LiquidProperty | None) -> tuple[float | None, str]:
    if measured is not None:
        return float(measured), MEASURED
    if worked_out is None or worked_out.value is None:
        return None, "not known" if worked_out is None else f"not decided: {worked_out.question}"
    return from_si(float(worked_out.value), "kPa"), worked_out.source


@dataclass(frozen=True)
class BulkModulus:
    """How stiff a cargo is for a pressure wave, and where that comes from; None with ``question`` what to ask.

    ``worked_out_mpa`` is what its density makes of it, beside a value that is stated.
    """

    value_mpa: float | None
    source: str = ""
    question: str = ""
    worked_out_mpa: float | None = None


def bulk_modulus_of(cargo: CargoFacts) -> BulkModulus:
    """Return the bulk modulus of a cargo: as stated, else from the laboratory's density at 15 °C."""
    worked_out, question = _bulk_modulus_by_density(cargo)
    if cargo.bulk_modulus_mpa is not None:
        return BulkModulus(float(cargo.bulk_modulus_mpa), BULK_MODULUS_STATED, worked_out_mpa=worked_out)
    if worked_out is None:
        return BulkModulus(None, question=question)
    return BulkModulus(worked_out, BULK_MODULUS_SOURCE, worked_out_mpa=worked_out)


def _bulk_modulus_by_density(cargo: CargoFacts) -> tuple[float | None, str]:
    stated = cargo.laboratory
    if stated is None or stated.density_at_15_c_kg_per_m3 is None or cargo.temperature_c is None:
        return None, ""
    kelvin = to_si(cargo.temperature_c, "°C")
    try:
        found = bulk_modulus_at(stated.density_at_15_c_kg_per_m3, kelvin, stated.group)
    except OutOfRangeError as error:
        return None, str(error)
    return from_si(float(found.bulk_modulus_pa), "MPa"), ""
