"""Facts go into a form and come out the same, whatever units a person reads; refusals stand beside their field."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

import pytest
from django.http import HttpResponse, QueryDict
from django.template.loader import render_to_string
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.cargo_facts import CargoFacts
from shared.document_forms import DocumentForm, facts_from
from shared.document_plan import Filling, Plan
from shared.fact_fields import form_field, plain
from shared.facts import Facts
from shared.facts_reading import fields_of
from shared.fields import QuantityField
from terminals.facts import BerthFacts, ShoreSegment
from terminals.forms import WHOLE_BERTH
from tests.builders import berth_facts, cargo_facts, pump_facts, ship_facts
from tests.pages import Sent, sent_by, with_values
from vessels.facts import ShipFacts
from vessels.forms import WHOLE_SHIP

UNITS: list[dict[str, str]] = [
    {},
    {"flow": "bbl/h", "length": "ft", "pressure": "psi"},
    {"flow": "L/s", "length": "m", "pressure": "kgf/cm²"},
    {"flow": "m³/h", "length": "ft", "pressure": "kPa"},
]
ODD_PUMP = pump_facts(
    "P-1.a",
    rated_flow_m3_per_h=1234.56789012345,
    least_speed_rpm=0.1 + 0.2 + 700,
    elevation_m=-0.123456789,
    curves=[
        {
            "speed_rpm": 1490.5,
            "points": [
                {"flow_m3_per_h": 0.0, "head_m": 151.333333333333},
                {"flow_m3_per_h": 1e3 / 7, "head_m": 1e3 / 9},
            ],
        },
        {
            "speed_rpm": 1190.5,
            "points": [
                {"flow_m3_per_h": 1.1, "head_m": 99.9},
                {"flow_m3_per_h": 900.7, "head_m": 70.1, "efficiency_percent": 71.3},
            ],
        },
    ],
    suction_line=[],
)
COEFFICIENT_PUMP = pump_facts(
    "P2",
    curves=[
        {
            "speed_rpm": 1500.0,
            "coefficients": {"shut_off_head_m": 158.2, "drop_at_1_m3_per_h_m": 1.23456e-07, "exponent": 2.25},
        }
    ],
)


def page_of(form: DocumentForm) -> HttpResponse:
    """Return the form on a page of its own."""
    inner = render_to_string("shared/facts/document.html", {"document": form})
    return HttpResponse(f'<form class="facts-form">{inner}</form>')


def answered(plan: Plan, model: type[Facts], sent: Sent, units: Mapping[str, str], given_facts: Facts | None) -> Any:
    """Return the facts that a posted form states."""
    form = DocumentForm(plan, Filling(units, QueryDict(urlencode(sent))), "facts", given_facts)
    return facts_from(form, model, lambda stated: stated), form


@pytest.mark.parametrize("units", UNITS)
@pytest.mark.parametrize(
    ("plan", "model", "document"),
    [
        (WHOLE_SHIP, ShipFacts, ship_facts()),
        (WHOLE_SHIP, ShipFacts, ship_facts(pumps=[ODD_PUMP, COEFFICIENT_PUMP], particulars={}, imo_number=None)),
        (WHOLE_SHIP, ShipFacts, {"name": "Bare", "pumps": [pump_facts()], "manifold": {"elevation_m": 17.123}}),
        (WHOLE_BERTH, BerthFacts, berth_facts(terminal="", port="")),
        (
            WHOLE_BERTH,
            BerthFacts,
            berth_facts(terminal="", port="", shore_end={"back_pressure_bar_gauge": 1.0 / 3}, shore_line=[], size={}),
        ),
    ],
)
def test_facts_pass_through_a_form_unchanged_to_the_last_digit(
    plan: Plan, model: type[Facts], document: dict[str, Any], units: dict[str, str]
) -> None:
    facts = model.model_validate(document)
    sent = sent_by(page_of(DocumentForm(plan, Filling(units), "facts", facts)))
    back, form = answered(plan, model, sent, units, facts)
    assert form.problems == []
    assert back == facts


@settings(max_examples=40, deadline=None)
@given(
    length=st.decimals(1, 99_999, places=2),
    bore=st.decimals(10, 110, places=3),
    pressure=st.decimals(20, 390, places=2),
    flow_units=st.sampled_from([("ft", "in", "psi"), ("m", "cm", "kgf/cm²"), ("ft", "mm", "kPa")]),
)
def test_what_is_typed_in_another_unit_is_shown_again_as_typed(
    length: Decimal, bore: Decimal, pressure: Decimal, flow_units: tuple[str, str, str]
) -> None:
    typed = {"length_m": length, "bore_mm": bore, "rating_bar_gauge": pressure}
    for (key, number), unit in zip(typed.items(), flow_units, strict=True):
        read = fields_of(ShoreSegment)[key]
        field = form_field(read, label=read.label, help_text="", in_table=True)
        assert isinstance(field, QuantityField)
        stated = plain(field.clean([str(number), unit]))
        field.show_in(unit, stated)
        assert Decimal(field.shown[0]) == number


def test_a_unit_that_is_not_offered_is_refused_and_never_read_as_another() -> None:
    sent = with_values(_sent_for_ship(), **{"common_line-length_m_unit": "furlong"})
    back, form = answered(WHOLE_SHIP, ShipFacts, sent, {}, SHIP)
    assert back is None
    assert [sentence for _, sentence in form.problems] == ["Length has the unit furlong; choose one of m, ft."]


def test_density_in_another_unit_is_refused_with_the_usual_mistake_named() -> None:
    plan = Plan(CargoFacts)
    sent = sent_by(page_of(DocumentForm(plan, Filling({}), "facts", CargoFacts.model_validate(cargo_facts()))))
    back, form = answered(plan, CargoFacts, with_values(sent, density_kg_per_m3="0.85"), {}, None)
    assert back is None
    [(place, sentence)] = form.problems
    assert sentence.startswith("Density is 0.85 kg/m³; allowed: 500 to 1200 kg/m³.")
    assert "t/m³" in sentence
    assert place == "id_facts-density_kg_per_m3_0"


def test_the_same_density_is_taken_in_the_unit_that_was_meant() -> None:
    plan = Plan(CargoFacts)
    sent = sent_by(page_of(DocumentForm(plan, Filling({}), "facts", CargoFacts.model_validate(cargo_facts()))))
    sent = with_values(sent, density_kg_per_m3="0.85", density_kg_per_m3_unit="t/m³")
    back, _ = answered(plan, CargoFacts, sent, {}, None)
    assert back.density_kg_per_m3 == 850.0


SHIP = ShipFacts.model_validate(ship_facts(pumps=[pump_facts("P1")]))


def _sent_for_ship() -> Sent:
    return sent_by(page_of(DocumentForm(WHOLE_SHIP, Filling({}), "facts", SHIP)))


def test_a_row_command_keeps_what_was_typed_and_shows_no_errors() -> None:
    sent = with_values(_sent_for_ship(), **{"common_line-0-bore_mm": "wide"})
    sent.append(("rows", "after:facts-common_line-0"))
    form = DocumentForm(WHOLE_SHIP, Filling({}, QueryDict(urlencode(sent))), "facts", SHIP)
    rows = sent_by(page_of(form))
    bores = [value for name, value in rows if name.startswith("facts-common_line-") and name.endswith("-bore_mm")]
    assert bores[:2] == ["wide", ""]
    assert form.is_answer is False
    assert "invalid" not in page_of(form).text


def test_a_row_is_taken_off_and_the_others_keep_their_last_digit() -> None:
    sent = _sent_for_ship()
    sent.append(("rows", "drop:facts-pumps-0-curves-0-points-1"))
    form = DocumentForm(WHOLE_SHIP, Filling({}, QueryDict(urlencode(sent))), "facts", SHIP)
    back, _ = answered(WHOLE_SHIP, ShipFacts, sent_by(page_of(form)), {}, SHIP)
    flows = [point.flow_m3_per_h for point in back.pumps[0].curves[0].points]
    assert flows == [0.0, 1200.0, 1500.0, 1800.0]


def test_points_may_be_typed_in_any_order() -> None:
    sent = with_values(
        _sent_for_ship(),
        **{
            "points-5-flow_m3_per_h": "900",
            "points-5-head_m": "147.5",
            "points-0-flow_m3_per_h": "1850",
            "points-0-head_m": "100",
        },
    )
    back, form = answered(WHOLE_SHIP, ShipFacts, sent, {}, SHIP)
    assert form.problems == []
    assert [point.flow_m3_per_h for point in back.pumps[0].curves[0].points] == [600, 900, 1200, 1500, 1800, 1850]


def test_another_tested_speed_comes_as_a_blank_block() -> None:
    sent = [*_sent_for_ship(), ("rows", "add:facts-pumps-0-curves")]
    form = DocumentForm(WHOLE_SHIP, Filling({}, QueryDict(urlencode(sent))), "facts", SHIP)
    names = [name for name, _ in sent_by(page_of(form))]
    assert "facts-pumps-0-curves-1-speed_rpm" in names
    back, _ = answered(WHOLE_SHIP, ShipFacts, sent_by(page_of(form)), {}, SHIP)
    assert back == SHIP


@pytest.mark.parametrize(
    "command", ["drop:facts-nothing-7", "add:", "after:facts-common_line-99", "x", "add:facts-pumps-0"]
)
def test_an_odd_row_command_changes_nothing(command: str) -> None:
    sent = [*_sent_for_ship(), ("rows", command)]
    form = DocumentForm(WHOLE_SHIP, Filling({}, QueryDict(urlencode(sent))), "facts", SHIP)
    assert sent_by(page_of(form)) == sent[:-1]


def test_too_many_rows_are_told_as_one_sentence() -> None:
    sent = _sent_for_ship()
    for number in range(100, 140):
        sent += [(f"facts-common_line-{number}-origin", "")]
        values = {"length_m": "10", "bore_mm": "300", "roughness_mm": "0.1"}
        sent += [(f"facts-common_line-{number}-{key}", value) for key, value in values.items()]
    back, form = answered(WHOLE_SHIP, ShipFacts, sent, {}, SHIP)
    assert back is None
    assert [sentence for _, sentence in form.problems] == ["Common line: 41 given; state at most 30."]
