"""The form that plans a loading, and the loading file that follows from it."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from compat.assessing.operation_forms import Fields, quantity_field, read_of
from compat.stay.loading import FORMAT, LoadingFile, check_loading
from shared.fields import PersonForm
from shared.models import Person
from shared.reading import DocumentError

_COLUMNS = ("inlet_bore_mm", "capacity_m3", "volume_m3", "stop_percent", "covers_inlet_m3", "topping_off_m3")
_TANKS_HELP = (
    "One tank a line: name, bore of its inlet in mm, capacity in m³, volume in it now in m³, where it is stopped in %"
    " of its capacity, volume that covers the inlet in m³, volume to be topped off in m³, as in"
    " “1P 300 2000 0 98 50 100”."
)


class LoadingForm(PersonForm):
    """What a loading follows from; what stays empty bounds nothing. Made by ``loading_form``."""

    use_required_attribute = False

    def clean_tanks(self) -> list[dict[str, Any]]:
        """Read the tanks, line by line."""
        tanks = []
        for number, line in enumerate(self.cleaned_data["tanks"].splitlines(), start=1):
            parts = line.split()
            if not parts:
                continue
            try:
                figures = [float(part) for part in parts[1:]]
            except ValueError:
                figures = []
            if len(figures) != len(_COLUMNS):
                raise forms.ValidationError(
                    f"Line {number} of the tanks is “{line.strip()[:50]}”; write a name and {len(_COLUMNS)} numbers:"
                    " inlet bore, capacity, volume now, stop, cover, topping off."
                )
            tanks.append({"key": parts[0], **dict(zip(_COLUMNS, figures, strict=True))})
        return tanks

    def loading(self) -> LoadingFile | None:
        """Return the loading file of the valid form; None with the reasons on the form where it does not fit."""
        values = {key: float(one) if isinstance(one, Decimal) else one for key, one in self.cleaned_data.items()}
        document = {"format": FORMAT, **{key: value for key, value in values.items() if value is not None}}
        try:
            return check_loading(document, "")
        except DocumentError as error:
            for problem in error.problems:
                self.add_error(None, problem.removeprefix(": "))
            return None


def loading_form(person: Person, sent: Any = None) -> LoadingForm:
    """Return the form of a loading."""

    def rate(key: str, label: str, *, required: bool = False) -> forms.Field:
        return quantity_field(read_of(LoadingFile, key, required=required), label, "")

    fields: Fields = {
        "title": forms.CharField(label="Name of this loading", required=False, max_length=120),
        "shore_rate_m3_per_h": rate("shore_rate_m3_per_h", "Rate that the shore gives", required=True),
        "start_rate_m3_per_h": rate("start_rate_m3_per_h", "Start rate"),
        "topping_off_rate_m3_per_h": rate("topping_off_rate_m3_per_h", "Rate while a tank is topped off"),
        "vent_capacity_m3_per_h": rate("vent_capacity_m3_per_h", "Capacity of vents or vapour return"),
        "static_accumulator": forms.BooleanField(
            label="The cargo accumulates static electricity: 1 m/s in the inlets until they are covered, then 7 m/s",
            required=False,
            initial=True,
        ),
        "tanks": forms.CharField(
            label="Tanks",
            widget=forms.Textarea(attrs={"rows": 8, "spellcheck": "false"}),
            help_text=_TANKS_HELP,
            error_messages={"required": "Tanks are missing; give one line for each tank."},
        ),
    }
    kind: type[LoadingForm] = type("LoadingFormHere", (LoadingForm,), dict(fields))
    return kind(sent, person=person)
