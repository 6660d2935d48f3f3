"""The form that moves an assessment: agreed pressure, arms connected, pumps running, speeds where they are stated."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import new_class
from typing import Any, ClassVar, cast

from django import forms

from compat.assessing.operation_forms import (
    Fields,
    OperationForm,
    SpeedChoice,
    arm_fields,
    cell_field,
    pump_speed,
    quantity_field,
    read_of,
    running_fields,
)
from compat.case.case_file import AgreedFacts, PumpState
from compat.case.composing import Setting
from shared.fact_fields import plain
from shared.facts import SHORT_TEXT_LENGTH
from shared.models import Person
from terminals.facts import BerthFacts
from vessels.facts import ShipFacts


class VariantForm(OperationForm):
    """What may be moved on the page of an assessment. Made for it by ``variant_form``."""

    cell_parts = ("speed",)
    base: ClassVar[Setting]

    def _speed(self, values: Mapping[str, Any]) -> SpeedChoice | None:
        del values
        return self.base.operation.speed

    def setting(self) -> Setting:
        """Return the assessment's setting with what the valid form says in it."""
        values = self.cleaned_data
        agreed = self.base.agreed.model_copy(update={"manifold_pressure_bar_gauge": plain(values["pressure"])})
        places = {pump.key: number for number, pump in enumerate(self.ship.pumps)}
        moved = [self._moved(state, places[state.pump]) for state in self.base.operation.pumps]
        operation = self.base.operation.model_copy(update={"pumps": moved})
        return replace(self.base, arms_connected=self._counts(values), agreed=agreed, operation=operation)

    def _moved(self, state: PumpState, number: int) -> PumpState:
        speed = self._stated_speed(number) if self.base.operation.speed == "as stated" else state.speed_rpm
        return state.model_copy(update={"running": self.cleaned_data[f"pump_{number}_running"], "speed_rpm": speed})

    @property
    def sent(self) -> list[tuple[str, str]]:
        """Return names and texts with which this form comes back as it is."""
        names = set(self.fields) | {"pressure_unit"}
        return [(name, str(text)) for name, text in self.data.items() if name in names]


def variant_form(ship: ShipFacts, berth: BerthFacts, base: Setting, person: Person, sent: Any = None) -> VariantForm:
    """Return the form that moves ``base``, filled with it."""
    states = {state.pump: state for state in base.operation.pumps}
    fields: Fields = {
        "pressure": quantity_field(
            read_of(AgreedFacts, "manifold_pressure_bar_gauge", required=False),
            "Agreed manifold pressure",
            "",
            base.agreed.manifold_pressure_bar_gauge,
        )
    }
    fields |= arm_fields(berth.arms, base.arms_connected)
    fields |= running_fields(ship.pumps, [states[pump.key].running for pump in ship.pumps])
    if base.operation.speed == "as stated":
        for number, pump in enumerate(ship.pumps):
            fields[f"pump_{number}_speed"] = cell_field(
                pump_speed(pump), f"Speed of {pump.name}", states[pump.key].speed_rpm
            )
    own = {"ship": ship, "berth": berth, "base": base, **fields}
    kind = new_class("VariantFormHere", (VariantForm,), exec_body=lambda space: space.update(own))
    return cast(VariantForm, kind(sent, person=person))


class KeepForm(forms.Form):
    """The title under which a variant is kept."""

    title = forms.CharField(
        label="Title", max_length=SHORT_TEXT_LENGTH, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
