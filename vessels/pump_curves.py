"""A pump's stated data as the arrays that are calculated with (pure: no Django).

Wear and viscosity change the tested points before a curve is drawn through them, so that the solver
meets one kind of curve only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from shared.calc.curve import Pieces, check_falling_curve, pieces_through
from shared.calc.errors import InputError, OutOfRangeError
from shared.calc.root import Array
from shared.calc.units import HOUR_S, MM2_PER_S
from vessels.calc.misfit import affinity_misfit
from vessels.calc.pump import PumpCurves, curve_by_coefficients, curves_by_points
from vessels.calc.viscous_pump import NO_CORRECTION_TO_B, ViscousCurve, parameter_b, viscous_curve
from vessels.facts import PumpCurve, PumpFacts, efficiency_by_power

_POINTS_OF_FORMULA = 13
_LAST_SHARE = 0.95  # of the flow at which H = a - b Q^c reaches zero
MISFIT_WORTH_SAYING = 0.02
THIN_MM2_PER_S = 3.0  # our own: up to here a liquid does with a pump what water does
_SAME_VISCOSITY = 0.2  # our own: a part by which head and efficiency hardly change

ViscosityMethod = Literal["as tested", "ANSI/HI 9.6.7"]


@dataclass(frozen=True)
class AtSpeed:
    """A curve over flow in m3/s that was tested at one speed."""

    pieces: Pieces
    speed_rpm: float


@dataclass(frozen=True)
class PumpData:
    """Head curves, and where they are stated efficiency (a fraction) and NPSH required (m); ``notes`` are cautions."""

    curves: PumpCurves
    efficiency: AtSpeed | None
    npsh_required: AtSpeed | None
    notes: tuple[str, ...]


def curves_of(pump: PumpFacts) -> PumpCurves:
    """Return the stated head curves of a pump, in SI, as tested and unworn."""
    first = pump.curves[0]
    if first.coefficients is not None:
        stated = first.coefficients
        drop = stated.drop_at_1_m3_per_h_m * HOUR_S**stated.exponent
        return curve_by_coefficients(first.speed_rpm, stated.shut_off_head_m, drop, stated.exponent)
    return curves_by_points(
        [curve.speed_rpm for curve in pump.curves],
        [_head_points(curve) for curve in pump.curves],
        displaces=pump.kind != "centrifugal",
    )


def pump_data(pump: PumpFacts, viscosity_m2_per_s: float, method: ViscosityMethod) -> PumpData:
    """Return a pump's data as it is now, with this liquid; raise InputError where a correction can't be made."""
    kept = 1.0 if pump.head_kept_percent is None else pump.head_kept_percent / 100.0
    notes = _misfit_note(pump)
    thick, viscosity_notes = _corrected(pump, viscosity_m2_per_s, method)
    if not thick and kept == 1.0:
        return PumpData(curves_of(pump), _efficiency(pump, None, kept), _npsh(pump), notes + viscosity_notes)
    points = [_points(curve, found) for curve, found in _pairs(pump, thick)]
    worn = [[(flow, head * kept) for flow, head in row] for row in points]
    speeds = [curve.speed_rpm for curve in pump.curves]
    curves = curves_by_points(speeds, worn, displaces=pump.kind != "centrifugal")
    return PumpData(curves, _efficiency(pump, thick or None, kept), _npsh(pump), notes + viscosity_notes)


def _head_points(curve: PumpCurve) -> list[tuple[float, float]]:
    """Return a curve's points in m3/s and m; an algebraic one is sampled up to short of its run-out."""
    if curve.coefficients is None:
        stated = _stated_points(curve)
        try:  # a curve varied within its tolerances was not checked as a document
            check_falling_curve([flow for flow, _ in stated], [head for _, head in stated])
        except ValueError as error:
            raise InputError(f"The curve at {curve.speed_rpm:g} rpm: {error}") from None
        return [(flow / HOUR_S, head) for flow, head in stated]
    c = curve.coefficients
    last = (c.shut_off_head_m / c.drop_at_1_m3_per_h_m) ** (1.0 / c.exponent) * _LAST_SHARE
    flows = np.linspace(0.0, last, _POINTS_OF_FORMULA)
    heads = c.shut_off_head_m - c.drop_at_1_m3_per_h_m * flows**c.exponent
    return list(zip((flows / HOUR_S).tolist(), heads.tolist(), strict=True))


