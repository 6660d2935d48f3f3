"""How far curves tested at several speeds disagree with the affinity laws."""

from __future__ import annotations

import numpy as np

from vessels.calc.pump import PumpCurves, greatest_tested_flow, pump_head, stack_curves

_PLACES = 21


def affinity_misfit(curves: PumpCurves) -> float:
    """Return the largest relative difference in head between each tested curve and the fastest one carried to it.

    ``curves`` are those of one pump. They are compared over the flows that both of them cover.
    """
    tested = stack_curves([curves])
    fastest = curves.speed_rpm[-1]
    worst = 0.0
    for i, speed in enumerate(curves.speed_rpm[:-1]):
        alone = stack_curves([_only(curves, -1)])
        last = min(
            float(greatest_tested_flow(stack_curves([_only(curves, i)]), np.array([speed]))[0]),
            float(greatest_tested_flow(alone, np.array([fastest]))[0]) * speed / fastest,
        )
        for flow in np.linspace(0.0, last, _PLACES):
            own = pump_head(tested, np.array([flow]), np.array([speed]))[0][0]
            carried = pump_head(alone, np.array([flow]), np.array([speed]))[0][0]
            if own > 0.0:
                worst = max(worst, abs(float(carried / own) - 1.0))
    return worst


def _only(curves: PumpCurves, index: int) -> PumpCurves:
    rows = np.array([index])
    head = type(curves.head)(curves.head.knots[rows], curves.head.pieces[rows])
    return PumpCurves(curves.speed_rpm[rows], head, curves.drop[rows], curves.exponent[rows], curves.displaces[rows])
