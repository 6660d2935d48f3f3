"""How sure an answer is: the same case sampled over its tolerances, through the same arrays (pure: no Django)."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np

from compat.case.answer import binding_of_each
from compat.case.case_file import CaseError, CaseFile
from compat.case.tolerances import changed, ends, place_of
from shared.calc.errors import InputError

SAMPLES = 1024
MOST_SAMPLES = 16_384
SEED = 20_240_607  # any fixed number: the same case gives the same answer


@dataclass(frozen=True)
class Spread:
    """The rate that is exceeded with a chance of 90, 50 and 10 in a hundred, and how often each limit binds.

    ``no_point`` is the share of samples without an operating point; they count as no rate at all.
    """

    samples: int
    seed: int
    rate_p10_m3_per_h: float
    rate_p50_m3_per_h: float
    rate_p90_m3_per_h: float
    binding: dict[str, float]
    no_point: float


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
    p10, p50, p90 = np.percentile(flows, [10, 50, 90])
    counted = Counter(bindings)
    missing = counted.pop("", 0)
    shares = {key: count / len(cases) for key, count in counted.most_common()}
    return Spread(len(cases), seed, float(p10), float(p50), float(p90), shares, missing / len(cases))
