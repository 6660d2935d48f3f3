"""What a thick liquid does to a centrifugal pump tested with water: head, flow and efficiency. Nothing on NPSH.

ANSI/HI 9.6.7, parameter B (equations as in the 2004 edition and later, read on pages of two engineering firms that
cite it). For Newtonian liquids and pumps of radial discharge; per stage. An average over test data: a curve that the
maker tested with a thick liquid is better.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shared.calc.errors import OutOfRangeError
from shared.calc.ranges import Numbers, checked
from shared.calc.root import Array
from shared.calc.units import from_si, to_si

SOURCE = "ANSI/HI 9.6.7, parameter B"

NO_CORRECTION_TO_B = 1.0
REFUSED_FROM_B = 40.0
_MM2_S = 1e-6  # m²/s
_M3_H = 1.0 / 3600.0  # m³/s
_FLOW_M3_H = (1.0, 100_000.0)
_GREATEST_VISCOSITY = 4000.0  # mm²/s, scope of the 2015 and 2021 editions as described in public documentation
_TESTED_VISCOSITY = (1.0, 3000.0)  # mm²/s; this and the next two: test data, read on one of the two pages
_TESTED_FLOW_GPM = (13.0, 1140.0)
_TESTED_HEAD_FT = (20.0, 430.0)
_GALLON_PER_MINUTE = 231.0 * 0.0254**3 / 60.0  # m³/s per US gpm, exact
_GREATEST_SPECIFIC_SPEED = 60.0  # rpm, m³/s, m: the edge of radial pumps in the standard (3,000 in US units)


@dataclass(frozen=True)
class ViscousCorrection:
    """Factors on the water curve: C_Q on flow, C_H on head (at the flow ratio asked for), C_η on efficiency."""

    parameter_b: Array
    flow_factor: Array
    head_factor: Array
    efficiency_factor: Array
    notes: tuple[str, ...]
    source: str = SOURCE


@dataclass(frozen=True)
class ViscousCurve:
    """A pump curve corrected to the thick liquid; efficiency is None where that of water is not known."""

    flow_m3_per_s: Array
    head_m: Array
    efficiency: Array | None
    correction: ViscousCorrection


def parameter_b(
    kinematic_viscosity_m2_per_s: Numbers,
    best_flow_m3_per_s: Numbers,
    best_head_per_stage_m: Numbers,
    speed_rpm: Numbers,
) -> Array:
    """Return B = 16.5 ν^0.5 H^0.0625 / (Q^0.375 N^0.25) [-]; below 40 the correction can be made.

    Viscosity [m²/s] 0.1 to 4000 mm²/s; flow [m³/s] 1 to 100,000 m³/h and head per stage [m] 1 to 3000, both at the
    best efficiency with water; speed [rpm] 10 to 20,000; shapes that fit together. Raises OutOfRangeError.
    """
    viscosity, flow, head, speed = _checked_pump(
        kinematic_viscosity_m2_per_s, best_flow_m3_per_s, best_head_per_stage_m, speed_rpm
    )
    return _parameter_b(viscosity, flow, head, speed)


def viscous_correction(
    *,
    kinematic_viscosity_m2_per_s: Numbers,
    best_flow_m3_per_s: Numbers,
    best_head_per_stage_m: Numbers,
    speed_rpm: Numbers,
    flow_ratio: Numbers = 1.0,
) -> ViscousCorrection:
    """Return the correction factors; ``flow_ratio`` [-] is water flow over best water flow, 0 to 2.

    Other inputs as in ``parameter_b``. Up to B = 1 all factors are 1; from B = 40, and outside the ranges,
    OutOfRangeError. ``notes`` say where the pump lies outside the test data behind the standard.
    """
    viscosity, flow, head, speed = _checked_pump(
        kinematic_viscosity_m2_per_s, best_flow_m3_per_s, best_head_per_stage_m, speed_rpm
    )
    ratio = checked("Flow over best flow", flow_ratio, "1", 0.0, 2.0)
    b = _parameter_b(viscosity, flow, head, speed)
    if np.any(b >= REFUSED_FROM_B):
        raise OutOfRangeError(
            f"Viscosity parameter B of the pump is {float(np.max(b)):.1f}; allowed: below {REFUSED_FROM_B:g}"
            " (ANSI/HI 9.6.7). Ask for a pump curve tested with a liquid of this viscosity, or warm the cargo."
        )
    corrected_b = np.maximum(b, NO_CORRECTION_TO_B)
    flow_factor = 2.71 ** (-0.165 * np.log10(corrected_b) ** 3.15)
    head_factor = 1.0 - (1.0 - flow_factor) * ratio**0.75
    efficiency_factor = corrected_b ** (-0.0547 * corrected_b**0.69)
    notes = _notes(b, viscosity, flow, head, speed)
    return ViscousCorrection(b, flow_factor, head_factor, efficiency_factor, notes)


def viscous_curve(
    *,
    flow_m3_per_s: Array,
    head_m: Array,
    efficiency: Array | None,
    kinematic_viscosity_m2_per_s: Numbers,
    best_flow_m3_per_s: Numbers,
    best_head_per_stage_m: Numbers,
    speed_rpm: Numbers,
) -> ViscousCurve:
    """Return a water curve (flow [m³/s], head [m], efficiency [-], last axis over its points) for the thick liquid.

    Points beyond twice the best flow are refused. Inputs and errors as in ``viscous_correction``.
    """
    water_flow = np.array(flow_m3_per_s, dtype=float)
    best_flow = checked("Best flow of the pump", best_flow_m3_per_s, "m³/h", *_FLOW_M3_H)
    correction = viscous_correction(
        kinematic_viscosity_m2_per_s=kinematic_viscosity_m2_per_s,
        best_flow_m3_per_s=best_flow,
        best_head_per_stage_m=best_head_per_stage_m,
        speed_rpm=speed_rpm,
        flow_ratio=water_flow / best_flow,
    )
    return ViscousCurve(
        water_flow * correction.flow_factor,
        np.asarray(head_m) * correction.head_factor,
        None if efficiency is None else np.asarray(efficiency) * correction.efficiency_factor,
        correction,
    )


def _checked_pump(
    viscosity: Numbers, flow: Numbers, head: Numbers, speed: Numbers
) -> tuple[Array, Array, Array, Array]:
    return (
        checked("Viscosity", viscosity, "mm²/s", 0.1, _GREATEST_VISCOSITY, "Ask for a curve tested at this viscosity."),
        checked("Best flow of the pump", flow, "m³/h", *_FLOW_M3_H),
        checked("Head per stage at best flow", head, "m", 1.0, 3000.0),
        checked("Pump speed", speed, "rpm", 10.0, 20_000.0),
    )


def _parameter_b(viscosity: Array, flow: Array, head: Array, speed: Array) -> Array:
    # The standard's SI form takes mm²/s, m³/h, m and rpm.
    return np.asarray(16.5 * (viscosity / _MM2_S) ** 0.5 * head**0.0625 / ((flow / _M3_H) ** 0.375 * speed**0.25))


def _notes(b: Array, viscosity: Array, flow: Array, head: Array, speed: Array) -> tuple[str, ...]:
    if np.all(b <= NO_CORRECTION_TO_B):
        return ("The liquid is thin for this pump: no correction (B up to 1).",)
    notes = []
    tested = (
        ("Viscosity", viscosity, "mm²/s", to_si(_TESTED_VISCOSITY[0], "mm²/s"), to_si(_TESTED_VISCOSITY[1], "mm²/s")),
        ("Best flow", flow, "m³/h", _TESTED_FLOW_GPM[0] * _GALLON_PER_MINUTE, _TESTED_FLOW_GPM[1] * _GALLON_PER_MINUTE),
        ("Head per stage", head, "m", to_si(_TESTED_HEAD_FT[0], "ft"), to_si(_TESTED_HEAD_FT[1], "ft")),
    )
    for name, values, unit, least, greatest in tested:
        if np.any((values < least) | (values > greatest)):
            notes.append(
                f"{name} is outside the test data behind the standard, {from_si(least, unit):.3g} to"
                f" {from_si(greatest, unit):.4g} {unit}: take the correction as an estimate."
            )
    if np.any(speed * np.sqrt(flow) / head**0.75 > _GREATEST_SPECIFIC_SPEED):
        notes.append(
            f"Specific speed is above {_GREATEST_SPECIFIC_SPEED:g} (rpm, m³/s, m): not the radial kind of pump"
            " that the standard covers, so take the correction as an estimate."
        )
    return tuple(notes)
