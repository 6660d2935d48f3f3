"""Depth, air draught and manifold height over the moments of a stay; lengths in m over the berth's zero.

Arrays of moments have the pairs on the first axis and the moments on the last. A stay of which no tide is known has
four moments: arrival and departure draught, each at the lowest and the highest water.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from compat.calc.fit.verdicts import AGREE, OUTSIDE, WITHIN, Judged, at_least, at_most, worst, worst_along
from shared.calc.root import Array


@dataclass(frozen=True)
class Moments:
    """Water level over the berth's zero and draught at each moment, (pairs, moments); NaN where not known."""

    water_m: Array
    draught_m: Array

    @property
    def keel_m(self) -> Array:
        """Keel over the berth's zero."""
        return self.water_m - self.draught_m


def four_moments(arrival_m: Array, departure_m: Array, lowest_m: Array, highest_m: Array) -> Moments:
    """Return arrival and departure draught, each at lowest and highest water, in this order; all (pairs,)."""
    arrival, departure, low, high = np.broadcast_arrays(arrival_m, departure_m, lowest_m, highest_m)
    return Moments(np.stack([low, high, low, high], -1), np.stack([arrival, arrival, departure, departure], -1))


def clearance_asked(
    draught_m: Array, beam_m: Array, fixed_m: Array, percent_of_draught: Array, percent_of_beam: Array
) -> Array:
    """Return the under-keel clearance asked for: the greatest of what is stated, NaN where nothing is.

    ``draught_m`` is (pairs, moments), the others (pairs,). A part of a length that is not known is not known.
    """
    parts = np.stack(
        [
            np.broadcast_to(fixed_m[..., None], draught_m.shape),
            percent_of_draught[..., None] / 100.0 * draught_m,
            np.broadcast_to((percent_of_beam / 100.0 * beam_m)[..., None], draught_m.shape),
        ]
    )
    stated = ~np.isnan(np.stack([fixed_m, percent_of_draught, percent_of_beam]))[..., None]
    asked = np.where(stated, parts, -np.inf).max(0)
    return np.where(stated.any(0), asked, np.nan)


def under_keel(moments: Moments, depth_m: Array, asked_m: Array, *, tide_known: Array) -> Judged:
    """Judge the clearance under the keel at every moment against what is asked; ``tide_known`` 1 where hours are.

    Where only the lowest and highest waters are known, a ship that is too deep at the lowest water, but not at the
    highest on arrival nor when she leaves, can come on a tide: that is a matter of agreement, not of refusal.
    """
    judged = at_least(depth_m[..., None] + moments.keel_m, asked_m)
    found = worst_along(judged)
    if moments.water_m.shape[-1] != 4:
        return found
    verdict = judged.verdict
    on_a_tide = (verdict[..., 1] == WITHIN) & (verdict[..., 2] == WITHIN) & (verdict[..., 3] == WITHIN)
    soft = (found.verdict == OUTSIDE) & on_a_tide & (tide_known == 0)
    return Judged(np.where(soft, AGREE, found.verdict).astype(np.int8), found.value, found.limit, found.margin)


def hours_until_deep_enough(clearance_m: Array, asked_m: Array, stay_h: Array) -> Array:
    """Return the hours from arrival until the clearance is enough; infinite where it never is within the stay.

    Clearances are (pairs, moments), evenly over the stay; between two moments the clearance goes straight. NaN where
    a clearance is not known.
    """
    left = clearance_m - asked_m
    step_h = stay_h / (left.shape[-1] - 1)
    enough = left >= 0.0
    first = enough.argmax(-1)
    before = np.maximum(first - 1, 0)
    one, other = (np.take_along_axis(left, place[..., None], -1)[..., 0] for place in (before, first))
    with np.errstate(invalid="ignore", divide="ignore"):
        part = np.where(first > 0, -one / (other - one), 0.0)
    wait = np.where(enough.any(-1), (before + part) * step_h, np.inf)
    return np.where(np.isnan(left).any(-1), np.nan, wait)


def overhead(moments: Moments, keel_to_top_m: Array, underside_m: Array, asked_m: Array) -> Judged:
    """Judge the clearance below a bridge or cable at every moment; an infinite underside is no limit."""
    clearance = underside_m[..., None] - (moments.keel_m + keel_to_top_m[..., None])
    least = np.where(np.isposinf(underside_m), -np.inf, asked_m)[..., None]
    return worst_along(at_least(clearance, np.broadcast_to(least, clearance.shape)))


def manifold_lowest(moments: Moments, manifold_m: Array, lowest_m: Array) -> Judged:
    """Judge the lowest manifold of the stay against the lowest that the arms reach; ``manifold_m`` over the keel."""
    return worst_along(at_least(moments.keel_m + manifold_m[..., None], lowest_m[..., None]))


def manifold_highest(moments: Moments, manifold_m: Array, highest_m: Array) -> Judged:
    """Judge the highest manifold of the stay against the highest that the arms reach."""
    return worst_along(at_most(moments.keel_m + manifold_m[..., None], highest_m[..., None]))


def flat_side(forward_m: Array, aft_m: Array, fender_forward_m: Array, fender_aft_m: Array) -> Judged:
    """Judge the flat side against the outermost fenders, forward and aft of the manifold."""
    return worst([at_least(forward_m, fender_forward_m), at_least(aft_m, fender_aft_m)])
