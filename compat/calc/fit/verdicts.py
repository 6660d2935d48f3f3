"""What a check comes to: within, by agreement, not decided or outside, with value, limit and margin.

Arrays of any shape; a number that is not known is not a number (NaN), and an absent limit is infinite.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shared.calc.root import Array, Flags

Verdicts = NDArray[np.int8]
NOT_APPLICABLE, WITHIN, AGREE, UNDECIDED, OUTSIDE = np.arange(5, dtype=np.int8)
_DUST = 1e-9  # fraction of a limit below which a difference is the dust of binary fractions, so that at it is within


@dataclass(frozen=True)
class Judged:
    """Verdict, value, the limit it is held against, and what is left (below zero: exceeded); in one unit."""

    verdict: Verdicts
    value: Array
    limit: Array
    margin: Array


def at_most(value: Array, most: Array) -> Judged:
    """Judge a value against an upper limit; infinity is no limit, whatever the value."""
    value, most = np.broadcast_arrays(np.asarray(value, dtype=float), np.asarray(most, dtype=float))
    with np.errstate(invalid="ignore"):
        margin = most - value
    return _judged(value, most, margin, np.isposinf(most))


def at_least(value: Array, least: Array) -> Judged:
    """Judge a value against a lower limit; minus infinity is no limit, whatever the value."""
    value, least = np.broadcast_arrays(np.asarray(value, dtype=float), np.asarray(least, dtype=float))
    with np.errstate(invalid="ignore"):
        margin = value - least
    return _judged(value, least, margin, np.isneginf(least))


def between(value: Array, least: Array, most: Array) -> Judged:
    """Judge a value against both limits; the limit told is the one that decides."""
    return worst([at_least(value, least), at_most(value, most)])


def allowed(is_allowed: Array) -> Judged:
    """Judge a yes (1), a no (0) or a not known (NaN); there is no margin."""
    flag = np.asarray(is_allowed, dtype=float)
    verdict = np.where(np.isnan(flag), UNDECIDED, np.where(flag > 0, WITHIN, OUTSIDE)).astype(np.int8)
    nothing = np.full(flag.shape, np.nan)
    return Judged(verdict, nothing, nothing, nothing)


def worst(judgements: list[Judged]) -> Judged:
    """Return the judgement that decides in each place: the worst verdict, among equals the least margin."""
    verdict, value, limit, margin = (np.stack(parts, -1) for parts in zip(*map(_parts, judgements), strict=True))
    stacked = Judged(verdict.astype(np.int8), value.astype(float), limit.astype(float), margin.astype(float))
    return worst_along(stacked)


def worst_along(judged: Judged) -> Judged:
    """Return the judgement that decides along the last axis: the worst verdict, among equals the least margin."""
    scale = np.maximum(np.abs(np.where(np.isfinite(judged.limit), judged.limit, 1.0)), 1e-30)
    left = np.where(np.isnan(judged.margin), np.inf, judged.margin) / scale
    decides = judged.verdict == judged.verdict.max(-1, keepdims=True)
    place = np.where(decides, left, np.inf).argmin(-1)
    first = decides.argmax(-1)  # where no margin is known
    place = np.where(np.take_along_axis(decides, place[..., None], -1)[..., 0], place, first)[..., None]
    verdict, value, limit, margin = (np.take_along_axis(part, place, -1)[..., 0] for part in _parts(judged))
    return Judged(verdict.astype(np.int8), value.astype(float), limit.astype(float), margin.astype(float))


def by_agreement(judged: Judged, where: Flags | bool = True) -> Judged:
    """Let what is outside be a matter of agreement instead, where that is so."""
    soft = (judged.verdict == OUTSIDE) & where
    return Judged(np.where(soft, AGREE, judged.verdict).astype(np.int8), judged.value, judged.limit, judged.margin)


def only_where(judged: Judged, applies: Flags) -> Judged:
    """Take a check out where it does not apply."""
    verdict = np.where(applies, judged.verdict, NOT_APPLICABLE).astype(np.int8)
    return Judged(verdict, judged.value, judged.limit, judged.margin)


def _parts(judged: Judged) -> tuple[np.ndarray, ...]:
    return judged.verdict, judged.value, judged.limit, judged.margin


def _judged(value: Array, limit: Array, margin: Array, no_limit: Flags) -> Judged:
    room = _DUST * np.maximum(np.abs(np.where(np.isfinite(limit), limit, 0.0)), 1.0)
    with np.errstate(invalid="ignore"):
        verdict = np.where(margin >= -room, WITHIN, OUTSIDE)
    verdict = np.where(np.isnan(margin), UNDECIDED, verdict)
    verdict = np.where(no_limit, WITHIN, verdict)
    return Judged(verdict.astype(np.int8), value, limit, np.where(no_limit, np.inf, margin))
