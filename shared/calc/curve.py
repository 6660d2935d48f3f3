"""Sampled curves: the one gatekeeper for points, and their shape-preserving interpolant."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
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
            raise ValueError(
                f"the point at {next_flow:g} m³/h stands after {flow:g} m³/h; put the flows in rising order."
            )
        if next_head >= head:
            raise ValueError(
                f"head does not fall from {head:g} m at {flow:g} m³/h to {next_head:g} m at {next_flow:g} m³/h;"
                " a curve that rises with flow has no single operating point:"
                " correct the points, or start after the hump."
            )


@dataclass(frozen=True)
class Pieces:
    """Piecewise cubics as arrays; axis -1 of ``knots`` runs along one curve, padded with infinity.

    Piece j holds from knot j-1 to knot j: value = c0 + c1 d + c2 d^2 + c3 d^3 with d = x - origin;
    ``pieces`` has the origin and c0 to c3 on its last axis.
    Pieces 0 and last are straight lines beyond the points, so that a solver keeps its bracket;
    whoever asks there is told by ``beyond``.
    """

    knots: Array
    pieces: Array

    def evaluate(self, x: Array) -> tuple[Array, Array]:
        """Return value and slope at ``x``, which has the shape of ``knots`` without its last axis."""
        piece = (x[..., None] >= self.knots).sum(axis=-1)
        if piece.shape == self.pieces.shape[:-2]:  # one step instead of many: this is the innermost of all searches
            most, width = self.pieces.shape[-2:]
            first = np.arange(0, piece.size * most, most).reshape(piece.shape)
            here = self.pieces.reshape(-1, width)[first + piece]
        else:
            here = np.take_along_axis(self.pieces, piece[..., None, None], axis=-2)[..., 0, :]
        d = x - here[..., 0]
        c1, c2, c3 = here[..., 2], here[..., 3], here[..., 4]
        return ((c3 * d + c2) * d + c1) * d + here[..., 1], (3.0 * c3 * d + 2.0 * c2) * d + c1

    def beyond(self, x: Array) -> Flags:
        """Tell where ``x`` lies outside the points; a curve without points has no outside."""
        here = np.isfinite(self.knots)
        has_points = here[..., 0]
        first = np.where(has_points, self.knots[..., 0], 0.0)
        last = np.where(here, self.knots, 0.0).max(axis=-1)
        slack = 1e-9 * np.abs(last)
        return np.asarray(has_points & ((x < first - slack) | (x > last + slack)))


def pieces_through(x: Sequence[float] | Array, y: Sequence[float] | Array) -> Pieces:
    """Return the monotone cubic interpolant (Fritsch & Butland 1984) through points with rising ``x``.

    It goes through its points exactly and never overshoots them. Beyond the ends it goes on straight,
    at the end slope or at the last chord's slope, whichever is steeper.
    """
    return _pieces_through(tuple(map(float, x)), tuple(map(float, y)))


@lru_cache(maxsize=4096)
def _pieces_through(x: tuple[float, ...], y: tuple[float, ...]) -> Pieces:
    xs, ys = np.array(x), np.array(y)
    widths = np.diff(xs)
    chords = np.diff(ys) / widths
    slopes = _monotone_slopes(widths, chords)
    c2 = (3.0 * chords - 2.0 * slopes[:-1] - slopes[1:]) / widths
    c3 = (slopes[:-1] + slopes[1:] - 2.0 * chords) / widths**2
    inner = np.column_stack([ys[:-1], slopes[:-1], c2, c3])
    first = max(chords[0], slopes[0], key=abs)
    last = max(chords[-1], slopes[-1], key=abs)
    left = np.array([[xs[0], ys[0], first, 0.0, 0.0]])
    right = np.array([[xs[-1], ys[-1], last, 0.0, 0.0]])
    pieces = np.concatenate([left, np.column_stack([xs[:-1], inner]), right])
    for shared in (xs, pieces):
        shared.flags.writeable = False
    return Pieces(xs, pieces)


def _monotone_slopes(widths: Array, chords: Array) -> Array:
    """Return the slope at each point (Fritsch & Butland 1984): a weighted harmonic mean of the chords beside it.

    Written out, since scipy.interpolate takes longer to import than a case takes to answer.
    """
    if chords.size == 1:
        return np.repeat(chords, 2)
    before, after = chords[:-1], chords[1:]
    weight_before, weight_after = 2.0 * widths[1:] + widths[:-1], widths[1:] + 2.0 * widths[:-1]
    rising_or_falling = before * after > 0
    with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
        mean = (weight_before + weight_after) / (weight_before / before + weight_after / after)
    inner = np.where(rising_or_falling, mean, 0.0)
    first = _end_slope(widths[0], widths[1], chords[0], chords[1])
    last = _end_slope(widths[-1], widths[-2], chords[-1], chords[-2])
    return np.concatenate([[first], inner, [last]])


def _end_slope(width: float, next_width: float, chord: float, next_chord: float) -> float:
    """Return the slope of a parabola at its end, held back where it would leave the chord's side."""
    slope = ((2.0 * width + next_width) * chord - width * next_chord) / (width + next_width)
    if slope * chord <= 0:
        return 0.0
    if chord * next_chord <= 0 and abs(slope) > 3.0 * abs(chord):
        return 3.0 * chord
    return slope


def constant_pieces(value: float) -> Pieces:
    """Return a curve that has one value everywhere and no points to be beyond of."""
    return Pieces(np.array([np.inf]), np.array([[0.0, value, 0.0, 0.0, 0.0]] * 2))


def stack_pieces(curves: Sequence[Pieces]) -> Pieces:
    """Stack single curves along a new first axis, padding short ones with pieces that are never reached."""
    most = max(curve.knots.shape[-1] for curve in curves)
    knots, pieces = np.full((len(curves), most), np.inf), np.zeros((len(curves), most + 1, 5))
    for row, curve in enumerate(curves):
        own = curve.knots.shape[-1]
        knots[row, :own] = curve.knots
        pieces[row, : own + 1] = curve.pieces
    return Pieces(knots, pieces)
