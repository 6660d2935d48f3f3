"""The liquid of a cargo: measured at the pumping temperature, or worked out from the laboratory's values."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compat.case.answer import answer_case
from compat.case.case_file import CaseError, check_case
from shared.calc.units import from_si, to_si
from shared.cargo_facts import MEASURED, CargoFacts, Liquid, liquid_of
from tests.compat.case.test_answer import npsh_points, put, row
from tests.compat.systems import NARROW, Document, alike, document
from tests.reference_tables import reference_numbers

D341 = [
    {"temperature_c": 20.0, "kinematic_viscosity_mm2_per_s": 12.0},
    {"temperature_c": 50.0, "kinematic_viscosity_mm2_per_s": 5.5},
]
LABORATORY: Document = {
    "group": "crude oil",
    "density_at_15_c_kg_per_m3": 850.0,
    "viscosities": D341,
    "reid_vapour_pressure_kpa_abs": from_si(to_si(7.0, "psi"), "kPa"),
}
MEASURED_VALUES: Document = {
    "density_kg_per_m3": 833.0,
    "kinematic_viscosity_mm2_per_s": 7.7,
    "vapour_pressure_kpa_abs": 52.0,
}


def cargo(laboratory: Document | None = LABORATORY, **changes: Any) -> Document:
    """A cargo known from the laboratory, pumped at 40 °C; a change to None takes a key out."""
    stated = {"name": "Crude", "temperature_c": 40.0, "laboratory": laboratory, **changes}
    return {key: value for key, value in stated.items() if value is not None}


def liquid(laboratory: Document | None = LABORATORY, **changes: Any) -> Liquid:
    """Return the liquid of a cargo."""
    return liquid_of(CargoFacts.model_validate(cargo(laboratory, **changes)))


def refused(laboratory: Document | None = LABORATORY, **changes: Any) -> str:
    """Return the one sentence with which a case refuses a cargo."""
    with pytest.raises(CaseError) as found:
        check_case(put(document(alike(1)), "cargo", cargo(laboratory, **changes)), "night.json")
    (sentence,) = found.value.problems
    return sentence


def of_laboratory(**changes: Any) -> Document:
    """Return the laboratory's values with some changed, or with None taken out."""
    return {key: value for key, value in {**LABORATORY, **changes}.items() if value is not None}


@pytest.mark.parametrize("row_", reference_numbers("mpms_11_1_crude_by_hand"))
def test_density_by_mpms_11_1_reaches_the_answer_of_a_case(row_: dict[str, float]) -> None:
    laboratory = of_laboratory(density_at_15_c_kg_per_m3=row_["density_at_15_c_kg_per_m3"])
    stated = put(document(alike(1)), "cargo", cargo(laboratory, temperature_c=row_["temperature_c"]))
    found = answer_case(check_case(stated, "case")).liquid
    assert found.density_kg_per_m3 == pytest.approx(row_["density_kg_per_m3"], rel=1e-5)
    assert found.density_source == "API MPMS 11.1 / ASTM D1250, from the density at 15 °C"


@pytest.mark.parametrize(
    "row_", [row_ for row_ in reference_numbers("astm_d341_viscosity") if row_["first_mm2_per_s"] == 12.0]
)
def test_viscosity_by_d341_reaches_the_answer_of_a_case(row_: dict[str, float]) -> None:
    stated = put(document(alike(1)), "cargo", cargo(temperature_c=row_["temperature_k"] - 273.15))
    found = answer_case(check_case(stated, "case")).liquid
    assert found.kinematic_viscosity_mm2_per_s == pytest.approx(row_["viscosity_mm2_per_s"], rel=1e-3)
    assert found.viscosity_source == "ASTM D341 line through the measured points"


@pytest.mark.parametrize("row_", reference_numbers("ap_42_crude_by_hand"))
def test_vapour_pressure_by_ap_42_reaches_the_answer_of_a_case(row_: dict[str, float]) -> None:
    laboratory = of_laboratory(reid_vapour_pressure_kpa_abs=from_si(to_si(row_["reid_psi"], "psi"), "kPa"))
    stated = put(document(alike(1)), "cargo", cargo(laboratory, temperature_c=(row_["temperature_f"] - 32.0) / 1.8))
    found = answer_case(check_case(stated, "case")).liquid
    assert found.vapour_pressure_kpa_abs == pytest.approx(
        from_si(to_si(row_["pressure_psi"], "psi"), "kPa"), rel=2.5e-3
    )
    assert found.vapour_pressure_source.startswith("US EPA AP-42 figure 7.1-13b")