def _stated_points(curve: PumpCurve) -> list[tuple[float, float]]:
    if curve.polynomial is not None:
        return curve.polynomial.points()
    return [(point.flow_m3_per_h, point.head_m) for point in curve.points or []]


def _pairs(pump: PumpFacts, thick: Sequence[ViscousCurve]) -> list[tuple[PumpCurve, ViscousCurve | None]]:
    return [(curve, thick[i] if thick else None) for i, curve in enumerate(pump.curves)]


def _points(curve: PumpCurve, thick: ViscousCurve | None) -> list[tuple[float, float]]:
    if thick is None:
        return _head_points(curve)
    return list(zip(thick.flow_m3_per_s.tolist(), thick.head_m.tolist(), strict=True))


def _corrected(
    pump: PumpFacts, viscosity: float, method: ViscosityMethod
) -> tuple[list[ViscousCurve], tuple[str, ...]]:
    if pump.kind != "centrifugal":  # the correction is for centrifugal pumps only
        return [], ()
    best = _best_flow(pump)
    if method == "as tested":
        return [], ()
    _check_tested_with_water(pump)
    if best is None:
        raise InputError(
            f"{pump.name}: the viscosity correction needs the flow of best efficiency; state efficiency_percent on its"
            " points, or its rated_flow_m3_per_h."
        )
    found = [_viscous(pump, curve, best, viscosity) for curve in pump.curves]
    notes = tuple(dict.fromkeys(f"{pump.name}: {note}" for curve in found for note in curve.correction.notes))
    return found, notes


def _check_tested_with_water(pump: PumpFacts) -> None:
    """Refuse to correct a curve that is not of water: the correction starts from there."""
    for curve in pump.curves:
        tested = curve.tested_viscosity_mm2_per_s
        if tested is not None and tested > THIN_MM2_PER_S:
            raise InputError(
                f"{pump.name}: the viscosity correction starts from a curve tested with water, and that at"
                f" {curve.speed_rpm:g} rpm was tested with {tested:g} mm²/s; take the curves as tested, or ask for the"
                " curve with water."
            )


def _viscous(pump: PumpFacts, curve: PumpCurve, best_flow: float, viscosity: float) -> ViscousCurve:
    best = best_flow * curve.speed_rpm / pump.curves[0].speed_rpm
    points = [(flow, head) for flow, head in _head_points(curve) if flow <= 2.0 * best]
    if len(points) < 2:
        raise InputError(
            f"{pump.name}: the viscosity correction holds up to twice the flow of best efficiency,"
            f" {2.0 * best * HOUR_S:,.0f} m³/h, and fewer than two points of the curve at {curve.speed_rpm:g} rpm lie"
            " there; give points there, or correct its efficiencies or its rated_flow_m3_per_h."
        )
    flows, heads = np.array(points).T
    efficiencies = _efficiencies(curve)
    return viscous_curve(
        flow_m3_per_s=flows,
        head_m=heads,
        efficiency=None if efficiencies is None else np.array(efficiencies[1]),
        kinematic_viscosity_m2_per_s=viscosity,
        best_flow_m3_per_s=best,
        best_head_per_stage_m=float(pieces_through(flows, heads).evaluate(np.array(best))[0]),
        speed_rpm=curve.speed_rpm,
    )


def _best_flow(pump: PumpFacts) -> float | None:
    """Return the flow of best efficiency in m3/s at the first curve's speed: stated, else the rated flow."""
    stated = _efficiency_points(pump.curves[0])
    if stated:
        return float(max(stated, key=lambda row: row[1])[0])
    return None if pump.rated_flow_m3_per_h is None else float(pump.rated_flow_m3_per_h / HOUR_S)


