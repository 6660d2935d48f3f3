"""The form field for a quantity: a number and its unit side by side, clean as a decimal in the document's unit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from django import forms

from shared.calc.errors import InputError
from shared.calc.units import Quantity, unit_named
from shared.models import Person
from shared.quantities import converted, exact, figure, offered, plain_text, preferred, read_number

_SHOWN_FIGURES = 7


class QuantityWidget(forms.MultiWidget):
    """A text box for the number and a list of units, posted as ``name`` and ``name_unit``."""

    template_name = "shared/widgets/quantity.html"
    use_fieldset = False  # the label names the number; the unit has a name of its own

    def __init__(self, units: Sequence[str], shown_unit: str, label: str) -> None:
        number = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off", "class": "quantity-number"})
        unit = forms.Select(
            choices=[(symbol, symbol) for symbol in units],
            attrs={"aria-label": f"{label}: unit", "class": "quantity-unit"},
        )
        self.shown_unit = shown_unit
        # Where there is nothing to choose, the unit is a word; a plain number has none.
        self.only_unit = units[0].replace("1", "") if len(units) == 1 else None
        super().__init__(widgets={"": number, "unit": unit})

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        """Tell the template about a unit that can't be chosen."""
        context: dict[str, Any] = super().get_context(name, value, attrs)
        context["only_unit"] = self.only_unit
        return context

    def decompress(self, value: Any) -> list[str]:
        """Split an initial [number, unit] pair; nothing gives an empty box in the preferred unit."""
        return list(value) if isinstance(value, list | tuple) else ["", self.shown_unit]

    def value_from_datadict(self, data: Mapping[str, Any], files: Any, name: str) -> list[str]:
        """Take number and unit as posted; a missing unit is the one that the form shows."""
        number, unit = super().value_from_datadict(data, files, name)
        return [number or "", unit or self.shown_unit]

    def id_for_label(self, id_: str, index: str = "0") -> str:
        """Let a click on the label go to the number."""
        return f"{id_}_{index}" if id_ else id_


class QuantityField(forms.Field):
    """A quantity between ``least`` and ``greatest``, both in ``canonical_unit``, the unit of the cleaned decimal.

    An empty box cleans to None. ``initial`` is a number in the canonical unit.
    """

    def __init__(
        self,
        quantity_name: Quantity,
        canonical_unit: str,
        least: Decimal | float | int,
        greatest: Decimal | float | int,
        *,
        required: bool = True,
        label: str,
        help_text: str = "",
        initial: Decimal | float | int | None = None,
        hint: str = "",
    ) -> None:
        if unit_named(canonical_unit).quantity != quantity_name:
            raise ValueError(f"{canonical_unit} is no unit of {quantity_name}.")
        self.canonical_unit, self.hint = canonical_unit, hint
        self.least, self.greatest = exact(least), exact(greatest)
        self.given: Decimal | None = None
        self.shown: list[str] = ["", canonical_unit]
        self.name = label
        widget = QuantityWidget(offered(canonical_unit), canonical_unit, label)
        super().__init__(required=required, label=label, help_text=help_text, initial=None, widget=widget)
        self.show_in(canonical_unit, initial)

    def show_in(self, unit: str, initial: Decimal | float | int | str | None) -> None:
        """Show the initial value, given in the canonical unit, in another one."""
        self.given = None if initial in (None, "") else exact(_number(initial))
        number = "" if self.given is None else _shown_number(self.given, self.canonical_unit, unit)
        self.shown = [number, unit]
        self.initial = self.shown
        self.widget.shown_unit = unit

    def clean(self, value: Any) -> Decimal | None:
        """Return the decimal in the canonical unit; a value that was not touched comes back to the last digit."""
        text, unit = (str(part).strip() for part in value) if value else ("", self.canonical_unit)
        if [text, unit] == self.shown and self.given is not None:
            return self._checked(self.given, text, unit)
        if not text:
            if self.required:
                raise self._refusal(f"{self.name} is missing; {self._allowed(unit)}", "required")
            return None
        if unit not in offered(self.canonical_unit):
            choice = ", ".join(offered(self.canonical_unit))
            raise self._refusal(f"{self.name} has the unit {unit[:20]}; choose one of {choice}.", "unit")
        try:
            number = read_number(text)
        except InputError as error:
            raise self._refusal(
                f"{self.name} “{text[:40]}”{_after(unit)} {error}; {self._allowed(unit)}", "number"
            ) from None
        return self._checked(converted(number, unit, self.canonical_unit), text, unit)

    def has_changed(self, initial: Any, data: Any) -> bool:  # noqa: ARG002 (Django's signature)
        """Tell whether number or unit differ from what was shown."""
        text, unit = data or ("", self.shown[1])
        return [str(text).strip(), unit] != self.shown and bool(str(text).strip() or self.shown[0])

    def _checked(self, number: Decimal, text: str, unit: str) -> Decimal:
        if self.least <= number <= self.greatest:
            return number
        hint = f"{self._feet_for_metres(number, text, unit)} {self.hint}".rstrip()
        raise self._refusal(f"{self.name} is {text}{_after(unit)}; {self._allowed(unit)}{hint}", "range")

    def _feet_for_metres(self, number: Decimal, text: str, unit: str) -> str:
        """Ask whether a length that is too great in metres, and usual in feet, was meant in feet."""
        if self.canonical_unit != "m" or unit != "m" or number <= self.greatest:
            return ""
        feet = converted(number, "ft", "m")
        if not self.least <= feet <= self.greatest:
            return ""
        return f" Is it in feet? {text} ft is {figure(feet, 'm')} m: choose ft beside the number."

    def _allowed(self, unit: str) -> str:
        shown_unit = unit if unit in offered(self.canonical_unit) else self.canonical_unit
        least, greatest = (
            _shown_number(bound, self.canonical_unit, shown_unit) for bound in (self.least, self.greatest)
        )
        return f"allowed: {least} to {greatest}{_after(shown_unit)}."

    def _refusal(self, sentence: str, code: str) -> forms.ValidationError:
        return forms.ValidationError(sentence, code=code)


class PersonForm(forms.Form):
    """A form that shows its quantities in the units of the person who fills it in."""

    def __init__(self, *args: Any, person: Person | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        chosen = person.units if person else {}
        for name, field in self.fields.items():
            if isinstance(field, QuantityField):
                initial = self.initial.pop(name, field.given)
                field.show_in(preferred(chosen, field.canonical_unit), initial)


def _after(unit: str) -> str:
    """Write a unit as it follows a number; a plain number has none."""
    return "" if unit == "1" else f" {unit}"


def _number(value: Decimal | float | int | str | None) -> Decimal | float | int:
    return Decimal(value) if isinstance(value, str) else value or 0


def _shown_number(value: Decimal, from_unit: str, to_unit: str) -> str:
    if from_unit == to_unit:
        return plain_text(value)
    return plain_text(converted(value, from_unit, to_unit, figures=_SHOWN_FIGURES))
