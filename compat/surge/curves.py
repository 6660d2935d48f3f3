"""What the pictures of a surge event show: heads along the line, and pressure over time at some points (pure)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from compat.surge.studying import Studied
from shared.calc.root import Array
from shared.calc.units import BAR_PA

Places = np.ndarray[tuple[int, ...], np.dtype[np.intp]]
MOST_POINTS_WATCHED = 6


@dataclass(frozen=True)
class Along:
    """Heads over the berth's zero [m] along the line; ``allowed_m`` is None where no rating is known."""

    distance_m: tuple[float, ...]
    elevation_m: tuple[float, ...]
    greatest_m: tuple[float, ...]
    steady_m: tuple[float, ...]
    least_m: tuple[float, ...]
    allowed_m: tuple[float | None, ...]
    boils_below_m: tuple[float, ...]


@dataclass(frozen=True)
class OverTime:
    """Gauge pressure over time at one named point of the line."""

    name: str
    time_s: tuple[float, ...]
    pressure_bar_gauge: tuple[float, ...]


@dataclass(frozen=True)
class SurgeCurves:
    """Both pictures of one event."""

    along: Along
    points: tuple[OverTime, ...]


def curves_of(studied: Studied, most_along: int = 2000, most_in_time: int = 1500) -> SurgeCurves:
    """Return the curves of an event in no more than about so many points each; no peak is lost by that."""
    return SurgeCurves(_along(studied, most_along), tuple(_over_time(studied, most_in_time)))


def _along(studied: Studied, most: int) -> Along:
    system, met, grid = studied.system, studied.envelope, studied.system.grid
    nodes = np.unique(
        np.concatenate(
            [_extremes(met.greatest_head_m, met.least_head_m, most), np.array(grid.first), np.array(grid.last)]
        )
    )
    allowed = system.allowed_head_m[nodes]
    return Along(
        distance_m=_numbers(grid.distance_m[nodes]),
        elevation_m=_numbers(grid.elevation_m[nodes]),
        greatest_m=_numbers(met.greatest_head_m[nodes]),
        steady_m=_numbers(system.steady_head_m[nodes]),
        least_m=_numbers(met.least_head_m[nodes]),
        allowed_m=tuple(float(head) if np.isfinite(head) else None for head in allowed),
        boils_below_m=_numbers(system.least_head_m[nodes]),
    )


def _over_time(studied: Studied, most: int) -> list[OverTime]:
    grid, met = studied.system.grid, studied.envelope
    named = [(first, f"start of {run.name}") for run, first in zip(grid.runs, grid.first, strict=True)]
    chosen = [*named[: MOST_POINTS_WATCHED - 1], (grid.nodes - 1, "end of the line")]
    found = []
    for node, name in chosen:
        if node in studied.result.watched:
            heads = met.watched_head_m[:, studied.result.watched.index(node)]
            weight = studied.system.weight_pa_per_m / BAR_PA
            kept = _extremes(heads, heads, most)
            pressure = (heads[kept] - grid.elevation_m[node]) * weight
            found.append(OverTime(name, _numbers(met.time_s[kept]), _numbers(pressure)))
    return found


def _extremes(high: Array, low: Array, most: int) -> Places:
    """Return places of the greatest of ``high`` and the least of ``low`` in each of ``most`` / 2 pieces."""
    every = max(1, 2 * len(high) // most)
    if every == 1:
        return np.arange(len(high))
    starts = np.arange(0, len(high), every)
    pieces = [(start, min(start + every, len(high))) for start in starts]
    places = [start + int(high[start:end].argmax()) for start, end in pieces]
    places += [start + int(low[start:end].argmin()) for start, end in pieces]
    return np.unique(np.array([0, *places, len(high) - 1]))


def _numbers(values: Array) -> tuple[float, ...]:
    return tuple(float(value) for value in values)
