"""Capacity tables of tanks: level or ullage to volume, straight lines between the entries. SI, no Django."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from shared.calc.errors import InputError
from shared.calc.root import Array


@dataclass(frozen=True)
class TankTable:
    """Level over the table's own zero in m and volume in m3, both rising; between entries it goes straight.

    ``trim_m`` and ``correction_m`` (both rising or empty) are what is added to an observed level at a trim by the
    stern; the correction goes straight between the stated trims and is not carried beyond them.
    """

    level_m: Array
    volume_m3: Array
    trim_m: Array
    correction_m: Array

    @property
    def capacity_m3(self) -> float:
        """Volume at the highest level of the table."""
        return float(self.volume_m3[-1])

    def volume(self, level_m: Array | float) -> Array:
        """Return the volume in m3 at corrected levels in m; raise InputError outside the table."""
        return _between("level", "m", level_m, self.level_m, self.volume_m3)

    def level(self, volume_m3: Array | float) -> Array:
        """Return the level in m at volumes in m3; raise InputError outside the table."""
        return _between("volume", "m³", volume_m3, self.volume_m3, self.level_m)

    def corrected_level(self, observed_level_m: float, trim_m: float) -> float:
        """Return an observed level in m with the trim correction; raise InputError for a trim without one."""
        if not self.trim_m.size:
            if trim_m:
                raise InputError(
                    f"The table has no trim correction, and the trim is {trim_m:g} m; add it, or state the volume."
                )
            return observed_level_m
        return observed_level_m + float(_between("trim", "m", trim_m, self.trim_m, self.correction_m))


def tank_table(
    level_m: Sequence[float],
    volume_m3: Sequence[float],
    trim_m: Sequence[float] = (),
    correction_m: Sequence[float] = (),
) -> TankTable:
    """Return a table through entries with rising level; raise InputError unless volume rises with it."""
    check_rising("level", "m", level_m)
    if len(level_m) != len(volume_m3):
        raise InputError("A tank table needs one volume for each level.")
    for (low, small), (high, large) in pairwise(zip(level_m, volume_m3, strict=True)):
        if large <= small:
            raise InputError(
                f"The volume does not rise from {small:g} m³ at {low:g} m to {large:g} m³ at {high:g} m;"
                " correct the table."
            )
    if volume_m3[0] < 0:
        raise InputError(f"The table starts at {volume_m3[0]:g} m³; allowed: 0 m³ or more.")
    if len(trim_m) > 1:
        check_rising("trim", "m", trim_m)
    return TankTable(*(np.array(part, dtype=float) for part in (level_m, volume_m3, trim_m, correction_m)))


def ullage_table(reference_height_m: float, ullage_m: Sequence[float], volume_m3: Sequence[float]) -> TankTable:
    """Return the table of levels that belongs to ullages: level = reference height - ullage, entries in any order."""
    entries = sorted((reference_height_m - ullage, volume) for ullage, volume in zip(ullage_m, volume_m3, strict=True))
    return tank_table([level for level, _ in entries], [volume for _, volume in entries])


def check_rising(name: str, unit: str, values: Sequence[float]) -> None:
    """Raise InputError with a sentence unless there are two values or more and each is above the one before."""
    if len(values) < 2:
        raise InputError(f"The table has {len(values)} entries; give two or more.")
    for one, other in pairwise(values):
        if other <= one:
            raise InputError(
                f"The {name} {other:g} {unit} stands after {one:g} {unit}; put them in rising order, each once."
            )


def _between(name: str, unit: str, value: Array | float, known: Array, wanted: Array) -> Array:
    given = np.asarray(value, dtype=float)
    slack = 1e-9 * max(1.0, float(np.abs(known).max()))
    outside = ~((given >= known[0] - slack) & (given <= known[-1] + slack))
    if outside.any():
        raise InputError(
            f"The {name} {float(given[outside].flat[0]):g} {unit} is outside the table;"
            f" allowed: {known[0]:g} to {known[-1]:g} {unit}."
        )
    return np.asarray(np.interp(given, known, wanted))
