"""What one step would buy: every gain is that of the changed case, answered from its own document."""

from __future__ import annotations

import copy
from typing import Any

import pytest
from hypothesis import given, settings

from compat.case.answer import answer_case
from compat.case.case_file import case_document, check_case
from compat.case.report import report
from compat.case.steps import Step, steps_of
from tests.compat.case.test_answer import answered, freed, npsh_points, put
from tests.compat.case.test_answer_properties import cases
from tests.compat.systems import NARROW, Document, alike, closed_form, document

LABORATORY: Document = {
    "group": "crude oil",
    "density_at_15_c_kg_per_m3": 890.0,
    "viscosities": [
        {"temperature_c": 20.0, "kinematic_viscosity_mm2_per_s": 180.0},
        {"temperature_c": 50.0, "kinematic_viscosity_mm2_per_s": 45.0},
    ],
    "reid_vapour_pressure_kpa_abs": 40.0,
}


def base(pressure: float = 8.0, **cargo: Any) -> Document:
    """Three alike pumps, the last one idle, with a cargo known from the laboratory."""
    stated = freed(document(alike(3), shore=NARROW), pressure)
    stated["operation"]["pumps"][2]["running"] = False
    stated["cargo"] = {
        "name": "Crude", "temperature_c": 35.0, "quantity_m3": 40_000.0, "laboratory": LABORATORY, **cargo
    }  # fmt: skip
    return stated


def steps(stated: Document) -> dict[str, Step]:
    """Return the steps of a document by key."""
    case = check_case(stated, "case")
    return {step.key: step for step in steps_of(case, answer_case(case))}


def faster(stated: Document) -> Document:
    """Allow 100 rpm more on every pump."""
    changed = copy.deepcopy(stated)
    for one in changed["ship"]["pumps"]:
        one["greatest_speed_rpm"] += 100.0
    return changed


CHANGES = {
    "pressure": lambda stated: put(
        stated,
        "agreed.manifold_pressure_bar_gauge",
        stated["agreed"]["manifold_pressure_bar_gauge"] + 1.0,
    ),
    "speed": faster,
    "arm-arm 300 x 25": lambda stated: put(stated, "berth.arms.0.count", 3),
    "pump": lambda stated: put(stated, "operation.pumps.2.running", True),
    "warmer": lambda stated: put(stated, "cargo.temperature_c", 40.0),
}


@pytest.mark.parametrize("pressure", [6.0, 30.0])  # the agreed pressure binds, or the speed
@pytest.mark.parametrize("key", CHANGES)
def test_each_gain_is_that_of_the_changed_case(key: str, pressure: float) -> None:
    before, after = answered(base(pressure)), answered(CHANGES[key](base(pressure)))
    step = steps(base(pressure))[key]
    was, becomes = before.total_flow_m3_per_h, after.total_flow_m3_per_h
    assert was is not None
    assert becomes is not None
    assert step.rate_m3_per_h == pytest.approx(becomes, rel=1e-9)
    assert step.rate_gained_m3_per_h == pytest.approx(becomes - was, abs=1e-6 * was)
    assert step.hours_gained == pytest.approx(40_000.0 / was - 40_000.0 / becomes, abs=1e-6)
    assert step.binding == after.binding
    assert step.note == ""


def test_every_step_is_told_in_its_own_words() -> None:
    assert {step.key: step.label for step in steps(base()).values()} == {
        "pressure": "1 bar more at the manifold",
        "speed": "100 rpm more allowed on every pump",
        "arm-arm 300 x 25": "one more arm 300 x 25",
        "pump": "No. P3 running too",
        "warmer": "5 °C warmer",
    }


def test_without_an_idle_pump_there_is_no_step_of_one() -> None:
    assert "pump" not in steps(put(base(), "operation.pumps.2.running", True))


@settings(max_examples=15)
@given(cases())
def test_more_pressure_and_more_speed_never_lower_the_rate(stated: Document) -> None:
    for one in stated["ship"]["pumps"]:  # a pump's rated flow can bind earlier where more speed unbalances unlike pumps
        one["rated_flow_m3_per_h"] = None
    found = steps(stated)
    for key in ("pressure", "speed"):
        if key in found and found[key].rate_gained_m3_per_h is not None:
            assert found[key].rate_gained_m3_per_h >= -1e-6 * (found[key].rate_m3_per_h or 0.0)


def test_stated_speeds_and_cases_without_an_operating_point_have_no_steps() -> None:
    assert steps(document(alike(2))) == {}
    assert steps(freed(closed_form(2), 2.0)) == {}


def test_hours_are_not_known_where_the_quantity_is_not() -> None:
    stated = base()
    del stated["cargo"]["quantity_m3"]
    step = steps(stated)["pressure"]
    assert step.rate_gained_m3_per_h is not None
    assert step.hours_gained is None


