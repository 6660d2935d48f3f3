"""Two plans of a stay side by side, row by row (pure: no Django)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from compat.stay.parts import StayAnswer
from compat.stay.variants import Variant

# Half of the last digit that is shown: below it two figures are the same.
_SAME = {"h": 0.005, "bar": 0.005, "m³": 0.5, "m³/h": 0.5, "rpm": 0.5, "t": 0.05}


@dataclass(frozen=True)
class BesideRow:
    """One figure of both plans in a unit of documents; None is not known, or there is no such stage."""

    label: str
    unit: str
    first: float | None
    second: float | None

    @property
    def difference(self) -> float | None:
        """Return how much more the second plan has."""
        return None if self.first is None or self.second is None else self.second - self.first

    @property
    def word(self) -> Literal["more", "less", "the same", "not known"]:
        """Say how the second plan stands to the first; what is not seen in the figures is the same."""
        if self.difference is None:
            return "not known"
        if abs(self.difference) < _SAME[self.unit]:
            return "the same"
        return "more" if self.difference > 0 else "less"

    @property
    def apart(self) -> float | None:
        """Return how far both are apart, None where it is not known or nothing."""
        return abs(self.difference or 0.0) if self.word in {"more", "less"} else None


def beside_rows(first: StayAnswer, second: StayAnswer) -> Iterator[BesideRow]:
    """Yield hours, hours of each stage, volume, rates, pressure, speed, inert gas and fuel of two plans."""
    yield BesideRow("Hours at the berth", "h", first.hours, second.hours)
    for name in dict.fromkeys(stage.name for answer in (first, second) for stage in answer.stages):
        yield BesideRow(f"Hours of {name}", "h", _hours_of(first, name), _hours_of(second, name))
    figures = (
        ("Ashore", "m³", "ashore_m3"),
        ("Highest rate", "m³/h", "highest_rate_m3_per_h"),
        ("Mean rate of bulk discharge", "m³/h", "mean_bulk_rate_m3_per_h"),
        ("Greatest pump speed", "rpm", "greatest_speed_rpm"),
        ("Inert gas needed", "m³/h", "inert_gas_m3_per_h"),
        ("Fuel for the pumps", "t", "fuel_t"),
    )
    for label, unit, key in figures:
        yield BesideRow(label, unit, getattr(first, key), getattr(second, key))
    lowest = (one.warranty.least_bulk_pressure_bar_gauge for one in (first, second))
    yield BesideRow("Lowest manifold pressure in bulk", "bar", *lowest)


def _hours_of(answer: StayAnswer, name: str) -> float | None:
    hours = [stage.hours for stage in answer.stages if stage.name == name]
    return sum(hours) if hours else None


def most_saved(variants: Sequence[Variant]) -> Variant | None:
    """Return the plan that saves most hours, of those that can be settled if any can; None where none saves any."""
    saving = [one for one in variants if one.hours_saved is not None and one.hours_saved >= _SAME["h"]]
    return max(saving, key=lambda one: (not one.answer.problems, one.hours_saved or 0.0), default=None)