def test_worked_out_values_move_the_same_oil_as_the_same_values_measured() -> None:
    """The other way round to the same rate: the worked-out values, stated as measured."""
    worked_out = put(document(alike(2), shore=NARROW), "cargo", cargo())
    first = answer_case(check_case(worked_out, "case"))
    stated = {
        "name": "Crude",
        "density_kg_per_m3": first.liquid.density_kg_per_m3,
        "kinematic_viscosity_mm2_per_s": first.liquid.kinematic_viscosity_mm2_per_s,
    }
    second = answer_case(check_case(put(worked_out, "cargo", stated), "case"))
    assert second.total_flow_m3_per_h == pytest.approx(first.total_flow_m3_per_h, rel=1e-12)
    assert second.liquid.density_source == MEASURED


def test_a_measured_value_wins_over_the_laboratory() -> None:
    found = liquid(**MEASURED_VALUES)
    assert found.density_kg_per_m3 == 833.0
    assert found.kinematic_viscosity_mm2_per_s == 7.7
    assert found.vapour_pressure_kpa_abs == 52.0
    assert {found.density_source, found.viscosity_source, found.vapour_pressure_source} == {MEASURED}


@pytest.mark.parametrize("key", MEASURED_VALUES)
def test_one_measured_value_leaves_the_others_to_the_laboratory(key: str) -> None:
    found, plain = liquid(**{key: MEASURED_VALUES[key]}), liquid()
    for other in MEASURED_VALUES:
        expected = MEASURED_VALUES[key] if other == key else getattr(plain, other)
        assert getattr(found, other) == expected


@given(st.floats(500.0, 1200.0), st.floats(0.1, 5000.0), st.floats(0.0, 500.0), st.floats(-17.0, 60.0), st.booleans())
@settings(max_examples=25)
def test_measured_values_come_through_untouched(
    density: float, viscosity: float, vapour: float, temperature: float, laboratory: bool
) -> None:
    found = liquid(
        LABORATORY if laboratory else None,
        density_kg_per_m3=density,
        kinematic_viscosity_mm2_per_s=viscosity,
        vapour_pressure_kpa_abs=vapour,
        temperature_c=temperature,
    )
    assert (found.density_kg_per_m3, found.kinematic_viscosity_mm2_per_s, found.vapour_pressure_kpa_abs) == (
        density,
        viscosity,
        vapour,
    )


@given(st.floats(-15.0, 55.0), st.floats(0.1, 4.0))
@settings(max_examples=25)
def test_a_warmer_cargo_is_lighter_thinner_and_boils_earlier(temperature: float, more: float) -> None:
    cold, warm = liquid(temperature_c=temperature), liquid(temperature_c=temperature + more)
    assert warm.density_kg_per_m3 < cold.density_kg_per_m3
    assert warm.kinematic_viscosity_mm2_per_s < cold.kinematic_viscosity_mm2_per_s
    assert cold.vapour_pressure_kpa_abs is not None
    assert warm.vapour_pressure_kpa_abs is not None
    assert warm.vapour_pressure_kpa_abs > cold.vapour_pressure_kpa_abs


def test_at_the_laboratorys_own_temperatures_its_values_come_back() -> None:
    assert liquid(temperature_c=15.0).density_kg_per_m3 == pytest.approx(850.0, rel=1e-12)
    for point in D341:
        found = liquid(temperature_c=point["temperature_c"])
        assert found.kinematic_viscosity_mm2_per_s == pytest.approx(point["kinematic_viscosity_mm2_per_s"], rel=1e-9)


