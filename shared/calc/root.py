"""Bracketed root finding over arrays: Newton's step where it helps, halving where it does not."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
ValueAndSlope = Callable[[Array], tuple[Array, Array]]


@dataclass(frozen=True)
class Root:
    """Where a falling function crosses zero; ``residual`` is the function there."""

    value: Array
    residual: Array
    converged: Flags
    iterations: int


def find_falling_root(
    function: ValueAndSlope,
    low: Array,
    high: Array,
    *,
    start: Array | None = None,
    tolerance: float | Array = 1e-9,
    most_iterations: int = 100,
) -> Root:
    """Find where each falling function of an array crosses zero between ``low`` and ``high``.

    ``function`` returns value and slope, both in the shape of its argument. It must not be negative at
    ``low`` nor positive at ``high``; where it is, the root is put at that end and, with its residual
    left above ``tolerance``, is not converged. A step that leaves the bracket, or that shrinks more
    slowly than halving would, is replaced by halving, so that every bracketed root is found.
    """
    low, high = np.array(low, dtype=float), np.array(high, dtype=float)
    x = 0.5 * (low + high) if start is None else np.clip(start, low, high)
    last_step = high - low
    value, slope = function(x)
    iterations = 1
    done = np.abs(value) <= tolerance
    while not done.all() and iterations < most_iterations:
        low = np.where(value > 0, x, low)
        high = np.where(value < 0, x, high)
        with np.errstate(divide="ignore", invalid="ignore"):
            newton = np.where(slope < 0, -value / slope, np.inf)
        inside = (x + newton > low) & (x + newton < high) & (2 * np.abs(newton) <= np.abs(last_step))
        step = np.where(inside, newton, 0.5 * (low + high) - x)
        step = np.where(done, 0.0, step)
        moved = x + step
        stuck = (moved == x) | (high - low <= 4e-16 * np.abs(high))
        last_step, x = step, moved
        value, slope = function(x)
        iterations += 1
        done = (np.abs(value) <= tolerance) | stuck
    return Root(x, value, np.abs(value) <= tolerance, iterations)
