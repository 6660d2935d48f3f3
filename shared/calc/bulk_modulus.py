"""Bulk modulus of a liquid for surge: always stated by the user, never filled in; typical ranges stand beside it."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from shared.calc.errors import InputError
from shared.calc.ranges import Numbers, checked
from shared.calc.root import Array, Flags

_GPA = 1e9  # Pa
# From memory of hydraulics texts; gasoline widened to the 1.07 to 1.49 GPa of an engineering reference site.
TYPICAL_BULK_MODULUS_PA = MappingProxyType(
    {
        "crude oil": (1.3 * _GPA, 1.7 * _GPA),
        "fuel oil": (1.3 * _GPA, 1.7 * _GPA),
        "gasoline": (0.9 * _GPA, 1.5 * _GPA),
        "water": (2.0 * _GPA, 2.4 * _GPA),
    }
)
_LEAST_MPA, _GREATEST_MPA = 300.0, 4000.0  # our own bounds: below, the liquid holds free gas; above, no oil


@dataclass(frozen=True)
class BulkModulusAnswer:
    """A stated bulk modulus in Pa, and whether it lies in the typical range of the named liquid."""

    bulk_modulus_pa: Array
    typical: Flags
    note: str
    source: str = "as stated"


def stated_bulk_modulus(bulk_modulus_pa: Numbers, liquid: str) -> BulkModulusAnswer:
    """Return a stated bulk modulus [Pa], 0.3 to 4 GPa, compared with the typical range of ``liquid``.

    ``liquid`` is a key of ``TYPICAL_BULK_MODULUS_PA``; InputError for another. Raises OutOfRangeError outside.
    """
    if liquid not in TYPICAL_BULK_MODULUS_PA:
        known = ", ".join(TYPICAL_BULK_MODULUS_PA)
        raise InputError(f"No typical bulk modulus is known for “{liquid}”; use one of {known}.")
    least, greatest = TYPICAL_BULK_MODULUS_PA[liquid]
    stated = checked("Bulk modulus", bulk_modulus_pa, "MPa", _LEAST_MPA, _GREATEST_MPA)
    typical = (stated >= least) & (stated <= greatest)
    note = ""
    if not np.all(typical):
        note = (
            f"The stated bulk modulus is outside the usual {least / _GPA:g} to {greatest / _GPA:g} GPa of {liquid};"
            " check it: free gas lowers it, and a higher one raises the surge."
        )
    return BulkModulusAnswer(stated, typical, note)
