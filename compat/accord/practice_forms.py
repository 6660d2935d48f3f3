"""Forms of what a terminal prepares: its usual values, and one checklist item of its own."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms

from compat.accord.checklist.conditions import CONDITION_LABELS
from compat.accord.checklist.item import Phase
from compat.accord.checklist.own_items import CONDITIONS_ASKED, OwnItem, checked_item
from compat.accord.value_forms import value_field
from compat.accord.value_kinds import Given, Group
from compat.accord.values import DEFINITIONS, in_groups
from shared.fields import PersonForm
from shared.models import Person

_ASKED = {
    "text": "words",
    "number": "a number",
    "date": "a day",
    "moment": "a day and time",
    "yes or no": "yes or no",
}


class UsualValuesForm(PersonForm):
    """Every value that may be agreed, each empty where the terminal proposes nothing by habit."""

    def __init__(self, *args: Any, usual: Mapping[str, Given], person: Person, **kwargs: Any) -> None:
        super().__init__(*args, person=person, **kwargs)
        for key, definition in DEFINITIONS.items():
            self.fields[key] = value_field(definition, person, usual.get(key), required=False)

    @property
    def groups(self) -> list[tuple[Group, list[Any]]]:
        """Return the fields under the headings of their values."""
        return [(group, [self[one.key] for one in members]) for group, members in in_groups(list(DEFINITIONS.values()))]

    def values(self) -> dict[str, Given]:
        """Return what was filled in."""
        return {key: value for key, value in self.cleaned_data.items() if value not in (None, "")}


class OwnItemForm(forms.Form):
    """One checklist item of a terminal's own."""

    statement = forms.CharField(
        label="What is to be true",
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="One sentence, said as a fact: “The jetty's fire pump was run this shift.”",
        error_messages={"required": "What is to be true is missing; write it as one sentence."},
    )
    phase = forms.ChoiceField(label="When it is answered", choices=[(str(phase), str(phase)) for phase in Phase])
    answered_by = forms.ChoiceField(
        label="Who answers it", choices=[(side, side) for side in ("terminal", "ship", "both sides")]
    )
    required = forms.BooleanField(
        label="The plan is not signed without it", required=False, initial=True, help_text="Otherwise it is advice."
    )
    when = forms.ChoiceField(
        label="Only where stated",
        required=False,
        choices=[("", "always"), *((key, CONDITION_LABELS[key]) for key in CONDITIONS_ASKED)],
    )
    source = forms.CharField(
        label="Where it stands",
        max_length=120,
        help_text="Your manual and its section, or the local rule; printed beside the item.",
        error_messages={"required": "Where it stands is missing; name your manual and its section."},
    )
    asks = forms.CharField(
        label="Value to record", max_length=60, required=False, help_text="What it is; empty for a plain yes."
    )
    asks_kind = forms.ChoiceField(label="The value is", choices=list(_ASKED.items()))
    asks_unit = forms.CharField(label="Unit of the value", max_length=12, required=False)
    every_min = forms.IntegerField(
        label="Again every [min]",
        required=False,
        min_value=5,
        max_value=1440,
        error_messages={
            "invalid": "Again every: give whole minutes, 5 to 1440.",
            "min_value": "Again every: give whole minutes, 5 to 1440.",
            "max_value": "Again every: give whole minutes, 5 to 1440.",
        },
    )
    each_watch = forms.BooleanField(label="Again each watch", required=False)

    def item(self, key: str) -> OwnItem:
        """Return what was filled in as an item; raise InputError with a sentence where it is none."""
        return checked_item({**self.cleaned_data, "key": key})


def form_of(item: OwnItem | None, data: Any = None) -> OwnItemForm:
    """Return the form with an item as it stands, or for a new one."""
    return OwnItemForm(data, initial=item.model_dump(mode="json") if item else None)
