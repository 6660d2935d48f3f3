"""Checks that every array calculation owes: the same answer as for single numbers, and inputs left alone."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import ArrayLike


def check_array_answer(function: Callable[..., ArrayLike], *arrays: ArrayLike) -> None:
    """Compare one call on equally long arrays with a call on each of their numbers, and the arrays with themselves."""
    given: list[Any] = [np.array(array, dtype=float) for array in arrays]
    kept = [array.copy() for array in given]
    answer = np.asarray(function(*given))
    singles = [function(*(float(number) for number in numbers)) for numbers in zip(*given, strict=True)]
    np.testing.assert_allclose(answer, np.asarray(singles), rtol=1e-14)
    for before, after in zip(kept, given, strict=True):
        np.testing.assert_array_equal(before, after)
    for array in given:
        assert not np.shares_memory(answer, array)
