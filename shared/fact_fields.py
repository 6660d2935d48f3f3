"""The form field for each key of a facts document, and the cell that takes its unit from the head of its column."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django import forms
from django.core.validators import RegexValidator

from shared.document_plan import Filling, Plan
from shared.facts import Facts
from shared.facts_reading import FactField
from shared.fields import QuantityField
from shared.quantities import offered, preferred

_IN_TABLE = "form-control form-control-sm"
MARK_PATTERN = r"^[A-Za-z0-9_.-]+$"


class CellWidget(forms.TextInput):
    """A text box for a number whose unit stands at the head of its column."""

    def __init__(self, label: str) -> None:
        self.shown_unit = ""
        attrs = {"inputmode": "decimal", "autocomplete": "off", "aria-label": label, "class": f"{_IN_TABLE} number"}
        super().__init__(attrs=attrs)

    def value_from_datadict(self, data: Mapping[str, Any], files: Any, name: str) -> list[str]:
        """Take the number as posted, with the column's unit."""
        del files
        return [data.get(name) or "", self.shown_unit]

    def format_value(self, value: Any) -> str:
        """Show the number of a [number, unit] pair."""
        return str(value[0]) if isinstance(value, list | tuple) else ""


class CellField(QuantityField):
    """A quantity in a table: its unit is chosen once for the whole column."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.widget = CellWidget(self.name)
        self.widget.is_required = self.required
        self.widget.shown_unit = self.shown[1]


class UnitForm(forms.Form):
    """The units at the head of a table: one choice for each column that has more than one."""

    def __init__(self, columns: list[FactField], chosen: Mapping[str, str], **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.use_required_attribute = False
        self.units: dict[str, str] = {}
        self.refusals: list[str] = []
        for column in columns:
            choices = offered(column.unit)
            shown = preferred(chosen, column.unit)
            if len(choices) > 1:
                self.fields[f"{column.key}_unit"] = self._choice(column, choices, shown)
                posted = self.data.get(self.add_prefix(f"{column.key}_unit"), shown)
                self.units[column.key] = posted if posted in choices else shown
                if posted not in choices:
                    choice = ", ".join(choices)
                    self.refusals.append(f"{column.label} has the unit {posted[:20]}; choose one of {choice}.")
            else:
                self.units[column.key] = column.unit

    def _choice(self, column: FactField, choices: list[str], shown: str) -> forms.ChoiceField:
        widget = forms.Select(attrs={"aria-label": f"{column.label}: unit", "class": "form-select form-select-sm"})
        return forms.ChoiceField(
            label=column.label, choices=[(unit, unit) for unit in choices], initial=shown, required=False, widget=widget
        )


def form_field(read: FactField, *, label: str, help_text: str, in_table: bool) -> forms.Field:
    """Return the form field that reads one key of a facts document, within the range that the document allows."""
    common: dict[str, Any] = {"label": label, "required": read.required, "help_text": "" if in_table else help_text}
    missing = {"required": f"{label} is missing; state it."}
    match read.kind:
        case "quantity":
            quantity = CellField if in_table else QuantityField
            return quantity(read.quantity, read.unit, read.least or 0, read.greatest or 0, hint=read.hint, **common)
        case "choice":
            made: forms.Field = _choice(read, common, missing)
        case "day":
            made = _day(common, missing)
        case "whole number":
            made = _whole_number(read, common, missing)
        case _:
            made = _text(read, common, missing)
    if in_table:
        kind = "form-select form-select-sm" if isinstance(made, forms.ChoiceField) else _IN_TABLE
        made.widget.attrs |= {"aria-label": label, "class": kind}
    return made


def plain(value: Any) -> Any:
    """Return a cleaned value as a document states it: a decimal becomes a number, an empty text becomes None."""
    if isinstance(value, Decimal):
        return float(value)
    return None if value == "" else value


def _choice(read: FactField, common: dict[str, Any], missing: dict[str, str]) -> forms.Field:
    choices = [(choice, choice[:1].upper() + choice[1:]) for choice in read.choices]
    if not read.required and read.default is None:
        choices.insert(0, ("", "Not known"))
    return forms.ChoiceField(choices=choices, initial=read.default, error_messages=missing, **common)


def _day(common: dict[str, Any], missing: dict[str, str]) -> forms.Field:
    sentence = f"{common['label']} is not a day; write it as 2031-04-14 (year, month, day)."
    widget = forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
    messages = missing | {"invalid": sentence}
    return forms.DateField(input_formats=["%Y-%m-%d"], error_messages=messages, widget=widget, **common)


def _whole_number(read: FactField, common: dict[str, Any], missing: dict[str, str]) -> forms.Field:
    least, greatest = int(read.least or 0), int(read.greatest or 0)
    sentence = f"{common['label']} is not a whole number in the range; allowed: {least} to {greatest}."
    messages = missing | {"invalid": sentence, "min_value": sentence, "max_value": sentence}
    widget = forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"})
    return forms.IntegerField(min_value=least, max_value=greatest, error_messages=messages, widget=widget, **common)


def _text(read: FactField, common: dict[str, Any], missing: dict[str, str]) -> forms.Field:
    label = common["label"]
    longest = None if read.greatest is None else int(read.greatest)
    checks = []
    if read.pattern == MARK_PATTERN:
        checks.append(RegexValidator(MARK_PATTERN, f"{label} may hold letters, digits and _ . - only, without spaces."))
    messages = missing | {"max_length": f"{label} has %(show_value)d characters; allowed: up to %(limit_value)d."}
    return forms.CharField(max_length=longest, validators=checks, error_messages=messages, **common)


class PlainForm(forms.Form):
    """The plain keys of one document.

    It answers what was posted, or where ``answers`` is false or a row command was posted only shows it again.
    """

    use_required_attribute = False

    def __init__(
        self,
        plan: Plan,
        filling: Filling,
        prefix: str,
        given: Facts | None,
        column_units: Mapping[str, str] | None,
        answers: bool = True,
    ) -> None:
        answers = answers and not filling.command
        super().__init__(data=filling.posted if answers else None, prefix=prefix)
        for column in plan.columns:
            label = plan.label(column)
            help_text = plan.help_texts.get(column.key, column.help_text)
            if help_text == label:
                help_text = ""
            made = form_field(column, label=label, help_text=help_text, in_table=column_units is not None)
            value = getattr(given, column.key) if given is not None else None
            if isinstance(made, QuantityField):
                unit = (column_units or {}).get(column.key) or preferred(filling.units, column.unit)
                made.show_in(unit, value)
            elif value is not None:
                made.initial = value
            self.fields[column.key] = made
            if filling.posted is not None and not answers:
                made.initial = made.widget.value_from_datadict(filling.posted, {}, self.add_prefix(column.key))

    def is_blank(self) -> bool:
        """Tell whether nothing was typed; what is chosen from a list counts only where it may stay unknown."""
        for bound in self:
            if isinstance(bound.field, forms.ChoiceField) and not _may_stay_unknown(bound.field):
                continue
            typed = bound.data if self.is_bound else bound.initial
            text = typed[0] if isinstance(typed, list) else typed
            if str("" if text is None else text).strip():
                return False
        return True


def _may_stay_unknown(choice: forms.ChoiceField) -> bool:
    return any(value == "" for value, _ in choice.widget.choices)
