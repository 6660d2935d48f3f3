"""Sampled curves: the one gatekeeper for points, and their shape-preserving interpolant."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from shared.calc.root import Array, Flags


def check_falling_curve(flows_m3_per_h: Sequence[float], heads_m: Sequence[float]) -> None:
    """Raise ValueError with a sentence unless flow rises and head falls from each point to the next."""
    if len(flows_m3_per_h) < 2:
        raise ValueError("a curve needs at least two points.")
    points = list(zip(flows_m3_per_h, heads_m, strict=True))
    for (flow, head), (next_flow, next_head) in pairwise(points):
        if next_flow == flow:
            raise ValueError(f"two points are given at {flow:g} m³/h; keep one of them.")
        if next_flow < flow:
            raise ValueError(f"the point at {next_flow:g} m³/h stands after {flow:g} m³/h; put the flows in rising order.")
        if next_head >= head:
            raise ValueError(
                f"head does not fall from {head:g} m at {flow:g} m³/h to {next_head:g} m at {next_flow:g} m³/h;"
                " a curve that rises with flow has no single operating point, so correct the points or start after the hump."
            )


@dataclass(frozen=True)
class Pieces:
    """Piecewise cubics as arrays; axis -1 of ``knots`` runs along one curve, padded with infinity.

    Piece j holds from knot j-1 to knot j: value = c0 + c1 d + c2 d^2 + c3 d^3 with d = x - origin.
    Pieces 0 and last are straight lines beyond the points, so that a solver keeps its bracket;
    whoever asks there is told by ``beyond``.
    """

    knots: Array
    origin: Array
    coefficients: Array

    def evaluate(self, x: Array) -> tuple[Array, Array]:
        """Return value and slope at ``x``, which has the shape of ``knots`` without its last axis."""
        piece = (x[..., None] >= self.knots).sum(axis=-1)[..., None]
        d = x - np.take_along_axis(self.origin, piece, axis=-1)[..., 0]
        c = np.take_along_axis(self.coefficients, piece[..., None], axis=-2)[..., 0, :]
        value = ((c[..., 3] * d + c[..., 2]) * d + c[..., 1]) * d + c[..., 0]
        slope = (3.0 * c[..., 3] * d + 2.0 * c[..., 2]) * d + c[..., 1]
        return value, slope

    def beyond(self, x: Array) -> Flags:
        """Tell where ``x`` lies outside the points; a curve without points has no outside."""
        here = np.isfinite(self.knots)
        has_points = here[..., 0]
        first = np.where(has_points, self.knots[..., 0], 0.0)
        last = np.where(here, self.knots, 0.0).max(axis=-1)
        slack = 1e-9 * np.abs(last)
        return np.asarray(has_points & ((x < first - slack) | (x > last + slack)))


def pieces_through(x: Sequence[float], y: Sequence[float]) -> Pieces:
    """Return the monotone cubic interpolant (Fritsch & Butland 1984) through points with rising ``x``.

    It goes through its points exactly and never overshoots them. Beyond the ends it goes on straight,
    at the end slope or at the last chord's slope, whichever is steeper.
    """
    from scipy.interpolate import PchipInterpolator  # costs a third of a second to import

    xs, ys = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    inner = PchipInterpolator(xs, ys).c[::-1].T  # lowest power first
    chords = np.diff(ys) / np.diff(xs)
    ends = PchipInterpolator(xs, ys).derivative()(xs[[0, -1]])
    first = chords[0] if abs(chords[0]) > abs(ends[0]) else ends[0]
    last = chords[-1] if abs(chords[-1]) > abs(ends[1]) else ends[1]
    left = np.array([[ys[0], first, 0.0, 0.0]])
    right = np.array([[ys[-1], last, 0.0, 0.0]])
    return Pieces(xs, np.concatenate([xs[:1], xs]), np.concatenate([left, inner, right]))


def constant_pieces(value: float) -> Pieces:
    """Return a curve that has one value everywhere and no points to be beyond of."""
    coefficients = np.array([[value, 0.0, 0.0, 0.0]] * 2)
    return Pieces(np.array([np.inf]), np.zeros(2), coefficients)


def stack_pieces(curves: Sequence[Pieces]) -> Pieces:
    """Stack single curves along a new first axis, padding short ones with pieces that are never reached."""
    most = max(curve.knots.shape[-1] for curve in curves)
    knots, origin, coefficients = [], [], []
    for curve in curves:
        missing = (0, most - curve.knots.shape[-1])
        knots.append(np.pad(curve.knots, missing, constant_values=np.inf))
        origin.append(np.pad(curve.origin, missing))
        coefficients.append(np.pad(curve.coefficients, (missing, (0, 0))))
    return Pieces(np.stack(knots), np.stack(origin), np.stack(coefficients))
