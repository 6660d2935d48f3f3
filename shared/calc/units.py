"""The one closed list of units and their factors to SI.

Factors are exact by definition unless a line says otherwise (NIST SP 811, appendix B; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from shared.calc.errors import InputError

GRAVITY_M_PER_S2 = 9.80665  # standard gravity, CGPM 1901, exact
ATMOSPHERE_PA = 101_325.0  # standard atmosphere, exact
ZERO_CELSIUS_K = 273.15  # exact

# SI per unit, for the units in which documents are written
HOUR_S = 3600.0
BAR_PA = 1e5
KPA_PA = 1e3
KW_W = 1e3
MM_M = 1e-3
MM2_PER_S = 1e-6  # m2/s

Quantity = Literal[
    "length",
    "pressure",
    "flow",
    "volume",
    "mass",
    "density",
    "viscosity",
    "temperature",
    "speed",
    "velocity",
    "power",
    "time",
    "percent",
    "number",
    "inertia",
    "force",
    "angle",
]


@dataclass(frozen=True)
class Unit:
    """A unit: SI value = (value + offset) * factor."""

    symbol: str
    quantity: Quantity
    factor: Decimal
    offset: Decimal = Decimal(0)


_POUND_FORCE_PER_SQUARE_INCH_PA = Decimal("4.4482216152605") / Decimal("0.0254") ** 2
_BARREL_M3 = Decimal("0.158987294928")

_ALL_UNITS = (
    Unit("m", "length", Decimal(1)),
    Unit("mm", "length", Decimal("0.001")),
    Unit("cm", "length", Decimal("0.01")),
    Unit("km", "length", Decimal(1000)),
    Unit("ft", "length", Decimal("0.3048")),
    Unit("in", "length", Decimal("0.0254")),
    Unit("Pa", "pressure", Decimal(1)),
    Unit("kPa", "pressure", Decimal(1000)),
    Unit("MPa", "pressure", Decimal(1_000_000)),
    Unit("mbar", "pressure", Decimal(100)),
    Unit("bar", "pressure", Decimal(100_000)),
    Unit("kgf/cm²", "pressure", Decimal("98066.5")),
    Unit("psi", "pressure", _POUND_FORCE_PER_SQUARE_INCH_PA),
    Unit("mmH₂O", "pressure", Decimal("9.80665")),
    Unit("m³/s", "flow", Decimal(1)),
    Unit("m³/h", "flow", Decimal(1) / Decimal(3600)),
    Unit("L/s", "flow", Decimal("0.001")),
    Unit("bbl/h", "flow", _BARREL_M3 / Decimal(3600)),
    Unit("m³", "volume", Decimal(1)),
    Unit("L", "volume", Decimal("0.001")),
    Unit("bbl", "volume", _BARREL_M3),
    Unit("kg", "mass", Decimal(1)),
    Unit("t", "mass", Decimal(1000)),
    Unit("kg/m³", "density", Decimal(1)),
    Unit("t/m³", "density", Decimal(1000)),
    Unit("m²/s", "viscosity", Decimal(1)),
    Unit("mm²/s", "viscosity", Decimal("0.000001")),
    Unit("cSt", "viscosity", Decimal("0.000001")),
    Unit("K", "temperature", Decimal(1)),
    Unit("°C", "temperature", Decimal(1), Decimal("273.15")),
    Unit("°F", "temperature", Decimal(5) / Decimal(9), Decimal("459.67")),
    Unit("rpm", "speed", Decimal(1)),  # revolutions a minute stay as they are, on purpose
    Unit("m/s", "velocity", Decimal(1)),
    Unit("kn", "velocity", Decimal(1852) / Decimal(3600)),
    Unit("ft/s", "velocity", Decimal("0.3048")),
    Unit("W", "power", Decimal(1)),
    Unit("kW", "power", Decimal(1000)),
    Unit("hp", "power", Decimal("745.69987158227022")),
    Unit("s", "time", Decimal(1)),
    Unit("min", "time", Decimal(60)),
    Unit("h", "time", Decimal(3600)),
    Unit("d", "time", Decimal(86_400)),
    Unit("%", "percent", Decimal("0.01")),
    Unit("1", "number", Decimal(1)),
    Unit("kg·m²", "inertia", Decimal(1)),
    Unit("N", "force", Decimal(1)),
    Unit("kN", "force", Decimal(1000)),
    Unit("tf", "force", Decimal("9806.65")),
    Unit("rad", "angle", Decimal(1)),
    Unit("°", "angle", Decimal("0.017453292519943295769")),  # pi / 180
)
UNITS: dict[str, Unit] = {unit.symbol: unit for unit in _ALL_UNITS}


def unit_named(symbol: str) -> Unit:
    """Return the unit with this symbol; raise InputError naming the known ones if there is none."""
    try:
        return UNITS[symbol]
    except KeyError:
        raise InputError(f"Unit “{symbol}” is not known; use one of {', '.join(UNITS)}.") from None


def units_of(quantity: Quantity) -> list[Unit]:
    """Return every unit of one quantity, in the order in which it is offered."""
    return [unit for unit in _ALL_UNITS if unit.quantity == quantity]


def convert(value: Decimal, from_symbol: str, to_symbol: str) -> Decimal:
    """Convert a decimal between two units of one quantity; raise InputError if they differ."""
    source, target = unit_named(from_symbol), unit_named(to_symbol)
    if source.quantity != target.quantity:
        raise InputError(f"{source.symbol} is a {source.quantity}, {target.symbol} is a {target.quantity}.")
    if source == target or (source.factor, source.offset) == (target.factor, target.offset):
        return value
    return (value + source.offset) * source.factor / target.factor - target.offset


def to_si(value: float, symbol: str) -> float:
    """Return a number given in one unit as SI."""
    unit = unit_named(symbol)
    return (value + float(unit.offset)) * float(unit.factor)


def from_si(value: float, symbol: str) -> float:
    """Return an SI number in one unit."""
    unit = unit_named(symbol)
    return value / float(unit.factor) - float(unit.offset)
