"""The values that ship and terminal agree, in one table (pure: no Django).

A new value is a new line here: its key, words, unit, range and how the engine is told of it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from compat.case.case_file import AgreedFacts
from shared.calc.errors import InputError
from shared.calc.units import Quantity
from shared.quantities import plain_text

DECIMALS = Decimal("0.000001")
"""Agreed values are kept to this step of their canonical unit."""


@dataclass(frozen=True)
class ValueDefinition:
    """One value to agree; ``state_in_case`` writes it into a case document for the engine."""

    key: str
    label: str
    quantity: Quantity
    unit: str
    least: Decimal
    greatest: Decimal
    meaning: str
    state_in_case: Callable[[dict[str, Any], Decimal], None]
    gauge: bool = False

    def shown(self, value: Decimal) -> str:
        """Write a value of this kind with its unit."""
        return f"{plain_text(value)} {self.unit}{' gauge' if self.gauge else ''}"

    def check(self, value: Decimal) -> Decimal:
        """Return the value as it is kept; raise InputError naming the allowed range."""
        if not value.is_finite() or not self.least <= value <= self.greatest:
            raise InputError(
                f"{self.label} is {self.shown(value)};"
                f" allowed: {plain_text(self.least)} to {self.shown(self.greatest)}."
            )
        return value.quantize(DECIMALS)


def _agreed(key: str, label: str, quantity: Quantity, unit: str, meaning: str, gauge: bool = False) -> ValueDefinition:
    def state_in_case(case: dict[str, Any], value: Decimal) -> None:
        case.setdefault("agreed", {})[key] = float(value)

    least, greatest = _range_of(key)
    return ValueDefinition(key, label, quantity, unit, least, greatest, meaning, state_in_case, gauge)


def _range_of(key: str) -> tuple[Decimal, Decimal]:
    """Return the range in which the case file believes an agreed value."""
    stated = AgreedFacts.model_json_schema()["properties"][key]["anyOf"][0]
    return Decimal(str(stated["minimum"])), Decimal(str(stated["maximum"]))


DEFINITIONS: dict[str, ValueDefinition] = {
    definition.key: definition
    for definition in (
        _agreed(
            "manifold_pressure_bar_gauge",
            "Highest manifold pressure",
            "pressure",
            "bar",
            "The pressure that the ship's manifold gauge must not pass while the pumps run.",
            gauge=True,
        ),
        _agreed(
            "highest_rate_m3_per_h",
            "Highest rate",
            "flow",
            "m³/h",
            "The rate that must not be passed at any time of the transfer.",
        ),
        _agreed(
            "start_rate_m3_per_h",
            "Start rate",
            "flow",
            "m³/h",
            "The rate to hold until both sides have seen that the oil goes where it should and nothing leaks.",
        ),
    )
}


def definition_of(key: str) -> ValueDefinition:
    """Return the definition with this key; raise InputError where there is none."""
    try:
        return DEFINITIONS[key]
    except KeyError:
        raise InputError(f"There is no value “{key}” to agree; known: {', '.join(DEFINITIONS)}.") from None


def case_with(case: Mapping[str, Any], values: Mapping[str, Decimal]) -> dict[str, Any]:
    """Return a copy of a case document in which exactly these values are agreed, and no other."""
    stated = {key: part for key, part in case.items() if key != "agreed"} | {"agreed": {}}
    for key, value in values.items():
        definition_of(key).state_in_case(stated, value)
    return stated
