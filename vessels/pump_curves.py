"""A pump's stated curves as the arrays that are calculated with (pure: no Django)."""

from __future__ import annotations

from vessels.calc.pump import PumpCurves, curve_by_coefficients, curves_by_points
from vessels.facts import PumpFacts

HOUR_S = 3600.0


def curves_of(pump: PumpFacts) -> PumpCurves:
    """Return the stated curves of a pump, in SI."""
    first = pump.curves[0]
    if first.coefficients is not None:
        stated = first.coefficients
        drop = stated.drop_at_1_m3_per_h_m * HOUR_S**stated.exponent
        return curve_by_coefficients(first.speed_rpm, stated.shut_off_head_m, drop, stated.exponent)
    points = [[(point.flow_m3_per_h / HOUR_S, point.head_m) for point in curve.points or []] for curve in pump.curves]
    return curves_by_points([curve.speed_rpm for curve in pump.curves], points)
