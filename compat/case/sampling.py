"""How sure an answer is: the same case sampled over its tolerances, through the same arrays (pure: no Django)."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np

from compat.case.answer import binding_of_each
from compat.case.case_file import CaseError, CaseFile
from compat.case.tolerances import changed, ends, place_of
from shared.calc.errors import InputError
from shared.calc.root import Array

SAMPLES = 1024
MOST_SAMPLES = 16_384
SEED = 20_240_607  # any fixed number: the same case gives the same answer
_END_SHARE = 0.1  # of the samples: those at either end of one tolerance, over which the rate is averaged


@dataclass(frozen=True)
class Influence:
    """The mean rate of the samples in which one number is in the lowest, and in the highest, tenth of its tolerance."""

    key: str
    rate_at_low_end_m3_per_h: float
    rate_at_high_end_m3_per_h: float


@dataclass(frozen=True)
class Spread:
    """The rate that is exceeded with a chance of 90, 50 and 10 in a hundred, and how often each limit binds.

    ``no_point`` is the share of samples without an operating point; they count as no rate at all.
    ``percentiles_m3_per_h`` are the rates below which 0, 1, 2 … 100 in a hundred samples lie; ``influences`` stand in
    the order of the tolerances.
    """

    samples: int
    seed: int
    rate_p10_m3_per_h: float
    rate_p50_m3_per_h: float
    rate_p90_m3_per_h: float
    binding: dict[str, float]
    no_point: float
    percentiles_m3_per_h: tuple[float, ...]
    influences: tuple[Influence, ...]


def spread_of(case: CaseFile, samples: int = SAMPLES, seed: int = SEED) -> Spread | None:
    """Return how the rate spreads over the stated tolerances (Sobol' points, scrambled), or nothing without any.

    ``samples`` is rounded up to a power of two, 2 to 16,384. Raises CaseError for a tolerance that does not fit.
    """
    if not case.tolerances:
        return None
    if not 2 <= samples <= MOST_SAMPLES:
        raise CaseError([f"samples is {samples}; allowed: 2 to {MOST_SAMPLES:,}."])
    from scipy.stats import qmc  # noqa: PLC0415 - half a second to import, which most answers need not wait for

    low, high = np.array([ends(case, tolerance) for tolerance in case.tolerances]).T
    points = qmc.Sobol(d=low.size, scramble=True, rng=seed).random_base2(int(np.ceil(np.log2(samples))))
    places = [place_of(tolerance.key) for tolerance in case.tolerances]
    scaled = qmc.scale(points, low, high).tolist()
    cases = [changed(case, dict(zip(places, row, strict=True))) for row in scaled]
    try:
        flows, bindings = binding_of_each(cases)
    except InputError as error:
        raise CaseError([f"Within the tolerances, taken together: {error}"]) from None
    percentiles = np.percentile(flows, np.arange(101)).tolist()
    counted = Counter(bindings)
    missing = counted.pop("", 0)
    return Spread(
        samples=len(cases),
        seed=seed,
        rate_p10_m3_per_h=percentiles[10],
        rate_p50_m3_per_h=percentiles[50],
        rate_p90_m3_per_h=percentiles[90],
        binding={key: count / len(cases) for key, count in counted.most_common()},
        no_point=missing / len(cases),
        percentiles_m3_per_h=tuple(percentiles),
        influences=tuple(_influence(tolerance.key, points[:, i], flows) for i, tolerance in enumerate(case.tolerances)),
    )


def _influence(key: str, place: Array, flows: Array) -> Influence:
    """``place`` is where each sample lies within a tolerance, 0 at its low end and 1 at its high end."""
    order = flows[np.argsort(place, kind="stable")]
    many = max(1, round(_END_SHARE * flows.size))
    return Influence(key, float(order[:many].mean()), float(order[-many:].mean()))
