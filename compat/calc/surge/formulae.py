"""Closed forms of pressure surge, for wave speeds and for a check by hand beside the method of characteristics.

Source: E. B. Wylie and V. L. Streeter, Fluid Transients in Systems (1993), chapters 1 and 2 (from memory); rise by
N. Joukowsky (1898); slow closure by L. Michaud (1878).
"""

from __future__ import annotations

from types import MappingProxyType
from typing import Literal

import numpy as np

from shared.calc.errors import InputError
from shared.calc.ranges import Numbers, checked
from shared.calc.root import Array
from shared.calc.units import GRAVITY_M_PER_S2

Restraint = Literal["anchored throughout", "anchored upstream", "expansion joints"]
RESTRAINTS: tuple[Restraint, ...] = ("anchored throughout", "anchored upstream", "expansion joints")
LEAST_WAVE_SPEED_M_PER_S, GREATEST_WAVE_SPEED_M_PER_S = 100.0, 1500.0

# Young's modulus in Pa and Poisson's ratio at room temperature; from memory of Wylie & Streeter and of handbooks.
MATERIALS = MappingProxyType(
    {
        "carbon steel": (207e9, 0.30),
        "stainless steel": (193e9, 0.30),
        "ductile iron": (170e9, 0.28),
        "glass-reinforced plastic": (20e9, 0.30),
    }
)


def restraint_factor(restraint: Restraint, poisson_ratio: float) -> float:
    """Return c1 of a thin-walled pipe: how much its restraint stiffens it; ``poisson_ratio`` 0 to 0.5."""
    if restraint == "anchored throughout":
        return 1.0 - poisson_ratio**2
    if restraint == "anchored upstream":
        return 1.0 - 0.5 * poisson_ratio
    if restraint == "expansion joints":
        return 1.0
    raise InputError(f"Restraint “{restraint}” is not known; use one of {', '.join(RESTRAINTS)}.")


def wave_speed_m_per_s(
    bulk_modulus_pa: Numbers,
    density_kg_per_m3: Numbers,
    bore_m: Numbers,
    wall_m: Numbers,
    young_modulus_pa: Numbers,
    factor: Numbers = 1.0,
) -> Array:
    """Return the speed of a pressure wave [m/s] in a thin-walled elastic pipe full of liquid.

    a = √(K/ρ) / √(1 + c1 (K/E)(D/e)), with K 0.3 to 4 GPa, ρ 500 to 1200 kg/m³, D 10 to 3000 mm, e 0.5 to 200 mm,
    E 0.01 to 400 GPa and ``factor`` c1. Raises OutOfRangeError outside. Wylie & Streeter (1993), ch. 1 (from memory).
    """
    bulk = checked("Bulk modulus", bulk_modulus_pa, "MPa", 300.0, 4000.0)
    density = checked("Density", density_kg_per_m3, "kg/m³", 500.0, 1200.0)
    bore = checked("Bore", bore_m, "mm", 10.0, 3000.0)
    wall = checked("Wall thickness", wall_m, "mm", 0.5, 200.0)
    modulus = checked("Young's modulus", young_modulus_pa, "MPa", 10.0, 400_000.0)
    softness = np.asarray(factor, dtype=float) * bulk / modulus * bore / wall
    return np.asarray(np.sqrt(bulk / density) / np.sqrt(1.0 + softness))


def checked_wave_speed(name: str, wave_speed_m_per_s: Numbers) -> Array:
    """Return a wave speed [m/s], or raise OutOfRangeError with its sentence outside 100 to 1,500 m/s."""
    advice = "State the wave speed in m/s, or wall thickness, material and bulk modulus."
    least, greatest = LEAST_WAVE_SPEED_M_PER_S, GREATEST_WAVE_SPEED_M_PER_S
    return checked(name, wave_speed_m_per_s, "m/s", least, greatest, advice)


def joukowsky_head_m(wave_speed: Numbers, velocity_change_m_per_s: Numbers) -> Array:
    """Return the head [m] that stopping a velocity [m/s] at once raises: a ΔV / g."""
    return np.asarray(np.asarray(wave_speed, float) * np.asarray(velocity_change_m_per_s, float) / GRAVITY_M_PER_S2)


def return_time_s(lengths_m: Array, wave_speeds: Array) -> float:
    """Return the time [s] in which a wave runs to the far end of a line of runs and back: 2 Σ L/a."""
    return float(2.0 * (lengths_m / wave_speeds).sum())


def michaud_head_m(lengths_m: Array, velocities_m_per_s: Array, closing_time_s: float) -> float:
    """Return Michaud's upper estimate [m] for a closing time [s] longer than 2L/a: 2 Σ(L V) / (g t)."""
    return float(2.0 * (lengths_m * velocities_m_per_s).sum() / (GRAVITY_M_PER_S2 * closing_time_s))
