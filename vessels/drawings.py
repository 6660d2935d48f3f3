"""The picture of a pump: its tested curves, and what the affinity laws make of them at the ends of its speed range."""

from __future__ import annotations

import numpy as np

from shared.calc.arrays import repeat_row
from shared.calc.units import HOUR_S
from shared.pictures import HeadCurve, PictureUnits, hq_picture
from vessels.calc.pump import PumpCurves, greatest_tested_flow, pump_head, stack_curves
from vessels.facts import PumpFacts
from vessels.pump_curves import curves_of

_POINTS_DRAWN = 60
_SAME_SPEED = 0.01  # of the speed itself: closer ones would be drawn on one another


def pump_picture(pump: PumpFacts, units: PictureUnits) -> bytes:
    """Draw a pump's head over flow at each tested speed, and at its least and greatest speed where not tested."""
    curves = stack_curves([curves_of(pump)])
    drawn = [_curve_at(curves, pump, speed) for speed in _speeds(pump)]
    return hq_picture(drawn, title=f"{pump.name}: head over flow", units=units)


def _speeds(pump: PumpFacts) -> list[float]:
    speeds = [curve.speed_rpm for curve in pump.curves]
    for end in (pump.least_speed_rpm, pump.greatest_speed_rpm):
        if all(abs(end - speed) > _SAME_SPEED * speed for speed in speeds):
            speeds.append(end)
    return sorted(speeds, reverse=True)


def _curve_at(curves: PumpCurves, pump: PumpFacts, speed_rpm: float) -> HeadCurve:
    last = float(greatest_tested_flow(curves, np.array([speed_rpm]))[0])
    flows = np.linspace(0.0, last, _POINTS_DRAWN)
    heads, _, _ = pump_head(repeat_row(curves, _POINTS_DRAWN), flows, np.full_like(flows, speed_rpm))
    tested = next((curve for curve in pump.curves if curve.speed_rpm == speed_rpm), None)
    points = tested.points or [] if tested else []
    return HeadCurve(
        f"{speed_rpm:,.0f} rpm, {'tested' if tested else 'worked out'}",
        (flows * HOUR_S).tolist(),
        heads.tolist(),
        [point.flow_m3_per_h for point in points],
        [point.head_m for point in points],
        worked_out=tested is None,
    )
