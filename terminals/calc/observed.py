"""A shore known only by observed pairs of rate and manifold head: static + k Q^m, fitted within physical bounds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shared.calc.errors import InputError
from shared.calc.root import Array

LEAST_EXPONENT, GREATEST_EXPONENT = 1.75, 2.0  # smooth turbulent (Blasius) to fully rough pipe
LEAST_PAIRS = 2
PAIRS_FOR_EXPONENT = 4  # below this the exponent is held at its greatest, which never promises too much beyond


@dataclass(frozen=True)
class ObservedShore:
    """Manifold head in m = static_head_m + coefficient * flow^exponent, flow in m3/s, trusted between two flows."""

    static_head_m: float
    coefficient: float
    exponent: float
    residual_m: Array
    least_trusted_m3_per_s: float
    greatest_trusted_m3_per_s: float


def fit_observed(flow_m3_per_s: Array, head_m: Array) -> ObservedShore:
    """Fit static + k Q^m to at least two observed pairs, in rising order of flow, head rising with it.

    k >= 0 and m lies between 1.75 and 2 (with fewer than four pairs m = 2); the static head is not above the
    least observed one. Raises InputError for too few pairs or pairs that fall.
    """
    flow, head = np.asarray(flow_m3_per_s, dtype=float), np.asarray(head_m, dtype=float)
    if flow.size < LEAST_PAIRS:
        raise InputError(f"{flow.size} observed pair is given; allowed: {LEAST_PAIRS} or more at different rates.")
    if (np.diff(flow) <= 0).any() or (np.diff(head) <= 0).any():
        raise InputError(
            "The observed pressure does not rise with the rate; correct the pairs or take a stray one out."
        )
    if flow.size < PAIRS_FOR_EXPONENT:
        return _fitted(flow, head, GREATEST_EXPONENT)
    candidates = [_fitted(flow, head, m) for m in (LEAST_EXPONENT, GREATEST_EXPONENT)]
    from scipy.optimize import least_squares  # noqa: PLC0415 - slow to import, and few berths need it

    found = least_squares(
        lambda m: _fitted(flow, head, float(m[0])).residual_m,
        x0=[1.9],
        bounds=([LEAST_EXPONENT], [GREATEST_EXPONENT]),
        xtol=1e-12,
        ftol=1e-12,
        gtol=1e-15,  # it is scaled by the distance to a bound, and would end the search early beside one
    )
    candidates.append(_fitted(flow, head, float(found.x[0])))
    return min(candidates, key=lambda fitted: float(np.sum(fitted.residual_m**2)))


def _fitted(flow: Array, head: Array, exponent: float) -> ObservedShore:
    """Fit static head and k for one exponent: a straight line in Q^m, kept from leaning backward."""
    x = flow**exponent
    slope, static = np.polyfit(x, head, 1)
    if static > head.min():  # a static head above an observed one would be no static head
        static = head.min()
        slope = float((x * (head - static)).sum() / (x * x).sum())
    slope = max(float(slope), 0.0)
    residual = static + slope * x - head
    return ObservedShore(float(static), slope, exponent, residual, float(flow[0]), float(flow[-1]))


def coefficient_for(observed: ObservedShore, viscosity_ratio: float) -> float:
    """Return k for another liquid, whose kinematic viscosity is ``viscosity_ratio`` times the observed one's.

    By similarity h ~ nu^(2 - m) Q^m: a loss that goes with Q^m depends on viscosity by the remaining power, as in
    Blasius' law (White, Fluid Mechanics, ch. 6). Fully rough pipe, m = 2, does not depend on it at all.
    """
    return float(observed.coefficient * viscosity_ratio ** (2.0 - observed.exponent))
