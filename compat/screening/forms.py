"""Forms of screenings: which ships and berths, on which terms; what the table shows; with whom it is shared."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any

from django import forms
from django.db.models import QuerySet

from compat.assessing.forms import CARGO
from compat.fit.catalogue import WORDS
from compat.screening.results import CHANGE_WORDS
from compat.screening.terms import ScreeningTerms
from shared.calc.errors import InputError
from shared.document_plan import Plan
from shared.facts import SHORT_TEXT_LENGTH
from shared.models import Person
from shared.quantities import converted, plain_text, preferred, read_number
from terminals.models import Berth
from vessels.models import Vessel

TERMS = Plan(
    ScreeningTerms,
    keys=(
        "draught",
        "arrival_draught_m",
        "water",
        "water_level_m",
        "tank_filling_percent",
        "tank_gas_pressure_bar_gauge",
        "manifold_pressure_bar_gauge",
        "viscosity_correction",
        "arrives_on",
        "arrival_hour_h",
        "stay_h",
        "tank_washing",
        "grades",
    ),
    labels={
        "draught": "Draught on arrival",
        "arrival_draught_m": "Stated draught",
        "water": "Water level for the rate",
        "water_level_m": "Stated water level",
        "tank_filling_percent": "Liquid in the cargo tanks",
        "tank_gas_pressure_bar_gauge": "Gas pressure in the tanks, gauge",
        "manifold_pressure_bar_gauge": "Manifold pressure to agree, gauge",
        "viscosity_correction": "Pump curves",
    },
    help_texts={
        "arrival_draught_m": "Counts where the draught is stated here.",
        "water_level_m": "Counts where the water level is stated here.",
        "tank_filling_percent": "Height of the liquid, of that between each ship's lowest and highest surface.",
        "tank_gas_pressure_bar_gauge": "Above atmosphere.",
        "manifold_pressure_bar_gauge": "Left empty: each berth's own highest manifold pressure.",
        "stay_h": "For certificates; the hours of the discharge come out of the rate.",
    },
    parts={"cargoes": replace(CARGO, heading="Cargoes", item="cargo", spare_rows=1)},
)


_TEXT_BOX = "form-control form-control-sm"


class ChoiceForm(forms.Form):
    """Title, ships and berths of a screening."""

    title = forms.CharField(
        label="Title",
        required=False,
        max_length=SHORT_TEXT_LENGTH,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        help_text="Left empty: how many ships at how many berths.",
    )
    ships = forms.ModelMultipleChoiceField(
        Vessel.objects.none(),
        to_field_name="public_id",
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "No ship is chosen; choose at least one."},
    )
    berths = forms.ModelMultipleChoiceField(
        Berth.objects.none(),
        to_field_name="public_id",
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "No berth is chosen; choose at least one."},
    )
    use_required_attribute = False

    def __init__(self, *args: Any, ships: QuerySet[Vessel], berths: QuerySet[Berth], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["ships"].queryset = ships  # type: ignore[attr-defined]
        self.fields["berths"].queryset = berths  # type: ignore[attr-defined]


class FilterForm(forms.Form):
    """Which pairs the table shows; anything that is no choice shows all."""

    fit = forms.ChoiceField(label="Fit", required=False)
    rate = forms.ChoiceField(
        label="Rate", required=False, choices=[("", "Any"), ("with", "With a rate"), ("without", "Without")]
    )
    least_rate = forms.CharField(required=False, max_length=20)
    most_hours = forms.CharField(label="Berth hours at most [h]", required=False, max_length=20)
    ship = forms.ChoiceField(label="Ship", required=False)
    berth = forms.ChoiceField(label="Berth", required=False)
    cargo = forms.ChoiceField(label="Cargo", required=False)
    limit = forms.ChoiceField(label="What sets the rate", required=False)
    change = forms.ChoiceField(label="What one change would be", required=False)
    doubt = forms.ChoiceField(
        label="Old or assumed facts",
        required=False,
        choices=[("", "Any"), ("with", "Decide fit or rate"), ("without", "Decide nothing")],
    )

    def __init__(
        self,
        *args: Any,
        ships: Any,
        berths: Any,
        cargoes: Any,
        limits: Any,
        units: Mapping[str, str] = MappingProxyType({}),
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.rate_unit = preferred(units, "m³/h")
        self.fields["least_rate"].label = f"Rate at least [{self.rate_unit}]"
        words = [(str(number), word) for number, word in WORDS.items() if number]
        changes = [(str(number), word) for number, word in enumerate(CHANGE_WORDS) if word]
        choices = {
            "fit": words,
            "ship": ships,
            "berth": berths,
            "cargo": cargoes,
            "limit": limits,
            "change": changes,
        }
        for name, offered in choices.items():
            self.fields[name].choices = [("", "Any"), *offered]  # type: ignore[attr-defined]
        for name, field in self.fields.items():
            style = "form-select form-select-sm" if name in choices or name in {"rate", "doubt"} else _TEXT_BOX
            field.widget.attrs |= {"class": style, "id": f"filter-{name}"}
        for name in ("least_rate", "most_hours"):
            self.fields[name].widget.attrs |= {"inputmode": "decimal", "autocomplete": "off"}

    def clean_least_rate(self) -> str:
        """Return the rate in m3/h as text, or nothing."""
        return self._number("least_rate", self.rate_unit, "m³/h")

    def clean_most_hours(self) -> str:
        """Return the hours as text, or nothing."""
        return self._number("most_hours", "h", "h")

    def chosen(self) -> dict[str, str]:
        """Return what is asked for, in the units of documents; a value that is no choice is passed over."""
        self.is_valid()
        return {name: value for name, value in self.cleaned_data.items() if value}

    def typed(self) -> dict[str, str]:
        """Return the same as it was typed, for the addresses of other pages of the list."""
        return {name: str(self.data.get(name, "")) for name in self.chosen()}

    @property
    def refusals(self) -> list[str]:
        """Return a sentence for each number that can't be read; it narrows nothing."""
        self.is_valid()
        return [str(error) for name in ("least_rate", "most_hours") for error in self.errors.get(name, [])]

    def _number(self, name: str, unit: str, canonical: str) -> str:
        text = self.cleaned_data[name].strip()
        if not text:
            return ""
        try:
            return plain_text(converted(read_number(text), unit, canonical))
        except InputError as error:
            label = str(self.fields[name].label)
            raise forms.ValidationError(f"{label}: “{text}” {error}; write a number, such as 1200.") from None


class ShareForm(forms.Form):
    """A colleague to whom a screening is given."""

    person = forms.ModelChoiceField(
        Person.objects.none(),
        to_field_name="username",
        empty_label="Choose a colleague",
        error_messages={"required": "Choose a colleague."},
    )

    def __init__(self, *args: Any, people: QuerySet[Person], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["person"].queryset = people  # type: ignore[attr-defined]
        self.fields["person"].widget.attrs |= {"class": "form-select"}
