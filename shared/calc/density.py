"""Density of an oil at a temperature from its density at 15 °C, and back. No pressure correction, no water, no blends.

API MPMS chapter 11.1 / ASTM D1250 / ISO 91-1, tables 53 and 54 (A crude oils, B refined products, D lubricating
oils), in the 1980 form, which counts from 15 °C. Left out: the rounding steps of the procedure (they change the
fifth decimal of VCF), and the detour of the 2004 edition through 60 °F. That detour changes the density by less than
0.0002 of itself, for products of 770 to 788 kg/m³ by up to 0.0008 at 150 °C (compared over the whole range).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from shared.calc.errors import InputError, OutOfRangeError
from shared.calc.ranges import Numbers, checked
from shared.calc.root import Array, find_falling_root
from shared.calc.units import ZERO_CELSIUS_K

OilGroup = Literal["crude oil", "refined product", "lubricating oil"]

BASE_TEMPERATURE_K = ZERO_CELSIUS_K + 15.0
_K_PER_F = 1.8  # the standard's constants are per °F; per kelvin they are 1.8 times as large


@dataclass(frozen=True)
class _Band:
    """α15 = (k0/ρ + k1)/ρ + k2 in 1/K, from ``least`` kg/m³ up to the next band."""

    least: float
    k0: float
    k1: float
    k2: float


def _band(least: float, k0_f: float, k1_f: float, k2_f: float = 0.0) -> _Band:
    return _Band(least, _K_PER_F * k0_f, _K_PER_F * k1_f, _K_PER_F * k2_f)


# Constants of MPMS 11.1 per °F (the same in 1980 and 2004), read in several open implementations of the standard.
# Bands start where the 2004 edition starts them, which is where neighbours meet; the 1980 tables round that to 0.5.
_BANDS: dict[str, tuple[_Band, ...]] = {
    "crude oil": (_band(610.6, 341.0957, 0.0),),
    "refined product": (
        _band(610.6, 192.4571, 0.2438),  # gasolines
        _band(770.352, 1489.0670, 0.0, -0.00186840),  # transition
        _band(787.5195, 330.3010, 0.0),  # jet fuels, kerosene
        _band(838.3127, 103.8720, 0.2701),  # gas oils, fuel oils
    ),
    "lubricating oil": (_band(800.9, 0.0, 0.34878),),
}
_GREATEST_DENSITY = 1163.5  # kg/m³, 2004 edition, read in an open implementation of the standard
_BAND_JUMP = 1e-5  # the standard's bands meet to 3e-8 1/K only, so no density may fit more closely than this
_MEASURED_RANGE = (450.0, 1250.0)  # kg/m³, our own: wider than the standard reaches at any temperature of its range
_LEAST_C, _GREATEST_C = -50.0, 150.0  # 2004 edition, the same source

SOURCE = "API MPMS 11.1 / ASTM D1250, from the density at 15 °C"
_ADVICE = "Use a density measured at the pumping temperature instead."


@dataclass(frozen=True)
class DensityAnswer:
    """Density in kg/m³, the volume correction factor ρ/ρ15, and the expansion α15 in 1/K."""

    density_kg_per_m3: Array
    volume_correction_factor: Array
    expansion_per_k: Array
    source: str = SOURCE


def density_at(density_at_15_c_kg_per_m3: Numbers, temperature_k: Numbers, group: OilGroup) -> DensityAnswer:
    """Return the density of an oil of ``group`` at a temperature.

    ``density_at_15_c_kg_per_m3`` [kg/m³]: 610.6 to 1163.5 (lubricating oils from 800.9); ``temperature_k`` [K]:
    -50 to 150 °C; any shapes that fit together. VCF = exp(-α Δt (1 + 0.8 α Δt)). Raises OutOfRangeError outside,
    InputError for another group. Source: see the head of this file.
    """
    bands = _bands_of(group)
    name = f"Density at 15 °C ({group})"
    density_15 = checked(name, density_at_15_c_kg_per_m3, "kg/m³", bands[0].least, _GREATEST_DENSITY, _ADVICE)
    temperature = checked("Temperature", temperature_k, "°C", _LEAST_C, _GREATEST_C, _ADVICE)
    expansion, _ = _expansion(density_15, bands)
    factor = _correction_factor(expansion, temperature)
    return DensityAnswer(density_15 * factor, factor, expansion)


def density_at_15_c(density_kg_per_m3: Numbers, temperature_k: Numbers, group: OilGroup) -> Array:
    """Return the density at 15 °C [kg/m³] of an oil whose density was measured at a temperature [K].

    The inverse of ``density_at``, for a pressure of the atmosphere and a measurement already corrected for its
    instrument. Raises OutOfRangeError where no density at 15 °C within the group's range fits.
    """
    bands = _bands_of(group)
    measured = checked("Measured density", density_kg_per_m3, "kg/m³", *_MEASURED_RANGE)
    temperature = checked("Temperature", temperature_k, "°C", _LEAST_C, _GREATEST_C, _ADVICE)
    measured, temperature = np.broadcast_arrays(measured, temperature)
    warming = temperature - BASE_TEMPERATURE_K

    def excess(density_15: Array) -> tuple[Array, Array]:
        expansion, expansion_slope = _expansion(density_15, bands)
        growth = expansion * warming
        slope = 1.0 / density_15 - expansion_slope * warming * (1.0 + 1.6 * growth)
        return np.log(measured / density_15) + growth * (1.0 + 0.8 * growth), -slope

    low = np.full(measured.shape, bands[0].least)
    found = find_falling_root(excess, low, np.full(measured.shape, _GREATEST_DENSITY), tolerance=1e-13)
    if np.any(np.abs(found.residual) > _BAND_JUMP):
        raise OutOfRangeError(
            f"Measured density ({group}) belongs to a density at 15 °C outside {bands[0].least:g} to"
            f" {_GREATEST_DENSITY:g} kg/m³; check the density and its temperature."
        )
    return found.value


def _bands_of(group: str) -> tuple[_Band, ...]:
    try:
        return _BANDS[group]
    except KeyError:
        raise InputError(f"Oil group “{group}” is not known; use one of {', '.join(_BANDS)}.") from None


def _expansion(density_15: Array, bands: tuple[_Band, ...]) -> tuple[Array, Array]:
    """Return α15 and its slope with density."""
    starts = np.array([band.least for band in bands])
    constants = np.array([(band.k0, band.k1, band.k2) for band in bands])
    place = np.clip(np.searchsorted(starts, density_15, side="right") - 1, 0, len(bands) - 1)
    k0, k1, k2 = np.moveaxis(constants[place], -1, 0)
    slope = -(2.0 * k0 / density_15 + k1) / density_15**2
    return (k0 / density_15 + k1) / density_15 + k2, slope


def _correction_factor(expansion: Array, temperature: Array) -> Array:
    growth = expansion * (temperature - BASE_TEMPERATURE_K)
    return np.exp(-growth * (1.0 + 0.8 * growth))
