"""The form of tolerances: one row for each number of a case that is seldom known exactly."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms
from django.forms import BoundField

from compat.case.case_file import MOST_TOLERANCES, CaseFile, Tolerance
from compat.case.uncertain import Uncertain, uncertain_numbers
from shared.calc.errors import InputError
from shared.quantities import converted, exact, plain_text, preferred, read_number

PERCENT = "%"
_FIGURES = 6
_GREATEST = Decimal(100_000)


@dataclass(frozen=True)
class ToleranceRow:
    """What the form asks about one number."""

    number: Uncertain
    amount: BoundField
    unit: BoundField


class TolerancesForm(forms.Form):
    """How far each number may lie either way; an empty row takes it as exact. Names are a place in the list."""

    use_required_attribute = False

    def __init__(self, case: CaseFile, units: Mapping[str, str], sent: Any = None, *, line_shown: bool) -> None:
        super().__init__(sent)
        self.numbers = uncertain_numbers(case, line_shown=line_shown)
        self.stated = {tolerance.key: tolerance for tolerance in case.tolerances}
        for place, number in enumerate(self.numbers):
            shown = preferred(units, number.unit)
            amount, unit = self._stated(number, shown)
            attrs = {"inputmode": "decimal", "autocomplete": "off", "placeholder": f"e.g. {_example(number, shown)}"}
            self.fields[f"by_{place}"] = forms.CharField(
                label=number.label,
                required=False,
                initial=amount,
                max_length=30,
                widget=forms.TextInput(attrs=attrs),
            )
            offered = [shown] if number.unit == PERCENT else [shown, PERCENT]
            self.fields[f"in_{place}"] = forms.ChoiceField(
                choices=[(one, "as stated" if one == "1" else one) for one in offered],
                required=False,
                initial=unit,
                widget=forms.Select(attrs={"aria-label": f"{number.label}: unit"}),
            )
        self.units = units

    @property
    def rows(self) -> Iterator[ToleranceRow]:
        """Return the rows in their order."""
        for place, number in enumerate(self.numbers):
            yield ToleranceRow(number, self[f"by_{place}"], self[f"in_{place}"])

    @property
    def kept(self) -> list[Tolerance]:
        """Return the case's own tolerances that no row can show, which count as they are stated."""
        mine = {key for number in self.numbers for key in number.keys}
        return [one for key, one in self.stated.items() if key not in mine or one.least is not None]

    def clean(self) -> dict[str, Any]:
        """Read every amount; refuse what is no number, nothing, or more than a part can be."""
        values = super().clean() or self.cleaned_data
        for place, number in enumerate(self.numbers):
            name = f"by_{place}"
            if values.get(name):
                try:
                    values[name] = self._read(number, values[name], values.get(f"in_{place}") or "")
                except InputError as error:
                    self.add_error(name, str(error))
        count = sum(len(number.keys) for place, number in enumerate(self.numbers) if values.get(f"by_{place}"))
        if count > MOST_TOLERANCES:
            self.add_error(None, f"{count} tolerances are stated; allowed: up to {MOST_TOLERANCES}. Leave some empty.")
        return values

    def tolerances(self) -> list[Tolerance]:
        """Return what the valid form says, with what the case keeps."""
        found = {one.key: one for one in self.kept}
        for place, number in enumerate(self.numbers):
            amount: Tolerance | None = self.cleaned_data[f"by_{place}"] or None
            if amount is not None:
                found |= {key: amount.model_copy(update={"key": key}) for key in number.keys}
        return list(found.values())

    @property
    def sent(self) -> list[tuple[str, str]]:
        """Return names and texts with which this form comes back as it is."""
        return [(name, str(text)) for name, text in self.data.items() if name in self.fields and text]

    def _read(self, number: Uncertain, text: str, unit: str) -> Tolerance:
        shown = preferred(self.units, number.unit)
        if text.endswith(PERCENT):
            text, unit = text.removesuffix(PERCENT).rstrip(), PERCENT
        after = "" if unit in {"", "1"} else f" {unit}"
        most = Decimal(100) if unit == PERCENT else _GREATEST
        allowed = f"allowed: more than 0, up to {most:,}{after}; leave it empty to take the number as exact."
        try:
            amount = read_number(text)
        except InputError as error:
            raise InputError(f"{number.label}: ± “{text[:30]}”{after} {error}; {allowed}") from None
        if not 0 < amount <= most:
            raise InputError(f"{number.label}: ± {text[:30]}{after}; {allowed}")
        if unit == PERCENT and number.unit != PERCENT:
            if 0 in number.values:
                raise InputError(f"{number.label} is 0, and a part of it is nothing; state ± in {shown}.")
            return Tolerance(key=number.keys[0], plus_minus_percent=float(amount))
        return Tolerance(key=number.keys[0], plus_minus=float(_difference(amount, shown, number.unit)))

    def _stated(self, number: Uncertain, shown: str) -> tuple[str, str]:
        """Return amount and unit with which the case's own tolerance stands in its row."""
        stated = self.stated.get(number.keys[0])
        if stated is None or stated.least is not None:
            return "", shown
        if stated.plus_minus_percent is not None:
            return plain_text(exact(stated.plus_minus_percent)), PERCENT
        return plain_text(_difference(exact(stated.plus_minus or 0.0), number.unit, shown)), shown


def _example(number: Uncertain, shown: str) -> str:
    """Return the example in the unit that is shown."""
    if number.example.endswith(PERCENT):
        return number.example
    amount = _difference(Decimal(number.example), number.unit, shown)
    return plain_text(round(amount, -amount.adjusted()))


def _difference(amount: Decimal, from_unit: str, to_unit: str) -> Decimal:
    """Convert a difference: a degree Celsius is 1.8 degrees Fahrenheit, wherever their zeros lie."""
    if from_unit == to_unit:
        return amount
    zero = converted(Decimal(0), from_unit, to_unit)
    return round(converted(amount, from_unit, to_unit) - zero, 10).normalize()