def thick_notes(pump: PumpFacts, viscosity_m2_per_s: float) -> tuple[str, ...]:
    """Return a caution where a liquid of this viscosity would need a correction, for a curve taken as tested."""
    best = _best_flow(pump)
    if thicker := _tested_thicker(pump, viscosity_m2_per_s):
        return thicker
    if pump.kind != "centrifugal" or best is None or _tested_alike(pump, viscosity_m2_per_s):
        return ()
    flows, heads = np.array(_head_points(pump.curves[0])).T
    head = float(pieces_through(flows, heads).evaluate(np.array(best))[0])
    if not 1.0 <= head <= 3000.0:
        return ()
    try:
        b = float(parameter_b(viscosity_m2_per_s, best, head, pump.curves[0].speed_rpm))
    except OutOfRangeError as error:
        return (f"{pump.name}: whether this liquid takes head and flow off the curve can't be told. {error}",)
    if b <= NO_CORRECTION_TO_B:
        return ()
    return (
        (
            f"{pump.name}: this liquid is thick enough (B = {b:.1f} by ANSI/HI 9.6.7) to take head and flow off the"
            " curve, and no correction is made; choose the viscosity correction unless the curve was tested with such"
            " a liquid."
        ),
    )


def _tested_alike(pump: PumpFacts, viscosity_m2_per_s: float) -> bool:
    """Tell whether the curve was tested with a liquid about as thick as this one."""
    tested = pump.curves[0].tested_viscosity_mm2_per_s
    return tested is not None and viscosity_m2_per_s / MM2_PER_S <= (1.0 + _SAME_VISCOSITY) * tested


def _tested_thicker(pump: PumpFacts, viscosity_m2_per_s: float) -> tuple[str, ...]:
    """Return a caution where a curve was tested with a thicker liquid than the one to be pumped."""
    tested, pumped = pump.curves[0].tested_viscosity_mm2_per_s, viscosity_m2_per_s / MM2_PER_S
    if tested is None or tested <= THIN_MM2_PER_S or pumped >= (1.0 - _SAME_VISCOSITY) * tested:
        return ()
    told = (
        f"{pump.name}: its curve was tested with {tested:g} mm²/s, and this liquid has {pumped:.3g} mm²/s: the pump"
        " gives more head than the curve says, how much is not decided. Ask for the curve with water."
    )
    return (told,)


def _efficiencies(curve: PumpCurve) -> tuple[list[float], list[float]] | None:
    stated = _efficiency_points(curve)
    if len(stated) < 2:
        return None
    return [flow for flow, _ in stated], [efficiency for _, efficiency in stated]


def _efficiency_points(curve: PumpCurve) -> list[tuple[float, float]]:
    """Return flows in m3/s with efficiencies (fractions), as stated or from the shaft power with water."""
    found = []
    for point in curve.points or []:
        stated = point.efficiency_percent
        efficiency = efficiency_by_power(point) if stated is None else stated / 100.0
        if efficiency is not None:
            found.append((point.flow_m3_per_h / HOUR_S, efficiency))
    return found


def _efficiency(pump: PumpFacts, thick: Sequence[ViscousCurve] | None, kept: float) -> AtSpeed | None:
    for i, curve in enumerate(pump.curves):
        stated = _efficiencies(curve)
        if stated is not None:
            flow_factor, factor = _factors(thick[i]) if thick else (1.0, 1.0)
            flows = [flow * flow_factor for flow in stated[0]]
            return AtSpeed(pieces_through(flows, [value * factor * kept for value in stated[1]]), curve.speed_rpm)
    return None


def _factors(thick: ViscousCurve) -> tuple[float, float]:
    correction = thick.correction
    return _single(correction.flow_factor), _single(correction.efficiency_factor)


def _single(values: Array) -> float:
    return float(np.asarray(values).reshape(-1)[0])


def _npsh(pump: PumpFacts) -> AtSpeed | None:
    for curve in pump.curves:
        stated = [
            (p.flow_m3_per_h / HOUR_S, p.npsh_required_m) for p in curve.points or [] if p.npsh_required_m is not None
        ]
        if len(stated) >= 2:
            return AtSpeed(pieces_through([flow for flow, _ in stated], [npsh for _, npsh in stated]), curve.speed_rpm)
    return None


def _misfit_note(pump: PumpFacts) -> tuple[str, ...]:
    if len(pump.curves) < 2 or pump.kind != "centrifugal":
        return ()
    worst = affinity_misfit(curves_of(pump))
    if worst < MISFIT_WORTH_SAYING:
        return ()
    return (
        (
            f"{pump.name}: the tested curves differ by up to {100.0 * worst:.1f} % of head from what the affinity laws"
            " make of one another; between tested speeds the head is interpolated."
        ),
    )
