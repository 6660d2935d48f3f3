"""How many arms or hoses can be bolted to a manifold, with the reducers that ship and shore have. No Django.

A flange is a standard and a nominal size; those bolt together that are alike in both. The ship's presentation
flanges are alike; each kind of arm has a flange of its own.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shared.calc.root import Array

# Nominal sizes: inches and DN, in the same order (ASME B36.10 and ISO 6708; from memory).
NOMINAL_INCHES = (2, 3, 4, 6, 8, 10, 12, 14, 16, 18, 20, 24)
NOMINAL_MM = np.array([50.0, 80.0, 100.0, 150.0, 200.0, 250.0, 300.0, 350.0, 400.0, 450.0, 500.0, 600.0])
_NEAREST_WITHIN = 0.07  # fraction of a nominal size within which a stated bore is taken for it
FLANGE_STANDARDS = ("class 150", "class 300", "PN 10", "PN 16")
KINDS_OF_FLANGE = len(FLANGE_STANDARDS) * NOMINAL_MM.size
NOT_KNOWN = -1


def nominal_place(bore_mm: float) -> int:
    """Return the place of the nominal size that a bore in mm is nearest to, or NOT_KNOWN where none is near."""
    place = int(np.abs(NOMINAL_MM - bore_mm).argmin())
    return place if abs(NOMINAL_MM[place] - bore_mm) <= _NEAREST_WITHIN * NOMINAL_MM[place] else NOT_KNOWN


def flange_code(standard: str | None, bore_mm: float | None) -> int:
    """Return one number for a flange's standard and nominal size, or NOT_KNOWN where one of them is missing."""
    if standard not in FLANGE_STANDARDS or bore_mm is None or nominal_place(bore_mm) == NOT_KNOWN:
        return NOT_KNOWN
    return FLANGE_STANDARDS.index(standard) * NOMINAL_MM.size + nominal_place(bore_mm)


def offered(code: int, count: int, reducers: list[tuple[int, int, int]]) -> Array:
    """Return how many flanges of each kind one side can offer: its own, and through one reducer each others.

    ``reducers`` are (own side, other side, how many). An unknown flange offers nothing.
    """
    made = np.zeros(KINDS_OF_FLANGE)
    if code == NOT_KNOWN:
        return made
    for own, other, number in reducers:
        if own == code and other != NOT_KNOWN:
            made[other] += number
    made = np.minimum(made, count)
    made[code] = count
    return made


@dataclass(frozen=True)
class Connected:
    """How many arms bolt up, with and without reducers; NaN where a flange is not known; (pairs,)."""

    with_reducers: Array
    without: Array


def connected(
    ship_offers: Array, connections: Array, arm_offers: Array, arm_counts: Array, arm_code: Array, ship_code: Array
) -> Connected:
    """Return how many arms can be connected.

    ``ship_offers`` (pairs, flanges), ``connections`` (pairs,), ``arm_offers`` (pairs, kinds of arm, flanges),
    ``arm_counts`` and ``arm_code`` (pairs, kinds), ``ship_code`` (pairs,); codes are numbers of ``flange_code``.
    """
    by_kind = np.minimum(np.minimum(ship_offers[..., None, :], arm_offers).sum(-1), arm_counts)
    direct = np.where(arm_code == ship_code[..., None], arm_counts, 0.0)
    known = (ship_code >= 0) & ((arm_code >= 0) | (arm_counts == 0)).all(-1) & ~np.isnan(connections)
    total = np.minimum(by_kind.sum(-1), connections)
    plain = np.minimum(direct.sum(-1), connections)
    return Connected(np.where(known, total, np.nan), np.where(known, plain, np.nan))