def test_a_vapour_pressure_out_of_range_is_not_decided_and_suction_is_not_guessed() -> None:
    """AP-42's nomograph for crudes ends at 15 psi Reid (103.4 kPa)."""
    stated = npsh_points(document([*alike(1)]))
    stated = put(stated, "cargo", cargo(of_laboratory(reid_vapour_pressure_kpa_abs=120.0)))
    answer = answer_case(check_case(stated, "case"))
    assert answer.liquid.vapour_pressure_kpa_abs is None
    assert answer.liquid.vapour_pressure_source == (
        "not decided: Reid vapour pressure is 17.4045 psi; allowed: 2 to 15 psi."
        " Ask for the true vapour pressure at the pumping temperature instead."
    )
    npsh = row(answer, "npsh-P1")
    assert npsh.state == "not decided"
    assert npsh.ask == "Ask the ship for the vapour pressure of the cargo."
    assert answer.pumps[0].npsh_available_m is None
    assert answer.pumps[0].slow_below_level_m is None


def test_a_vapour_pressure_that_nobody_states_is_not_known() -> None:
    found = liquid(None, density_kg_per_m3=850.0, kinematic_viscosity_mm2_per_s=8.0)
    assert found.vapour_pressure_kpa_abs is None
    assert found.vapour_pressure_source == "not known"


def test_laboratory_values_without_a_temperature_are_refused() -> None:
    assert refused(temperature_c=None) == (
        "night.json: cargo: temperature_c is missing; laboratory values are worked out for the temperature while"
        " pumping."
    )


def test_below_the_pour_point_no_viscosity_is_worked_out() -> None:
    assert refused(of_laboratory(pour_point_c=42.0)) == (
        "night.json: cargo: kinematic_viscosity_mm2_per_s is missing, and not decided by the laboratory's values."
        " Temperature is below the pour point of the oil (42.0 °C), where the oil is not a plain liquid; heat it, or"
        " ask for a measured viscosity."
    )
    assert liquid(of_laboratory(pour_point_c=40.0)).kinematic_viscosity_mm2_per_s == pytest.approx(6.918, rel=1e-3)


def test_a_measured_viscosity_counts_even_below_the_pour_point() -> None:
    found = liquid(of_laboratory(pour_point_c=42.0), kinematic_viscosity_mm2_per_s=900.0)
    assert found.kinematic_viscosity_mm2_per_s == 900.0


def test_one_viscosity_answers_at_its_own_temperature_only() -> None:
    single = of_laboratory(viscosities=D341[:1])
    assert liquid(single, temperature_c=20.0).kinematic_viscosity_mm2_per_s == pytest.approx(12.0)
    assert liquid(single, temperature_c=20.0).viscosity_source == "measured, at the measured temperature only"
    assert "Viscosity was measured at one temperature only; ask for the viscosity at" in refused(single)


def test_one_viscosity_and_the_slope_of_the_oil_make_a_line() -> None:
    """B = 3.40197 is the slope of the same two points, worked by hand: 6.918 mm²/s at 40 °C."""
    found = liquid(of_laboratory(viscosities=D341[:1], viscosity_slope=3.40197))
    assert found.kinematic_viscosity_mm2_per_s == pytest.approx(6.918, rel=1e-3)


def test_viscosities_that_rise_with_temperature_are_refused() -> None:
    rising = of_laboratory(viscosities=[{**D341[0], "kinematic_viscosity_mm2_per_s": 5.0}, D341[1]])
    assert refused(rising) == (
        "night.json: cargo: Viscosity does not fall from the colder to the warmer point; correct the two points."
    )


def test_neither_measured_nor_laboratory_is_refused_by_the_key_and_its_unit() -> None:
    assert refused(None, kinematic_viscosity_mm2_per_s=8.0) == (
        "night.json: cargo: density_kg_per_m3 is missing; state it in kg/m³ at the pumping temperature, or state"
        " laboratory values."
    )
    assert refused(None, density_kg_per_m3=850.0).startswith(
        "night.json: cargo: kinematic_viscosity_mm2_per_s is missing; state it in mm²/s"
    )


def test_a_density_that_the_table_does_not_reach_is_not_decided() -> None:
    """Table 53 ends at 610.6 kg/m³ (MPMS 11.1)."""
    assert "Density at 15 °C (crude oil) is 605 kg/m³; allowed: 610.6 to 1,163.5 kg/m³." in refused(
        of_laboratory(density_at_15_c_kg_per_m3=605.0)
    )
