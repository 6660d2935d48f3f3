"""Height of tide between high and low waters: a half cosine wave, and the rule of twelfths beside it. No Django."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from shared.calc.errors import InputError
from shared.calc.root import Array

# Risen after each sixth of the time between low and high water (Admiralty Manual of Navigation; from memory).
_TWELFTHS = np.array([0.0, 1.0, 3.0, 6.0, 9.0, 11.0, 12.0]) / 12.0


@dataclass(frozen=True)
class Tide:
    """High and low waters: times in s, rising, and heights in m over the berth's zero, by turns high and low."""

    time_s: Array
    height_m: Array

    def covers(self, time_s: float) -> bool:
        """Tell whether a time lies between the first and the last water."""
        return bool(self.time_s[0] <= time_s <= self.time_s[-1])

    def height(self, time_s: Array) -> Array:
        """Return the height in m by a half cosine wave from each water to the next; before and after, the end's."""
        low, high, part = self._between(time_s)
        return low + (high - low) * 0.5 * (1.0 - np.cos(np.pi * part))

    def height_by_twelfths(self, time_s: Array) -> Array:
        """Return the height in m by the rule of twelfths: 1, 2, 3, 3, 2, 1 in six equal parts of the time."""
        low, high, part = self._between(time_s)
        return low + (high - low) * np.interp(part, np.linspace(0.0, 1.0, 7), _TWELFTHS)

    def _between(self, time_s: Array) -> tuple[Array, Array, Array]:
        here = np.clip(time_s, self.time_s[0], self.time_s[-1])
        place = np.clip(np.searchsorted(self.time_s, here, side="right") - 1, 0, self.time_s.size - 2)
        start, end = self.time_s[place], self.time_s[place + 1]
        return self.height_m[place], self.height_m[place + 1], (here - start) / (end - start)


def tide_of(time_s: Sequence[float], height_m: Sequence[float]) -> Tide:
    """Return the tide through high and low waters; raise InputError where times or heights are out of order."""
    if len(time_s) < 2 or len(time_s) != len(height_m):
        raise InputError("A tide needs two waters or more, each with its time and its height.")
    for one, other in pairwise(time_s):
        if other <= one:
            raise InputError(
                f"The water at hour {other / 3600:g} stands after hour {one / 3600:g}; put the tide times in order."
            )
    steps = np.diff(np.array(height_m, dtype=float))
    for place, (one, other) in enumerate(pairwise(steps)):
        if one * other >= 0:
            raise InputError(
                f"The water at hour {time_s[place + 1] / 3600:g} is neither high nor low beside its neighbours;"
                " give high and low waters by turns."
            )
    return Tide(np.array(time_s, dtype=float), np.array(height_m, dtype=float))
