"""True vapour pressure of crude oils and refined products from their Reid vapour pressure.

US EPA, AP-42, chapter 7.1, equations of figures 7.1-13b (crude oils) and 7.1-14b (refined stocks). Reid vapour
pressure here is that of ASTM D323 at 100 °F; true vapour pressure is absolute. A crude with dissolved gas, or one
loaded in the last days, can boil earlier than these figures say: a measured value is better.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shared.calc.ranges import Numbers, checked
from shared.calc.root import Array
from shared.calc.units import to_si

CRUDE_SOURCE = "US EPA AP-42 figure 7.1-13b, from the Reid vapour pressure"
REFINED_SOURCE = "US EPA AP-42 figure 7.1-14b, from the Reid vapour pressure and distillation slope"

_PSI_PA = to_si(1.0, "psi")
_RANKINE_PER_K = 1.8
_ADVICE = "Ask for the true vapour pressure at the pumping temperature instead."
# Scales of the nomographs that the equations stand for: the first read in an open tank-emission model, the other
# three from memory.
_CRUDE_PSI = (2.0, 15.0)
_CRUDE_F = (0.0, 140.0)
_REFINED_PSI = (2.0, 20.0)
_REFINED_F = (0.0, 120.0)
_SLOPE_K_PER_PERCENT = (0.55, 2.8)  # our own bounds around AP-42's averages of 2.0 to 3.5 °F per percent

# AP-42, note to figure 7.1-14b, from memory: average slopes in °F per volume percent. Shown to users, never assumed.
AVERAGE_DISTILLATION_SLOPES_K_PER_PERCENT = {
    "motor gasoline": 3.0 / _RANKINE_PER_K,
    "light naphtha": 3.5 / _RANKINE_PER_K,
    "naphtha": 2.5 / _RANKINE_PER_K,
    "aviation gasoline": 2.0 / _RANKINE_PER_K,
}


@dataclass(frozen=True)
class VapourPressureAnswer:
    """True vapour pressure in Pa above vacuum."""

    vapour_pressure_pa_abs: Array
    source: str


def vapour_pressure_of_crude(reid_vapour_pressure_pa: Numbers, temperature_k: Numbers) -> VapourPressureAnswer:
    """Return the true vapour pressure of a crude oil at a temperature.

    ``reid_vapour_pressure_pa`` [Pa]: 2 to 15 psi; ``temperature_k`` [K]: 0 to 140 °F (-17.8 to 60 °C); any shapes
    that fit together. p = exp((2799/T - 2.227) log10 RVP - 7261/T + 12.82), psi and °R. Raises OutOfRangeError.
    """
    reid = checked("Reid vapour pressure", reid_vapour_pressure_pa, "psi", *_CRUDE_PSI, _ADVICE) / _PSI_PA
    rankine = checked("Temperature", temperature_k, "°F", *_CRUDE_F, _ADVICE) * _RANKINE_PER_K
    exponent = (2799.0 / rankine - 2.227) * np.log10(reid) - 7261.0 / rankine + 12.82
    return VapourPressureAnswer(np.exp(exponent) * _PSI_PA, CRUDE_SOURCE)


def vapour_pressure_of_product(
    reid_vapour_pressure_pa: Numbers, distillation_slope_k_per_percent: Numbers, temperature_k: Numbers
) -> VapourPressureAnswer:
    """Return the true vapour pressure of a gasoline or naphtha at a temperature.

    ``reid_vapour_pressure_pa`` [Pa]: 2 to 20 psi; ``distillation_slope_k_per_percent`` [K per volume percent]: slope
    of the ASTM D86 curve at 10 % evaporated, (T15 - T5)/10, 0.55 to 2.8; ``temperature_k`` [K]: 0 to 120 °F (-17.8 to
    48.9 °C). Raises OutOfRangeError. Source: see the head of this file.
    """
    reid = checked("Reid vapour pressure", reid_vapour_pressure_pa, "psi", *_REFINED_PSI, _ADVICE) / _PSI_PA
    name = "Distillation slope in K per volume percent"
    slope = checked(name, distillation_slope_k_per_percent, "1", *_SLOPE_K_PER_PERCENT)
    rankine = checked("Temperature", temperature_k, "°F", *_REFINED_F, _ADVICE) * _RANKINE_PER_K
    root_slope = np.sqrt(slope * _RANKINE_PER_K)
    log_reid = np.log10(reid)
    exponent = (
        (0.7553 - 413.0 / rankine) * root_slope * log_reid
        - (1.854 - 1042.0 / rankine) * root_slope
        + (2416.0 / rankine - 2.013) * log_reid
        - 8742.0 / rankine
        + 15.64
    )
    return VapourPressureAnswer(np.exp(exponent) * _PSI_PA, REFINED_SOURCE)
