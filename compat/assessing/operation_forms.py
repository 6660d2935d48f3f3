"""What forms of this room share: fields built from the facts, and the part about arms and pumps."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any, ClassVar, Literal, cast

from django import forms
from django.forms import BoundField

from compat.case.case_file import PumpState
from shared.fact_fields import CellField, form_field
from shared.facts import Facts
from shared.facts_reading import FactField, field_of
from shared.fields import PersonForm, QuantityField
from terminals.facts import ArmFacts, BerthFacts
from vessels.facts import PumpFacts, ShipFacts

SpeedChoice = Literal["as stated", "one common speed", "one common fraction"]
Fields = dict[str, forms.Field]


def read_of(model: type[Facts], key: str, **changes: Any) -> FactField:
    """Return how one key of a facts document stands in a form, with some of it changed."""
    return replace(field_of(model, key), **changes)


def quantity_field(read: FactField, label: str, help_text: str = "", initial: float | None = None) -> QuantityField:
    """Return the field of a quantity with its unit beside it; ``initial`` is in the unit of the document."""
    made = cast(QuantityField, form_field(read, label=label, help_text=help_text, in_table=False))
    made.show_in(read.unit, initial)
    return made


def cell_field(read: FactField, label: str, initial: float | None = None) -> CellField:
    """Return the field of a quantity in a table, which may stay empty."""
    made = cast(CellField, form_field(replace(read, required=False), label=label, help_text="", in_table=True))
    made.show_in(read.unit, initial)
    return made


def tank_level(ship: ShipFacts) -> FactField:
    """Return how a tank level stands in a form: within the cargo tanks, where these are stated."""
    tanks = ship.cargo_tanks
    if tanks is None:
        return read_of(PumpState, "tank_surface_elevation_m")
    return read_of(
        PumpState,
        "tank_surface_elevation_m",
        least=tanks.bottom_elevation_m,
        greatest=tanks.top_elevation_m,
        hint="Her cargo tanks lie between these, above the keel.",
    )


def gas_pressure() -> FactField:
    """Return how a tank's gas pressure stands in a form: none holds more, and another unit is caught."""
    hint = "Tanks are often read in mbar or mmH₂O; choose that unit."
    return read_of(PumpState, "tank_gas_pressure_bar_gauge", least=-0.5, greatest=2.0, hint=hint)


def pump_speed(pump: PumpFacts) -> FactField:
    """Return how a stated speed stands in a form: within the pump's own range."""
    return read_of(PumpState, "speed_rpm", least=pump.least_speed_rpm, greatest=pump.greatest_speed_rpm)


def arm_fields(arms: Sequence[ArmFacts], counts: Sequence[int]) -> Fields:
    """Return a choice for each kind of arm or hose; 0 leaves that kind out."""
    fields: Fields = {}
    for number, (arm, count) in enumerate(zip(arms, counts, strict=True)):
        choices = [(str(n), f"{n} of {arm.count}") for n in range(arm.count, -1, -1)]
        fields[f"arm_{number}"] = forms.ChoiceField(label=arm.name, choices=choices, initial=str(count))
    return fields


def running_fields(pumps: Sequence[PumpFacts], running: Sequence[bool]) -> Fields:
    """Return a tick for each pump."""
    return {
        f"pump_{number}_running": forms.BooleanField(label=pump.name, required=False, initial=runs)
        for number, (pump, runs) in enumerate(zip(pumps, running, strict=True))
    }


@dataclass(frozen=True)
class PumpRow:
    """What the form asks about one pump; cells are missing where the form does not ask."""

    pump: PumpFacts
    running: BoundField
    cells: tuple[BoundField, ...]


class OperationForm(PersonForm):
    """The part that a first assessment and its variants share: arms connected, pumps running, their speeds."""

    use_required_attribute = False
    ship: ClassVar[ShipFacts]
    berth: ClassVar[BerthFacts]
    cell_parts: ClassVar[tuple[str, ...]] = ()

    @property
    def arm_rows(self) -> list[BoundField]:
        """Return a choice for each kind of arm or hose."""
        return [self[f"arm_{number}"] for number in range(len(self.berth.arms))]

    @property
    def pump_rows(self) -> list[PumpRow]:
        """Return what is asked about each pump."""
        return list(self._pump_rows())

    def _pump_rows(self) -> Iterator[PumpRow]:
        for number, pump in enumerate(self.ship.pumps):
            names = [f"pump_{number}_{part}" for part in self.cell_parts]
            cells = tuple(self[name] for name in names if name in self.fields)
            yield PumpRow(pump, self[f"pump_{number}_running"], cells)

    def clean(self) -> dict[str, Any]:
        """Refuse no arm, no pump, and a running pump without the speed that it is to have."""
        values = super().clean() or self.cleaned_data
        if not any(self._counts(values)):
            self.add_error("arm_0", "No arm or hose is connected; connect at least one.")
        running = [number for number in range(len(self.ship.pumps)) if values.get(f"pump_{number}_running")]
        if not running:
            self.add_error("pump_0_running", "No pump is running; tick at least one.")
        for number in running:
            name = f"pump_{number}_speed"
            if self._speed(values) == "as stated" and name not in self.errors and values.get(name) is None:
                pump = self.ship.pumps[number]
                self.add_error(name, f"Speed of {pump.name} is missing; state it, or choose one common speed.")
        sought = self._speed(values) not in {"as stated", None}
        if sought and "pressure" not in self.errors and values.get("pressure") is None:
            self.add_error("pressure", "Agreed manifold pressure is missing; a sought speed needs it as a limit.")
        return values

    def _speed(self, values: Mapping[str, Any]) -> SpeedChoice | None:
        raise NotImplementedError

    def _counts(self, values: Mapping[str, Any]) -> tuple[int, ...]:
        return tuple(int(values.get(f"arm_{number}") or 0) for number in range(len(self.berth.arms)))

    def _stated_speed(self, number: int) -> float | None:
        speed: Decimal | None = self.cleaned_data.get(f"pump_{number}_speed")
        return None if speed is None else float(speed)

    def place_problems(self, problems: Sequence[str]) -> None:
        """Put what only ship, berth and setting together can tell on top of the form."""
        for problem in problems:
            self.add_error(None, problem)