WARMER: list[tuple[str, Document, str]] = [
    (
        "measured values alone",
        put(base(), "cargo", {"name": "Oil", "density_kg_per_m3": 880.0, "kinematic_viscosity_mm2_per_s": 60.0}),
        "needs laboratory values: density at 15 °C and two viscosities, and the temperature while pumping",
    ),
    (
        "one viscosity",
        put(base(temperature_c=20.0), "cargo.laboratory.viscosities", LABORATORY["viscosities"][:1]),
        "needs laboratory values: density at 15 °C and two viscosities, and the temperature while pumping",
    ),
    ("hotter than believed", base(temperature_c=148.0), "temperature_c is 153.0 °C; allowed: -50 to 150 °C."),
    (
        "a measured vapour pressure that can't be carried over",
        put(base(vapour_pressure_kpa_abs=55.0), "cargo.laboratory.reid_vapour_pressure_kpa_abs", None),
        "needs the Reid vapour pressure: suction can't be judged with the vapour pressure of colder liquid",
    ),
]


@pytest.mark.parametrize(("stated", "note"), [entry[1:] for entry in WARMER], ids=[entry[0] for entry in WARMER])
def test_a_warmer_cargo_that_can_not_be_worked_out_gains_nothing_and_says_why(stated: Document, note: str) -> None:
    step = steps(stated)["warmer"]
    assert (step.rate_m3_per_h, step.rate_gained_m3_per_h, step.hours_gained) == (None, None, None)
    assert step.note == note


def test_losing_sight_of_the_vapour_pressure_is_no_gain() -> None:
    """Suction binds with the measured vapour pressure; 5 °C warmer it is not known and must not stop binding."""
    laboratory = {key: value for key, value in LABORATORY.items() if not key.startswith("reid")}
    stated = npsh_points(freed(closed_form(1), 20.0))
    stated["cargo"] = {
        "name": "Crude", "temperature_c": 35.0, "vapour_pressure_kpa_abs": 70.0, "laboratory": laboratory
    }  # fmt: skip
    stated = put(stated, "ship.pumps.0.elevation_m", 9.0)
    assert answered(stated).binding == "npsh-P1"
    assert steps(stated)["warmer"].rate_m3_per_h is None


def test_a_warmer_cargo_is_worked_out_from_the_laboratory_even_where_colder_values_were_measured() -> None:
    measured = base(density_kg_per_m3=871.0, kinematic_viscosity_mm2_per_s=90.0)
    assert steps(measured)["warmer"].rate_m3_per_h == pytest.approx(
        answered(CHANGES["warmer"](base())).total_flow_m3_per_h, rel=1e-9
    )


def test_an_idle_pump_without_data_leaves_the_other_steps_as_they_are() -> None:
    stated = put(base(), "operation.viscosity_correction", "ANSI/HI 9.6.7")
    for i in (0, 1):
        stated = put(stated, f"ship.pumps.{i}.rated_flow_m3_per_h", 1800.0)
    found = steps(stated)
    assert found["pump"].rate_m3_per_h is None
    assert found["pump"].note.startswith("No. P3: the viscosity correction needs the flow of best efficiency")
    assert all(found[key].rate_m3_per_h is not None for key in ("pressure", "speed", "arm-arm 300 x 25", "warmer"))


def test_a_step_into_a_case_without_an_operating_point_gives_its_reason() -> None:
    """5 °C warmer the crude all but boils: no flow is left within the limits of the suction."""
    stated = npsh_points(freed(closed_form(1), 20.0))
    laboratory = {**LABORATORY, "reid_vapour_pressure_kpa_abs": 70.0}
    stated["cargo"] = {"name": "Crude", "temperature_c": 33.0, "laboratory": laboratory}
    stated = put(stated, "ship.pumps.0.elevation_m", 9.0)
    assert answered(stated).total_flow_m3_per_h is not None
    step = steps(stated)["warmer"]
    assert step.rate_m3_per_h is None
    assert "the suction head available is too low" in step.note


def test_the_case_stays_as_it_was() -> None:
    case = check_case(base(), "case")
    before = case_document(case)
    steps_of(case, answer_case(case))
    assert case_document(case) == before


def test_the_report_tells_every_step_and_why_one_is_not_known() -> None:
    case = check_case(base(temperature_c=148.0), "case")
    answer = answer_case(case)
    text = report(answer, steps_of(case, answer))
    assert "What one step would buy" in text
    assert "  1 bar more at the manifold" in text
    assert "  - 5 °C warmer: temperature_c is 153.0 °C; allowed: -50 to 150 °C." in text


def test_motors_of_one_speed_are_allowed_no_more() -> None:
    stated = base()
    for one in stated["ship"]["pumps"]:
        one |= {"drive": "electric motor, fixed speed", "least_speed_rpm": 1250.0, "greatest_speed_rpm": 1250.0}
    step = steps(stated)["speed"]
    assert (step.rate_m3_per_h, step.note) == (None, "the motors of the running pumps have one speed only")
    stated["ship"]["pumps"][1] |= {"drive": "steam turbine", "least_speed_rpm": 400.0}
    assert steps(stated)["speed"].rate_m3_per_h is not None
