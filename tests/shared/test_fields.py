"""The quantity field: number and unit side by side, a decimal in the document's unit, typed text kept."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.template import Context, Template

from shared.fields import PersonForm, QuantityField
from shared.forms import helper
from shared.models import Person
from shared.quantities import exact


class PressureForm(PersonForm):
    pressure = QuantityField(
        "pressure",
        "bar",
        0.1,
        30,
        label="Manifold pressure",
        help_text="At the ship's manifold.",
        hint="Check the gauge.",
    )
    length = QuantityField("length", "m", -5, 2000, label="Length", required=False)
    helper = helper("Save")


def form_with(number: str, unit: str | None = None, **more: Any) -> PressureForm:
    data = {"pressure": number, "length": ""}
    if unit is not None:
        data["pressure_unit"] = unit
    return PressureForm({**data, **more.pop("data", {})}, **more)


@pytest.mark.parametrize(
    ("number", "unit", "expected"),
    [
        ("7", "bar", "7"),
        ("7.10", "bar", "7.10"),
        ("1", "kgf/cm²", "0.980665"),  # NIST SP 811, appendix B.8, exact
        ("100", "psi", "6.89475729316836"),  # from the exact pound and inch of NIST SP 811, B.8
        ("700", "kPa", "7"),
        ("0.7", "MPa", "7"),
    ],
)
def test_it_cleans_to_a_decimal_in_the_documents_unit(number: str, unit: str, expected: str) -> None:
    form = form_with(number, unit)
    assert form.is_valid(), form.errors
    assert form.cleaned_data == {"pressure": Decimal(expected), "length": None}


@pytest.mark.parametrize(
    ("number", "unit", "sentence"),
    [
        ("", "bar", "Manifold pressure is missing; allowed: 0.1 to 30 bar."),
        ("seven", "bar", "Manifold pressure “seven” bar is not a number; allowed: 0.1 to 30 bar."),
        ("40", "bar", "Manifold pressure is 40 bar; allowed: 0.1 to 30 bar. Check the gauge."),
        ("1000", "psi", "Manifold pressure is 1000 psi; allowed: 1.450377 to 435.1132 psi. Check the gauge."),
        ("-1", "bar", "Manifold pressure is -1 bar; allowed: 0.1 to 30 bar. Check the gauge."),
        (
            "7,5",
            "bar",
            (
                "Manifold pressure “7,5” bar has a comma; write a point before decimals and nothing between thousands;"
                " allowed: 0.1 to 30 bar."
            ),
        ),
    ],
)
def test_a_refusal_is_one_sentence_and_keeps_what_was_typed(number: str, unit: str, sentence: str) -> None:
    form = form_with(number, unit)
    assert form.errors["pressure"] == [sentence]
    page = _rendered(form)
    assert sentence in page.replace("&#x27;", "'")
    if number:
        assert f'value="{number}"' in page
    assert f'<option value="{unit}" selected>' in page


def test_a_unit_that_is_not_offered_is_refused() -> None:
    form = form_with("7", "m³/h")
    assert str(form.errors["pressure"][0]).startswith("Manifold pressure has the unit m³/h; choose one of bar, kgf/cm²")


def test_a_form_without_the_unit_takes_the_one_it_shows() -> None:
    form = form_with("100", None, person=Person(units={"pressure": "psi"}))
    assert form.is_valid()
    assert form.cleaned_data["pressure"] == Decimal("6.89475729316836")


def test_the_persons_unit_is_chosen_beforehand() -> None:
    page = _rendered(PressureForm(person=Person(units={"pressure": "kgf/cm²"}), initial={"pressure": 0.980665}))
    assert '<option value="kgf/cm²" selected>' in page
    assert 'value="1"' in page


@pytest.mark.parametrize("stored", [8.0, 7.123456789, Decimal("0.1"), 30])
def test_a_value_that_is_not_touched_comes_back_to_the_last_digit(stored: float) -> None:
    person = Person(units={"pressure": "psi"})
    shown = PressureForm(person=person, initial={"pressure": stored}).fields["pressure"].initial
    form = form_with(shown[0], shown[1], person=person, initial={"pressure": stored})
    assert form.is_valid(), form.errors
    assert form.cleaned_data["pressure"] == exact(stored)
    assert not form.has_changed()


def test_a_touched_value_has_changed() -> None:
    person = Person(units={"pressure": "psi"})
    assert form_with("116", "bar", person=person, initial={"pressure": 8.0}).has_changed()
    assert form_with("117", "psi", person=person, initial={"pressure": 8.0}).has_changed()


def test_number_and_unit_have_names_that_a_screen_reader_reads() -> None:
    page = _rendered(PressureForm())
    assert '<label for="id_pressure_0"' in page.replace("\n", " ").replace("  ", "")
    assert 'id="id_pressure_0"' in page
    assert 'name="pressure"' in page
    assert 'name="pressure_unit"' in page
    assert 'aria-label="Manifold pressure: unit"' in page
    assert page.index('name="pressure"') < page.index('name="pressure_unit"')
    assert 'class="input-group quantity' in page


def test_a_field_of_the_wrong_unit_is_a_programmers_error() -> None:
    with pytest.raises(ValueError, match="m is no unit of pressure"):
        QuantityField("pressure", "m", 0, 1, label="x")


def _rendered(form: PressureForm) -> str:
    return Template("{% load crispy_forms_tags %}{% crispy form %}").render(Context({"form": form}))


class SpeedForm(PersonForm):
    speed = QuantityField("speed", "rpm", 0, 2000, label="Speed")
    losses = QuantityField("number", "1", 0, 10, label="Loss coefficient")
    helper = helper("Save")


def test_a_unit_that_can_not_be_chosen_is_a_word() -> None:
    page = Template("{% load crispy_forms_tags %}{% crispy form %}").render(Context({"form": SpeedForm()}))
    assert page.count(">rpm</span>") == 1
    assert "<select" not in page
    form = SpeedForm({"speed": "1500", "losses": "2.5"})
    assert form.is_valid()
    assert form.cleaned_data == {"speed": Decimal(1500), "losses": Decimal("2.5")}


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        (["600.4", "m"], "Length is 600.4 m; allowed: 20 to 500 m. Is it in feet? 600.4 ft is 183.00 m: choose ft"),
        (["2000", "m"], "Length is 2000 m; allowed: 20 to 500 m."),
        (["5", "m"], "Length is 5 m; allowed: 20 to 500 m."),
        (["2000", "ft"], "Length is 2000 ft; allowed: 65.6168 to 1640.42 ft."),
    ],
)
def test_metres_that_may_be_feet_are_asked_about(typed: list[str], told: str) -> None:
    field = QuantityField("length", "m", 20, 500, label="Length")
    with pytest.raises(ValidationError) as caught:
        field.clean(typed)
    assert caught.value.messages[0].startswith(told)
    assert ("feet" in caught.value.messages[0]) == ("feet" in told)
