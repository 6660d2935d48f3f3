"""Numbers with units: read, converted, shown."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import numpy as np
import pytest
from django.template import Context, Template
from hypothesis import given
from hypothesis import strategies as st

from shared.calc.errors import InputError
from shared.calc.units import UNITS, units_of
from shared.quantities import (
    CHOICES,
    NOT_KNOWN,
    converted,
    display,
    figure,
    offered,
    plain_text,
    preferred,
    read_number,
)

GAUGES_OF_THE_EAST = {"pressure": "kgf/cm²", "flow": "bbl/h", "length": "ft", "temperature": "°F"}


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("7", "7"),
        (" 7.50 ", "7.50"),
        (".5", "0.5"),
        ("-1.2", "-1.2"),
        ("\u22121.2", "-1.2"),
        ("+3", "3"),
        ("12 500", "12500"),
        ("12\u202f500.25", "12500.25"),
    ],
)
def test_a_typed_number_is_read_exactly(text: str, number: str) -> None:
    assert read_number(text) == Decimal(number)


@pytest.mark.parametrize("text", ["", "seven", "7 bar", "1e3", "1_000", "NaN", "Infinity", "7.5.1", "--1", "٣", "0x10"])
def test_what_is_no_number_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="is not a number"):
        read_number(text)


@pytest.mark.parametrize("text", ["3,100", "7,5"])
def test_a_comma_is_refused_because_it_means_two_things(text: str) -> None:
    with pytest.raises(InputError, match="has a comma; write a point before decimals"):
        read_number(text)


def test_a_number_without_end_is_refused() -> None:
    with pytest.raises(InputError, match="too long"):
        read_number("1" * 5000)


# NIST Special Publication 811 (2008), appendix B.8: 1 psi = 6.894 757 kPa, 1 kgf/cm2 = 98.0665 kPa (exact),
# 1 ft = 0.3048 m (exact), 1 bbl of petroleum (42 gal) = 0.158 987 3 m3; 0 degC = 32 degF by definition.
@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        (98.0665, "kPa", "1.00\u00a0kgf/cm²"),
        (0.980665, "bar", "1.00\u00a0kgf/cm²"),
        (158.9873, "m³/h", "1,000\u00a0bbl/h"),
        (0.3048, "m", "1.0\u00a0ft"),
        (254, "mm", "10\u00a0in"),
        (0, "°C", "32.0\u00a0°F"),
        (1500, "rpm", "1,500\u00a0rpm"),
    ],
)
def test_a_value_is_shown_in_the_persons_units(value: float, unit: str, shown: str) -> None:
    assert display(value, unit, GAUGES_OF_THE_EAST) == shown


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        (7.0, "bar", "7.00"),
        (3127.4, "m³/h", "3,127"),
        (0.0004, "bar", "0.000400"),
        (-0.2, "bar", "-0.20"),
        (-0.0, "bar", "0.00"),
        (0.001, "m³/h", "0.00100"),
        (254.5, "mm", "254.5"),
        (300.0, "mm", "300"),
        (8.0, "km", "8"),
        (15.0, "min", "15"),
        (7.5, "min", "7.5"),
        (4.2, "mm²/s", "4.2"),
        (1234.5, "mm²/s", "1,234"),
        (845.0, "kg/m³", "845.0"),
        (Decimal("0.8455"), "t/m³", "0.8455"),
        (1e30, "bar", f"{10**30:,}.00"),
        (float("nan"), "bar", NOT_KNOWN),
    ],
)
def test_figures_have_the_decimals_usual_for_their_unit(value: Any, unit: str, shown: str) -> None:
    assert figure(value, unit) == shown


def test_a_float_of_numpy_is_shown_as_any_other() -> None:
    assert display(np.float64(1.25), "m") == display(1.25, "m") == "1.25\u00a0m"


def test_none_is_not_known() -> None:
    assert display(None, "bar") == NOT_KNOWN


def test_a_note_follows_the_unit() -> None:
    assert display(8, "bar", None, "gauge") == "8.00\u00a0bar\u00a0gauge"
    assert display(2.5, "1") == "2.5"


def test_an_unknown_choice_changes_nothing() -> None:
    assert preferred({"pressure": "furlong"}, "bar") == "bar"
    assert preferred({"flow": "bbl/h"}, "bar") == "bar"


def test_every_offered_unit_is_one_of_its_quantity() -> None:
    for symbol, unit in UNITS.items():
        known = {other.symbol for other in units_of(unit.quantity)}
        assert offered(symbol)[0] == symbol
        assert set(offered(symbol)) <= known
    for quantity, symbols in CHOICES.items():
        assert set(symbols) <= {unit.symbol for unit in units_of(quantity)}


@given(st.decimals(-1000, 1000, places=4), st.sampled_from(["psi", "kgf/cm²", "MPa", "mmH₂O"]))
def test_there_and_back_changes_less_than_any_gauge_shows(value: Decimal, unit: str) -> None:
    assert abs(converted(converted(value, "bar", unit), unit, "bar") - value) <= Decimal("1e-11")


@given(st.decimals(allow_nan=False, allow_infinity=False, min_value=-(10**12), max_value=10**12, places=6))
def test_plain_text_reads_back(value: Decimal) -> None:
    text = plain_text(value)
    assert "E" not in text.upper()
    assert Decimal(text) == value


def _rendered(template: str, **values: Any) -> str:
    return Template("{% load quantities %}" + template).render(Context(values))


class _Viewer:
    units = GAUGES_OF_THE_EAST


def test_the_tags_write_in_the_viewers_units() -> None:
    assert _rendered('{% show p "bar" "gauge" %}', p=0.980665, user=_Viewer()) == "1.00\u00a0kgf/cm²\u00a0gauge"
    assert _rendered('{% show p "bar" %}', p=None, user=_Viewer()) == "not known"
    assert _rendered('{% number p "bar" %} {% unit_for "bar" %}', p=0.980665, user=_Viewer()) == "1.00 kgf/cm²"
    assert _rendered('{% number p "bar" %}', p=None) == "not known"
    assert _rendered('{{ p|quantity:"bar" }}', p=0.980665, user=_Viewer()) == "0.98\u00a0bar"
    assert _rendered('{% show p "bar" %}', p=8) == "8.00\u00a0bar"
