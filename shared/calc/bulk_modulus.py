"""Bulk modulus of an oil for surge, from its density at 15 °C. Nothing on free gas, which lowers it, or on water.

How much an oil gives way at constant temperature is API MPMS chapter 11.2.1M (constants read in an open implementation
of the standard; its range from memory). A wave is too quick for heat to pass, so what counts is stiffer: by
thermodynamics 1/Ks = F - α² T/(ρ c), with α of MPMS 11.1 and the specific heat c of petroleum oils by C. S. Cragoe,
Thermal Properties of Petroleum Products, NBS Miscellaneous Publication 97 (1929), from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shared.calc.density import OilGroup, density_at
from shared.calc.ranges import Numbers, checked
from shared.calc.root import Array
from shared.calc.units import ZERO_CELSIUS_K

SOURCE = "API MPMS 11.2.1M and NBS Misc. Publ. 97, from the density at 15 °C, for a wave that lets no heat pass"
_LEAST_DENSITY, _GREATEST_DENSITY = 638.0, 1074.0  # kg/m³
_LEAST_C, _GREATEST_C = -30.0, 90.0
_ADVICE = "State the bulk modulus of the cargo."
_J_PER_BTU_LB_F = 4186.8  # J/(kg K), exact for the international table Btu
_WATER_60_F_KG_PER_M3 = 999.016


@dataclass(frozen=True)
class BulkModulusAnswer:
    """Bulk modulus in Pa of a quick change, ``isothermal_pa`` that of a slow one at constant temperature."""

    bulk_modulus_pa: Array
    isothermal_pa: Array
    source: str = SOURCE


def bulk_modulus_at(density_at_15_c_kg_per_m3: Numbers, temperature_k: Numbers, group: OilGroup) -> BulkModulusAnswer:
    """Return the bulk modulus of an oil of ``group`` at a temperature, up to about 100 bar.

    ``density_at_15_c_kg_per_m3`` [kg/m³]: 638 to 1074; ``temperature_k`` [K]: -30 to 90 °C; shapes that fit together.
    Raises OutOfRangeError outside and InputError for another group. Sources: see the head of this file.
    """
    name = f"Density at 15 °C ({group})"
    density_15 = checked(name, density_at_15_c_kg_per_m3, "kg/m³", _LEAST_DENSITY, _GREATEST_DENSITY, _ADVICE)
    kelvin = checked("Temperature", temperature_k, "°C", _LEAST_C, _GREATEST_C, _ADVICE)
    celsius = kelvin - ZERO_CELSIUS_K
    compressed_per_pa = 1e-9 * np.exp(
        -1.62080 + 0.00021592 * celsius + (870_960.0 + 4209.2 * celsius) / density_15**2
    )  # the standard's F, there in 1/kPa with a factor of 1e-6
    at = density_at(density_15, kelvin, group)
    expansion = at.expansion_per_k * (1.0 + 1.6 * at.expansion_per_k * (celsius - 15.0))  # α of that temperature
    fahrenheit = 1.8 * celsius + 32.0
    specific_heat = _J_PER_BTU_LB_F * (0.388 + 0.00045 * fahrenheit) / np.sqrt(density_15 / _WATER_60_F_KG_PER_M3)
    by_heat = expansion**2 * kelvin / (at.density_kg_per_m3 * specific_heat)
    return BulkModulusAnswer(np.asarray(1.0 / (compressed_per_pa - by_heat)), np.asarray(1.0 / compressed_per_pa))
