"""How much a valve lets through while it shuts: its flow coefficient, over that of the open valve, along its stroke.

The loss of a valve that lets τ through is (1/τ² - 1) velocity heads of its pipe, over and above the open valve's loss,
which stands among the stated losses of the line.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import Literal

import numpy as np

from shared.calc.errors import InputError
from shared.calc.ranges import checked
from shared.calc.root import Array
from shared.calc.units import GRAVITY_M_PER_S2

ValveLaw = Literal["linear", "ball", "butterfly", "gate"]
VALVE_LAWS: tuple[ValveLaw, ...] = ("linear", "ball", "butterfly", "gate")

# J. Weisbach's measurements (1855) of the loss coefficient of a plug cock and a throttle flap over the angle turned,
# and of a slide valve over the part of the bore that is covered; round pipes; from memory of handbooks that print them.
_PLUG_DEGREES = (5, 10, 15, 20, 25, 30, 35, 40, 45, 50, 55, 60, 65)
_PLUG_LOSS = (0.05, 0.29, 0.75, 1.56, 3.10, 5.47, 9.68, 17.3, 31.2, 52.6, 106.0, 206.0, 486.0)
_PLUG_SHUT_DEGREES = 82.5
_FLAP_DEGREES = (5, 10, 15, 20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70)
_FLAP_LOSS = (0.24, 0.52, 0.90, 1.54, 2.51, 3.91, 6.22, 10.8, 18.7, 32.6, 58.8, 118.0, 256.0, 751.0)
_FLAP_SHUT_DEGREES = 90.0
_SLIDE_EIGHTHS = (1, 2, 3, 4, 5, 6, 7)
_SLIDE_LOSS = (0.07, 0.26, 0.81, 2.06, 5.52, 17.0, 97.8)


def _through(loss: tuple[float, ...]) -> list[float]:
    return [1.0, *(float(1.0 / np.sqrt(1.0 + k)) for k in loss), 0.0]


# Part of the stroke done (0 open, 1 shut) and what goes through. A quarter turn ends where the valve is shut.
_TABLES = MappingProxyType(
    {
        "linear": ([0.0, 1.0], [1.0, 0.0]),
        "ball": ([0.0, *(d / _PLUG_SHUT_DEGREES for d in _PLUG_DEGREES), 1.0], _through(_PLUG_LOSS)),
        "butterfly": ([0.0, *(d / _FLAP_SHUT_DEGREES for d in _FLAP_DEGREES), 1.0], _through(_FLAP_LOSS)),
        "gate": ([0.0, *(e / 8.0 for e in _SLIDE_EIGHTHS), 1.0], _through(_SLIDE_LOSS)),
    }
)
SOURCES = MappingProxyType(
    {
        "linear": "free area falls evenly with time",
        "ball": "Weisbach (1855), plug cock in a round pipe (from memory)",
        "butterfly": "Weisbach (1855), throttle flap in a round pipe (from memory)",
        "gate": "Weisbach (1855), slide valve in a round pipe (from memory)",
    }
)


def let_through(law: ValveLaw, stroke: Array) -> Array:
    """Return what a valve lets through, 1 open to 0 shut, where ``stroke`` (0 to 1) of its way is done."""
    if law not in _TABLES:
        raise InputError(f"Valve “{law}” is not known; use one of {', '.join(VALVE_LAWS)}.")
    done, through = _TABLES[law]
    return np.asarray(np.interp(np.asarray(stroke, dtype=float), done, through))


def closing(law: ValveLaw, times_s: Array, starts_s: float, takes_s: float) -> Array:
    """Return what a valve lets through at each time [s] while it shuts within 0.01 s to an hour."""
    takes = float(checked("Closing time", takes_s, "s", 0.01, 3600.0, "A valve needs time to shut."))
    return let_through(law, np.clip((times_s - starts_s) / takes, 0.0, 1.0))


def loss_over_flow2(through: Array, area_m2: float) -> Array:
    """Return k of the head k Q|Q| [m] that a valve adds at each opening, infinite where it is shut."""
    with np.errstate(divide="ignore"):
        return np.asarray((1.0 / through**2 - 1.0) / (2.0 * GRAVITY_M_PER_S2 * area_m2**2))
