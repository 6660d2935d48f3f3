"""What is stated about the cargo (pure: no Django), and the liquid that follows from it.

A value measured at the pumping temperature always counts; where it is missing, it is worked out from
the laboratory's values by published correlations, and the liquid says so.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from shared.calc.density import density_at
from shared.calc.errors import InputError
from shared.calc.units import from_si, to_si
from shared.calc.vapour_pressure import vapour_pressure_of_crude, vapour_pressure_of_product
from shared.calc.viscosity import ViscosityPoint, viscosity_at
from shared.facts import Facts, ShortText, quantity

_DENSITY_HINT = "Water is 1000 kg/m³; a density in t/m³ is to be multiplied by 1000."
MEASURED = "measured at the pumping temperature"

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
    """The liquid at its pumping temperature; ``sources`` says where each value comes from."""

    density_kg_per_m3: float
    kinematic_viscosity_mm2_per_s: float
    vapour_pressure_kpa_abs: float | None
    temperature_c: float | None
    density_source: str
    viscosity_source: str
    vapour_pressure_source: str


def liquid_of(cargo: CargoFacts) -> Liquid:
    """Return the liquid of a cargo; raise InputError or OutOfRangeError saying what is missing or out of range."""
    density, density_source = _density(cargo)
    viscosity, viscosity_source = _viscosity(cargo)
    vapour_pressure, vapour_source = _vapour_pressure(cargo)
    return Liquid(
        density, viscosity, vapour_pressure, cargo.temperature_c, density_source, viscosity_source, vapour_source
    )


def _density(cargo: CargoFacts) -> tuple[float, str]:
    if cargo.density_kg_per_m3 is not None:
        return float(cargo.density_kg_per_m3), MEASURED
    laboratory = cargo.laboratory
    if laboratory is None or laboratory.density_at_15_c_kg_per_m3 is None:
        raise InputError(
            "density_kg_per_m3 is missing; state the density at the pumping temperature in kg/m³,"
            " or laboratory.density_at_15_c_kg_per_m3."
        )
    found = density_at(laboratory.density_at_15_c_kg_per_m3, _kelvin(cargo, "density"), laboratory.group)
    return float(found.density_kg_per_m3), found.source


def _viscosity(cargo: CargoFacts) -> tuple[float, str]:
    if cargo.kinematic_viscosity_mm2_per_s is not None:
        return float(cargo.kinematic_viscosity_mm2_per_s), MEASURED
    laboratory = cargo.laboratory
    if laboratory is None or not laboratory.viscosities:
        raise InputError(
            "kinematic_viscosity_mm2_per_s is missing; state the viscosity at the pumping temperature in mm²/s,"
            " or two of the laboratory's viscosities."
        )
    points = [
        ViscosityPoint(to_si(point.temperature_c, "°C"), to_si(point.kinematic_viscosity_mm2_per_s, "mm²/s"))
        for point in laboratory.viscosities
    ]
    pour_point = None if laboratory.pour_point_c is None else to_si(laboratory.pour_point_c, "°C")
    found = viscosity_at(
        points, _kelvin(cargo, "viscosity"), stated_slope=laboratory.viscosity_slope, pour_point_k=pour_point
    )
    if not found.decided.all():
        raise InputError(found.reason)
    return from_si(float(found.kinematic_viscosity_m2_per_s), "mm²/s"), found.source


def _vapour_pressure(cargo: CargoFacts) -> tuple[float | None, str]:
    if cargo.vapour_pressure_kpa_abs is not None:
        return float(cargo.vapour_pressure_kpa_abs), MEASURED
    laboratory = cargo.laboratory
    if laboratory is None or laboratory.reid_vapour_pressure_kpa_abs is None:
        return None, "not known"
    reid, kelvin = to_si(laboratory.reid_vapour_pressure_kpa_abs, "kPa"), _kelvin(cargo, "vapour pressure")
    if laboratory.group == "crude oil":
        found = vapour_pressure_of_crude(reid, kelvin)
    elif laboratory.distillation_slope_k_per_percent is not None:
        found = vapour_pressure_of_product(reid, laboratory.distillation_slope_k_per_percent, kelvin)
    else:
        return None, "not known: a product's needs laboratory.distillation_slope_k_per_percent"
    return from_si(float(found.vapour_pressure_pa_abs), "kPa"), found.source


def _kelvin(cargo: CargoFacts, wanted: str) -> float:
    if cargo.temperature_c is None:
        raise InputError(f"temperature_c is missing; the {wanted} is worked out for the temperature while pumping.")
    return to_si(cargo.temperature_c, "°C")
