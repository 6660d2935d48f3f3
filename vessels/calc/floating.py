"""How deep a ship floats as she takes and gives weight: draught, freeboard, manifold over water. SI, no Django."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from shared.calc.errors import InputError
from shared.calc.root import Array
from shared.calc.tank_table import check_rising

TABLE_DENSITY_KG_PER_M3 = 1025.0  # sea water for which displacement tables and tonnes per centimetre are stated
_CM_PER_M = 100.0
_KG_PER_T = 1000.0


@dataclass(frozen=True)
class Floating:
    """Mean draught in m, rising, and displacement in kg in sea water of 1,025 kg/m3."""

    draught_m: Array
    displacement_kg: Array

    def displacement(self, draught_m: float, water_kg_per_m3: float) -> float:
        """Return the displacement in kg at a mean draught in m; raise InputError outside the table."""
        if not self.draught_m[0] <= draught_m <= self.draught_m[-1]:
            raise InputError(
                f"The draught {draught_m:g} m is outside the displacement table; allowed:"
                f" {self.draught_m[0]:g} to {self.draught_m[-1]:g} m."
            )
        in_sea = float(np.interp(draught_m, self.draught_m, self.displacement_kg))
        return in_sea * water_kg_per_m3 / TABLE_DENSITY_KG_PER_M3

    def draught(self, displacement_kg: Array, water_kg_per_m3: float) -> Array:
        """Return the mean draught in m, not a number outside the table: the same weight displaces the same mass."""
        in_sea = displacement_kg * (TABLE_DENSITY_KG_PER_M3 / water_kg_per_m3)
        found = np.interp(in_sea, self.displacement_kg, self.draught_m, left=np.nan, right=np.nan)
        return np.asarray(found)


def floating_by_displacement(draught_m: Sequence[float], displacement_t: Sequence[float]) -> Floating:
    """Return how a ship floats from her displacement table (m, t in sea water); raise InputError unless it rises."""
    check_rising("draught", "m", draught_m)
    check_rising("displacement", "t", displacement_t)
    return Floating(np.array(draught_m, dtype=float), np.array(displacement_t, dtype=float) * _KG_PER_T)


def floating_by_tpc(
    draught_m: Sequence[float], tonnes_per_cm: Sequence[float], displacement_t: float | None = None
) -> Floating:
    """Return how a ship floats from tonnes per centimetre immersion, which goes straight between the draughts.

    ``displacement_t`` is at the first draught; where it is not known, weights count from there. TPC = waterplane
    area x density / 100 (Barrass & Derrett, Ship Stability for Masters and Mates, ch. 8).
    """
    check_rising("draught", "m", draught_m)
    if len(tonnes_per_cm) != len(draught_m):
        raise InputError("Give one value in tonnes per centimetre for each draught.")
    fine_m, fine_tpc = _finer(draught_m, tonnes_per_cm)
    added = 0.5 * (fine_tpc[1:] + fine_tpc[:-1]) * np.diff(fine_m) * _CM_PER_M
    total = (displacement_t or 0.0) + np.concatenate([[0.0], np.cumsum(added)])
    return Floating(fine_m, total * _KG_PER_T)


def _finer(draught_m: Sequence[float], tonnes_per_cm: Sequence[float]) -> tuple[Array, Array]:
    """Add draughts between the stated ones, so that straight lines follow the slope that changes between them."""
    if min(tonnes_per_cm) <= 0:
        raise InputError(f"Tonnes per centimetre {min(tonnes_per_cm):g} t/cm; allowed: above 0.")
    parts = [np.linspace(one, other, 64, endpoint=False) for one, other in pairwise(draught_m)]
    fine = np.concatenate([*parts, [draught_m[-1]]])
    return fine, np.interp(fine, draught_m, tonnes_per_cm)
