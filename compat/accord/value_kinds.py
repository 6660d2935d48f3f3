"""What kinds of value ship and terminal agree: quantities, durations, counts, texts and choices (pure: no Django)."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Any, ClassVar

from compat.accord.checklist.conditions import ALWAYS, Condition, TransferConditions
from shared.calc.errors import InputError
from shared.calc.units import Quantity
from shared.quantities import plain_text

DECIMALS = Decimal("0.000001")
"""Agreed numbers are kept to this step of their canonical unit."""
LONGEST_WORDS = 200

Given = Decimal | str
"""A value as it is agreed: a number in its canonical unit, or words."""
StateInCase = Callable[[dict[str, Any], Decimal], None]


class Group(StrEnum):
    """Under which heading a value stands."""

    RATES = "Pressure and rates"
    PUMPS = "Pumps"
    STOPPING = "Notice, stops and emergency stop"
    COMMUNICATION = "Communication"
    WATCH = "Watch and handover"
    WEATHER = "Weather limits and what is done then"
    SAMPLING = "Gauging and sampling"
    UNITS = "Units used between ship and shore"


@dataclass(frozen=True, kw_only=True)
class ValueDefinition:
    """One value to agree."""

    kind: ClassVar[str]
    key: str
    label: str
    group: Group
    meaning: str
    needed: bool = False
    needed_with: str = ""
    """The key of a value that is worth nothing without this one."""
    at_a_glance: bool = False
    applies_when: Condition = ALWAYS
    note: str = ""
    """What a rule or practice says of it, with its source; shown beside the value."""
    state_in_case: StateInCase | None = None
    """Writes the value into a case document for the engine; None where the engine has no use for it."""
    unit: str = ""
    gauge: bool = False

    @property
    def numeric(self) -> bool:
        """Tell whether the value is a number."""
        return False

    def applies(self, conditions: TransferConditions) -> bool:
        """Tell whether the value is asked for; a condition that is not known keeps it."""
        return self.applies_when.holds(conditions) is not False

    def asked_with(self, agreed: Mapping[str, Given]) -> bool:
        """Tell whether nothing can be settled without this value, with these agreed."""
        return self.needed or self.needed_with in agreed

    def shown(self, value: Given) -> str:
        """Write a value of this kind as people read it."""
        return str(value)

    def check(self, value: Given) -> Given:
        """Return the value as it is kept; raise InputError naming what is allowed."""
        raise NotImplementedError


@dataclass(frozen=True, kw_only=True)
class NumberValue(ValueDefinition):
    """A number with its unit; ``whole`` for what is counted."""

    kind = "number"
    quantity: Quantity
    least: Decimal
    greatest: Decimal
    whole: bool = False

    @property
    def numeric(self) -> bool:
        """Tell that the value is a number."""
        return True

    def shown(self, value: Given) -> str:
        """Write the number with its unit."""
        unit = "" if self.unit == "1" else f" {self.unit}"
        return f"{plain_text(Decimal(value))}{unit}{' gauge' if self.gauge else ''}"

    def check(self, value: Given) -> Given:
        """Return the number as it is kept; raise InputError naming the allowed range."""
        if not isinstance(value, Decimal):
            raise InputError(f"{self.label} is “{value[:40]}”; give a number{self._allowed()}.")
        if not value.is_finite() or not self.least <= value <= self.greatest:
            raise InputError(f"{self.label} is {self.shown(value)}{self._allowed()}.")
        if self.whole and value != value.to_integral_value():
            raise InputError(f"{self.label} is {self.shown(value)}; give a whole number{self._allowed()}.")
        return value.quantize(DECIMALS)

    def _allowed(self) -> str:
        return f"; allowed: {plain_text(self.least)} to {self.shown(self.greatest)}"


@dataclass(frozen=True, kw_only=True)
class DurationValue(NumberValue):
    """A span of time, kept in seconds or minutes."""

    kind = "duration"


@dataclass(frozen=True, kw_only=True)
class TextValue(ValueDefinition):
    """A sentence or a list in words."""

    kind = "text"

    def check(self, value: Given) -> Given:
        """Return the words as they are kept; raise InputError where they are missing or too long."""
        words = " ".join(str(value).split())
        if not words:
            raise InputError(f"{self.label} is empty; write it down, up to {LONGEST_WORDS} characters.")
        if len(words) > LONGEST_WORDS:
            raise InputError(f"{self.label} has {len(words)} characters; allowed: up to {LONGEST_WORDS}. Shorten it.")
        return words


@dataclass(frozen=True, kw_only=True)
class ChoiceValue(ValueDefinition):
    """One of a few stated ways."""

    kind = "choice"
    choices: tuple[str, ...]

    def check(self, value: Given) -> Given:
        """Return the choice; raise InputError naming the choices for anything else."""
        if value not in self.choices:
            raise InputError(f"{self.label} is “{str(value)[:40]}”; choose one of: {'; '.join(self.choices)}.")
        return value
