"""What is read during a transfer, in one table (pure: no Django).

A new quantity is a new line here: its key, words, unit, range and whose gauge it is. Values are kept as decimal text
in the unit of the line; pump readings carry the pump's key after a colon.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from compat.accord.checklist.item import BOTH, SHIP, TERMINAL, Side
from compat.case.case_file import CaseFile
from shared.calc.errors import InputError
from shared.calc.units import Quantity
from shared.quantities import display, plain_text

Values = Mapping[str, str]


@dataclass(frozen=True)
class Reading:
    """One quantity that is read: ``quick`` ones stand first on the form at the manifold."""

    key: str
    label: str
    quantity: Quantity
    unit: str
    least: Decimal
    greatest: Decimal
    sides: tuple[Side, ...]
    by_pump: bool = False
    quick: bool = False
    gauge: bool = False
    hint: str = ""

    def check(self, value: Decimal, label: str = "") -> Decimal:
        """Return a value that may be kept; raise InputError naming the allowed range."""
        if not value.is_finite() or not self.least <= value <= self.greatest:
            allowed = f"{plain_text(self.least)} to {plain_text(self.greatest)} {self.unit}"
            raise InputError(f"{label or self.label} is {plain_text(value)} {self.unit}; allowed: {allowed}.")
        return value

    def shown(self, value: Decimal | str, units: Mapping[str, str] | None = None) -> str:
        """Write a value with its unit, in a person's own units where given."""
        return display(Decimal(value), self.unit, units, "gauge" if self.gauge else "")


def _read(
    key: str,
    label: str,
    quantity: Quantity,
    unit: str,
    span: tuple[float, float],
    sides: tuple[Side, ...] = SHIP,
    *,
    by_pump: bool = False,
    quick: bool = False,
    hint: str = "",
) -> Reading:
    low, high = (Decimal(str(end)) for end in span)
    gauge = quantity == "pressure"
    return Reading(key, label, quantity, unit, low, high, sides, by_pump, quick, gauge, hint)


MANIFOLD, RATE, SPEED = "manifold_pressure_bar_gauge", "rate_m3_per_h", "speed_rpm"
SUCTION, DISCHARGE = "suction_pressure_bar_gauge", "discharge_pressure_bar_gauge"
TANK_LEVEL, SHORE_LEVEL, TIDE, DRAUGHT = "tank_level_m", "shore_level_m", "tide_m", "draught_m"
DISCHARGED, RECEIVED, OXYGEN = "discharged_m3", "received_m3", "inert_gas_oxygen_percent"

READINGS: tuple[Reading, ...] = (
    _read(MANIFOLD, "Manifold pressure", "pressure", "bar", (-1, 60), BOTH, quick=True),
    _read(RATE, "Rate", "flow", "m³/h", (0, 40_000), BOTH, quick=True),
    _read(SPEED, "Speed", "speed", "rpm", (0, 6000), by_pump=True, quick=True, hint="0 where it stands still"),
    _read(SUCTION, "Suction", "pressure", "bar", (-1, 30), by_pump=True),
    _read(DISCHARGE, "Discharge", "pressure", "bar", (-1, 80), by_pump=True),
    _read(DISCHARGED, "Discharged so far, by ullages", "volume", "m³", (0, 1_000_000)),
    _read(TANK_LEVEL, "Level in the tanks that are drawn", "length", "m", (0, 60), hint="Above the keel"),
    _read(DRAUGHT, "Mean draught", "length", "m", (0.5, 30)),
    _read("cargo_temperature_c", "Cargo temperature", "temperature", "°C", (-60, 200)),
    _read(OXYGEN, "Oxygen in the inert gas main", "percent", "%", (0, 25)),
    _read("inert_gas_pressure_bar_gauge", "Inert gas pressure", "pressure", "bar", (-0.2, 1)),
    _read(RECEIVED, "Received so far", "volume", "m³", (0, 1_000_000), TERMINAL, quick=True),
    _read(
        SHORE_LEVEL, "Level in the receiving tank", "length", "m", (-50, 500), TERMINAL, hint="Above the berth's zero"
    ),
    _read(TIDE, "Height of tide", "length", "m", (-10, 20), TERMINAL, hint="Above the berth's zero"),
    _read("shore_temperature_c", "Temperature ashore", "temperature", "°C", (-60, 200), TERMINAL),
)
BY_KEY = {one.key: one for one in READINGS}


@dataclass(frozen=True)
class Field:
    """One box of a side's form: a quantity, and the pump where it belongs to one."""

    reading: Reading
    pump: str = ""
    pump_name: str = ""

    @property
    def key(self) -> str:
        """The key under which its value is kept."""
        return f"{self.reading.key}:{self.pump}" if self.pump else self.reading.key

    @property
    def label(self) -> str:
        """The words of the box."""
        return f"{self.pump_name}: {self.reading.label.lower()}" if self.pump else self.reading.label


def pump_keys(case: CaseFile) -> list[str]:
    """Return the pumps that belong to the plan's operation, in its order."""
    return [state.pump for state in case.operation.pumps]


def fields_for(case: CaseFile, side: Side) -> list[Field]:
    """Return the boxes of one side's form for a case, in order."""
    names = {pump.key: pump.name for pump in case.ship.pumps}
    found: list[Field] = []
    for one in READINGS:
        if side not in one.sides:
            continue
        if one.by_pump:
            found += [Field(one, key, names[key]) for key in pump_keys(case)]
        else:
            found.append(Field(one))
    return found


def field_for(case: CaseFile, side: Side, key: str) -> Field:
    """Return the box with this key; raise InputError where this side does not read it."""
    for field in fields_for(case, side):
        if field.key == key:
            return field
    raise InputError(f"“{key}” is not read by the {side} here; known: {_keys(fields_for(case, side))}.")


def _keys(fields: Iterable[Field]) -> str:
    return ", ".join(field.key for field in fields)


def checked_readings(case: CaseFile, side: Side, given: Mapping[str, Decimal]) -> dict[str, str]:
    """Return values as they are kept; raise InputError for an unknown key, a value out of range, or nothing at all."""
    kept = {}
    for key, value in given.items():
        field = field_for(case, side, key)
        kept[key] = plain_text(field.reading.check(value, field.label))
    if not kept:
        raise InputError("Nothing was read; give at least one value.")
    return kept


def number_of(values: Values, key: str) -> float | None:
    """Return a kept value as a number, None where it was not read."""
    text = values.get(key)
    return None if text is None else float(text)
