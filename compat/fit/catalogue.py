"""All checks of a ship at a berth, in the order in which they are shown, and their verdicts over pairs (pure)."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

import numpy as np

from compat.calc.fit.verdicts import AGREE, NOT_APPLICABLE, OUTSIDE, UNDECIDED, WITHIN, Judged, Verdicts
from compat.fit.check import Check
from compat.fit.columns import Pairs
from compat.fit.connection_checks import CONNECTION_CHECKS
from compat.fit.service_checks import SERVICE_CHECKS
from compat.fit.size_checks import SIZE_CHECKS, TIDE_WINDOW
from shared.calc.root import Array

Word = Literal["does not apply", "within", "needs agreement", "not decided", "outside"]
WORDS: MappingProxyType[int, Word] = MappingProxyType(
    {
        int(NOT_APPLICABLE): "does not apply",
        int(WITHIN): "within",
        int(AGREE): "needs agreement",
        int(UNDECIDED): "not decided",
        int(OUTSIDE): "outside",
    }
)
# Stored screenings count checks by their place: a new one goes last.
CHECKS: tuple[Check, ...] = (*SIZE_CHECKS, *CONNECTION_CHECKS, *SERVICE_CHECKS, TIDE_WINDOW)
CHECKS_BY_KEY = MappingProxyType({check.key: check for check in CHECKS})
_BITS = 1 << np.arange(len(CHECKS), dtype=np.int64)
_NARROW = 0.05
"""Fraction of a limit: within it a margin is narrow enough that the facts behind it decide the answer."""


@dataclass(frozen=True)
class Verdict:
    """What all checks together say of each pair; ``deciding`` is the place in CHECKS of the check that decides.

    ``undecided`` counts the checks that are not decided, ``open_checks`` has a bit for each of them; all (pairs,).
    """

    overall: Verdicts
    deciding: np.ndarray
    undecided: np.ndarray
    open_checks: np.ndarray


def judge_all(pairs: Pairs) -> list[Judged]:
    """Return what each check says of each pair, in the order of CHECKS."""
    with np.errstate(invalid="ignore"):
        return [check.rule(pairs) for check in CHECKS]


def verdict_of(judged: list[Judged]) -> Verdict:
    """Return what all checks together say: outside if one is, else not decided, else by agreement, else within."""
    matrix = np.stack([one.verdict for one in judged], -1)
    overall = matrix.max(-1)
    left = np.stack([_left(check, one) for check, one in zip(CHECKS, judged, strict=True)], -1)
    decides = matrix == overall[..., None]
    deciding = np.where(decides, left, np.inf).argmin(-1)
    first = decides.argmax(-1)
    deciding = np.where(np.take_along_axis(decides, deciding[..., None], -1)[..., 0], deciding, first)
    undecided = matrix == UNDECIDED
    return Verdict(overall, deciding, undecided.sum(-1), undecided @ _BITS)


def relative_margin(judged: Judged) -> Array:
    """Return the margin as a fraction of the limit; infinite where there is none."""
    scale = np.maximum(np.abs(np.where(np.isfinite(judged.limit), judged.limit, 1.0)), 1e-9)
    return np.where(np.isnan(judged.margin), np.inf, judged.margin) / scale


def _left(check: Check, judged: Judged) -> Array:
    """Return the relative margin; what is counted or has no limit but zero is no tighter for being even."""
    even = (judged.verdict == WITHIN) & ((judged.limit == 0.0) | (check.unit in {"1", ""}))
    return np.where(even, np.inf, relative_margin(judged))


def is_narrow(check: Check, judged: Judged) -> np.ndarray:
    """Tell where a check is not passed with room to spare, so that the facts behind it decide; counts may be even."""
    failed = (judged.verdict == OUTSIDE) | (judged.verdict == AGREE)
    measured = (judged.limit != 0.0) & (check.unit not in {"1", ""})
    narrow: np.ndarray = failed | ((judged.verdict == WITHIN) & (relative_margin(judged) <= _NARROW) & measured)
    return narrow
