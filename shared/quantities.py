"""How a number and its unit are offered, read and shown to a person (pure: no Django)."""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import ROUND_HALF_EVEN, Decimal, localcontext

from shared.calc.errors import InputError
from shared.calc.units import Quantity, convert, unit_named

NOT_KNOWN = "not known"
NO_BREAK_SPACE = "\u00a0"

# What a person may choose for themselves, the usual one first.
CHOICES: dict[Quantity, tuple[str, ...]] = {
    "pressure": ("bar", "kgf/cm²", "kPa", "MPa", "psi"),
    "flow": ("m³/h", "bbl/h", "L/s"),
    "length": ("m", "ft"),
    "density": ("kg/m³", "t/m³"),
    "viscosity": ("mm²/s", "cSt"),
    "temperature": ("°C", "°F"),
}
# What a form offers besides; other quantities are offered in the one unit that documents state.
_ALSO_OFFERED: dict[Quantity, tuple[str, ...]] = {
    "pressure": ("mbar", "mmH₂O"),
    "volume": ("m³", "bbl"),
    "power": ("kW", "hp"),
    "time": ("s", "min", "h"),
    "velocity": ("m/s", "ft/s", "kn"),
    "mass": ("t",),
    "force": ("kN", "tf"),
}
_SMALL_LENGTHS = {"m": "mm", "ft": "in"}

_DECIMALS = {
    "Pa": 0, "kPa": 0, "MPa": 3, "mbar": 0, "bar": 2, "kgf/cm²": 2, "psi": 1, "mmH₂O": 0,
    "m³/s": 3, "m³/h": 0, "L/s": 1, "bbl/h": 0, "m³": 0, "L": 0, "bbl": 0,
    "m": 2, "mm": 1, "cm": 1, "km": 3, "ft": 1, "in": 2,
    "kg": 0, "t": 0, "kg/m³": 1, "t/m³": 4, "°C": 1, "°F": 1, "K": 1,
    "rpm": 0, "m/s": 2, "kn": 1, "ft/s": 1, "W": 0, "kW": 0, "hp": 0, "kN": 0, "tf": 1,
    "°": 1, "s": 0, "min": 1, "h": 1, "d": 0, "%": 1,
}  # fmt: skip
_BY_FIGURES = frozenset({"mm²/s", "cSt", "1"})
_AS_SHORT = frozenset(
    {"mm", "in", "km", "min", "%"}
)  # no idle zeros: a bore is 254.5 or 300, a warning comes 15 min before
_FIGURES = 3  # of what has no usual number of decimals, or is too small for it
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)", re.ASCII)
_LONGEST_NUMBER = 30


def preferred(chosen: Mapping[str, str], unit: str) -> str:
    """Return the unit in which a person wants to see what documents state in ``unit``."""
    quantity = unit_named(unit).quantity
    wanted = chosen.get(quantity)
    if wanted is None or wanted not in CHOICES.get(quantity, ()):
        return unit
    if unit == "mm":
        return _SMALL_LENGTHS[wanted]
    if unit == "km":
        return unit  # a distance, which everybody tells in km
    return wanted


def offered(unit: str) -> list[str]:
    """Return the units in which a form takes a quantity that documents state in ``unit``, that one first."""
    quantity = unit_named(unit).quantity
    if unit == "mm":
        return ["mm", "in", "cm", "m"]
    found = [unit, *CHOICES.get(quantity, ()), *_ALSO_OFFERED.get(quantity, ())]
    return list(dict.fromkeys(found))


def read_number(text: str) -> Decimal:
    """Read a typed number exactly; raise InputError with a sentence's ending for anything else.

    Spaces between groups of digits are taken; a comma is not, because it means two things.
    """
    plain = re.sub(r"(?<=\d)[ \u00a0\u2009\u202f](?=\d)", "", text.strip()).replace("\u2212", "-")
    if "," in plain:
        raise InputError("has a comma; write a point before decimals and nothing between thousands")
    if len(plain) > _LONGEST_NUMBER:
        raise InputError("is too long to be a number")
    if not _NUMBER.fullmatch(plain):
        raise InputError("is not a number")
    return Decimal(plain)


def exact(value: Decimal | float | int) -> Decimal:
    """Return a number as the decimal that its shortest text says."""
    if isinstance(value, Decimal):
        return value
    return Decimal(float.__repr__(value) if isinstance(value, float) else repr(value))  # numpy's own repr is no number


def converted(value: Decimal, from_unit: str, to_unit: str, figures: int = 15) -> Decimal:
    """Convert and round to so many significant figures; the same unit gives the same number back."""
    if from_unit == to_unit:
        return value
    with localcontext() as context:
        context.prec = 40  # rounded once, at the end
        exactly = convert(value, from_unit, to_unit)
        context.prec = figures
        context.rounding = ROUND_HALF_EVEN
        return +exactly


def plain_text(value: Decimal) -> str:
    """Write a decimal without exponent and without idle zeros, as a form shows it."""
    text = format(value, "f")
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text


def usual_decimals(unit: str) -> int:
    """Return with how many decimals pages show a number in this unit."""
    return _DECIMALS.get(unit, 3)


def figure(value: Decimal | float | int, unit: str, decimals: int | None = None) -> str:
    """Write a number as pages show it: decimals as usual for the unit unless stated, more where it would show as 0."""
    number = exact(value)
    if not number.is_finite():
        return NOT_KNOWN
    usual = decimals is None
    decimals = usual_decimals(unit) if decimals is None else decimals
    if usual and number and (unit in _BY_FIGURES or number.adjusted() < -decimals):
        decimals = max(0, _FIGURES - 1 - number.adjusted())
    with localcontext() as context:
        context.prec = 60
        rounded = number.quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_HALF_EVEN)
    if unit in _BY_FIGURES | _AS_SHORT:
        rounded = Decimal(plain_text(rounded))
    text = f"{rounded:,f}"
    return text.removeprefix("-") if not rounded else text


def display(
    value: Decimal | float | int | None, unit: str, chosen: Mapping[str, str] | None = None, note: str = ""
) -> str:
    """Write a value that documents state in ``unit``, in a person's chosen unit; None is “not known”.

    ``note`` follows the unit: ``gauge`` or ``abs`` for pressures.
    """
    if value is None:
        return NOT_KNOWN
    wanted = preferred(chosen or {}, unit)
    text = figure(converted(exact(value), unit, wanted), wanted)
    if text == NOT_KNOWN:
        return text
    shown_unit = [] if wanted == "1" else [wanted]
    return NO_BREAK_SPACE.join([text, *shown_unit, *([note] if note else [])])
