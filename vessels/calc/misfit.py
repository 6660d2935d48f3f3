"""How far curves tested at several speeds disagree with the affinity laws."""

from __future__ import annotations

import numpy as np

from shared.calc.arrays import repeat_row, take
from vessels.calc.pump import PumpCurves, greatest_tested_flow, pump_head, stack_curves

_PLACES = 21


def affinity_misfit(curves: PumpCurves) -> float:
    """Return the largest relative difference in head between each tested curve and the fastest one carried to it.

    ``curves`` are those of one pump. They are compared over the flows that both of them cover.
    """
    fastest = _only(curves, -1)
    worst = 0.0
    for i in range(curves.speed_rpm.size - 1):
        slower = _only(curves, i)
        speed = float(slower.speed_rpm[0, 0])
        first = max(_first_flow(slower, speed), _first_flow(fastest, speed))
        last = min(float(greatest_tested_flow(one, np.array([speed]))[0]) for one in (slower, fastest))
        flows, speeds = np.linspace(first, last, _PLACES), np.full(_PLACES, speed)
        own = pump_head(repeat_row(slower, _PLACES), flows, speeds)[0]
        carried = pump_head(repeat_row(fastest, _PLACES), flows, speeds)[0]
        here = own > 0.0
        worst = max(worst, float(np.abs(carried[here] / own[here] - 1.0).max(initial=0.0)))
    return worst


def _first_flow(one: PumpCurves, speed_rpm: float) -> float:
    """Return the first tested flow in m3/s carried to a speed; an algebraic curve starts at no flow."""
    first = float(one.head.knots[0, 0, 0])
    return first * speed_rpm / float(one.speed_rpm[0, 0]) if np.isfinite(first) else 0.0


def _only(curves: PumpCurves, index: int) -> PumpCurves:
    """Return one tested curve as a pump of its own."""
    return stack_curves([take(curves, np.array([index]))])
