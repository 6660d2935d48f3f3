"""Directions of mooring lines from fairlead to hook. Lengths in m, angles in degrees; arrays (pairs, places).

Guidance, not law: a line leads at most 25° from the horizontal, a breast line within 15° of square to the ship, a
spring within 10° of her side (Mooring Equipment Guidelines and BS 6349-4, from memory). The terminal's own mooring
plan comes first.
"""

from __future__ import annotations

import numpy as np

from shared.calc.root import Array

STEEPEST_DEGREES = 25.0
BREAST_FROM_SQUARE_DEGREES = 15.0
SPRING_FROM_SIDE_DEGREES = 10.0


def steepness_degrees(
    fairlead_along_m: Array, fairlead_m: Array, hook_along_m: Array, hook_setback_m: Array, hook_m: Array
) -> Array:
    """Return the angle of each line with the horizontal; heights over one zero."""
    level = np.hypot(hook_along_m - fairlead_along_m, hook_setback_m)
    return np.degrees(np.arctan2(np.abs(fairlead_m - hook_m), level))


def from_square_degrees(fairlead_along_m: Array, hook_along_m: Array, hook_setback_m: Array) -> Array:
    """Return the angle of each line, seen from above, with the line square to the ship's side."""
    return np.degrees(np.arctan2(np.abs(hook_along_m - fairlead_along_m), hook_setback_m))
