"""What a worked-out stay leaves behind: stretches with their points, and the state at any time between."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from compat.calc.stay.nodes import nodes_of
from shared.calc.root import Array, Flags

_STEPS_OF_INVERSION = 4


@dataclass(frozen=True)
class Stretch:
    """One stretch between two events, at its points; a stop or a stated rate has the same shape.

    ``group_m3`` (points, groups) is what is left in the draws under way, ``drawn`` tells which draw of each group
    that is. ``rate_m3_per_s`` goes ashore. ``code`` (points,) is that of the limit that binds.
    """

    name: str
    parcel: int
    stage: int
    stage_begun_m3: float
    time_s: Array
    ashore_m3: Array
    ashore_kg: Array
    group_m3: Array
    drawn: tuple[int, ...]
    receiver: int
    receiver_m3: Array
    rate_m3_per_s: Array
    code: np.ndarray
    running: Flags
    cap_m3_per_s: Array
    drawn_off_m3_per_s: float
    ended_by: str

    @property
    def pumped(self) -> bool:
        """Tell whether the ship's pumps make this stretch's rate."""
        return bool(self.running.any())


@dataclass(frozen=True)
class Failure:
    """Why a stay can't go on, and when."""

    kind: str
    time_s: float
    name: str = ""


@dataclass(frozen=True)
class Track:
    """A whole stay as stretches in order of time; ``failure`` where it can't be ended."""

    stretches: tuple[Stretch, ...]
    failure: Failure | None

    @property
    def ends_s(self) -> float:
        """Time at the end of the last stretch."""
        return float(self.stretches[-1].time_s[-1]) if self.stretches else 0.0

    @property
    def ashore_m3(self) -> float:
        """Volume ashore at the end."""
        return float(self.stretches[-1].ashore_m3[-1]) if self.stretches else 0.0

    def time_at(self, ashore_m3: float) -> float:
        """Return the first time in s at which a volume is ashore; not a number where it never is."""
        for stretch in self.stretches:
            if stretch.ashore_m3[-1] >= ashore_m3 * (1.0 - 1e-12):
                whole = stretch.ashore_m3[-1] - stretch.ashore_m3[0]
                if whole <= 0:
                    continue
                part = (ashore_m3 - stretch.ashore_m3[0]) / whole
                return float((matrix_at(stretch, np.array([np.clip(part, 0.0, 1.0)])) @ stretch.time_s)[0])
        return float("nan")

    def stretch_at(self, time_s: float) -> Stretch:
        """Return the stretch under way at a time, the later one where two meet."""
        ends = [stretch.time_s[-1] for stretch in self.stretches]
        return self.stretches[min(int(np.searchsorted(ends, time_s, side="right")), len(ends) - 1)]


def matrix_at(stretch: Stretch, s: Array) -> Array:
    """Return the matrix that turns values at a stretch's points into values at parts ``s`` of it."""
    return nodes_of(stretch.time_s.size).between(s)


def part_at(stretch: Stretch, time_s: Array) -> Array:
    """Return which part of a stretch (0 to 1 of its volume) is over at times within it."""
    nodes = nodes_of(stretch.time_s.size)
    s = np.interp(time_s, stretch.time_s, nodes.points)
    for _ in range(_STEPS_OF_INVERSION):
        near = np.clip(s + 1e-4, 0.0, 1.0)
        back = np.clip(s - 1e-4, 0.0, 1.0)
        here = nodes.between(s) @ stretch.time_s
        slope = (nodes.between(near) - nodes.between(back)) @ stretch.time_s / (near - back)
        s = np.clip(s + np.where(slope > 0, (time_s - here) / np.where(slope > 0, slope, 1.0), 0.0), 0.0, 1.0)
    return np.asarray(s)
