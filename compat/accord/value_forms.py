"""Forms of values: one value to put on the table, in the field that its kind asks for."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from compat.accord.value_kinds import LONGEST_WORDS, ChoiceValue, Given, NumberValue, ValueDefinition
from shared.fields import PersonForm, QuantityField
from shared.models import Person
from shared.quantities import preferred


class ValueForm(PersonForm):
    """One value to put on the table; every value has a prefix of its own, since several stand on one page."""

    seen = forms.IntegerField(required=False, widget=forms.HiddenInput)

    def __init__(
        self, *args: Any, definition: ValueDefinition, person: Person, start: Given | None = None, **kwargs: Any
    ) -> None:
        super().__init__(*args, prefix=definition.key, person=person, **kwargs)
        self.definition = definition
        field = value_field(definition, person, start)
        field.label = "Value for the table"
        self.fields["value"] = field

    def typed(self) -> str:
        """Return number and unit, or the words, as the person wrote them."""
        given = self.data.get(self.add_prefix("value"), "").strip()
        return (
            f"{given} {self.data.get(self.add_prefix('value_unit'), '')}".strip() if self.definition.numeric else given
        )


def value_field(
    definition: ValueDefinition, person: Person, start: Given | None, *, required: bool = True
) -> forms.Field:
    """Return the field that takes a value of this kind, with what it starts from."""
    if isinstance(definition, NumberValue):
        number = QuantityField(
            definition.quantity,
            definition.unit,
            definition.least,
            definition.greatest,
            label=definition.label,
            required=required,
        )
        number.show_in(preferred(person.units, number.canonical_unit), Decimal(start) if start is not None else None)
        return number
    messages = {"required": f"{definition.label} is missing; say what you propose."}
    if isinstance(definition, ChoiceValue):
        offered = [("", "choose one"), *((choice, choice) for choice in definition.choices)]
        messages["invalid_choice"] = f"{definition.label}: choose one of {'; '.join(definition.choices)}."
        return forms.ChoiceField(
            label=definition.label, choices=offered, initial=start, required=required, error_messages=messages
        )
    return forms.CharField(
        label=definition.label,
        max_length=LONGEST_WORDS,
        initial=start,
        required=required,
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages=messages,
    )
