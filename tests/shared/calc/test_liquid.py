"""Which source answers for each property of a cargo, and when none does."""

import numpy as np
import pytest

from shared.calc.density import density_at
from shared.calc.errors import InputError
from shared.calc.liquid import LiquidStatement, liquid_at
from shared.calc.units import to_si
from shared.calc.vapour_pressure import vapour_pressure_of_crude, vapour_pressure_of_product
from shared.calc.viscosity import ViscosityPoint, viscosity_at

POINTS = (ViscosityPoint(293.15, 12e-6), ViscosityPoint(323.15, 5.5e-6))
REID = to_si(7.0, "psi")
CRUDE = LiquidStatement(
    group="crude oil", density_at_15_c_kg_per_m3=850.0, viscosity_points=POINTS, reid_vapour_pressure_pa=REID
)


def test_a_full_statement_is_answered_by_the_correlations_with_their_sources() -> None:
    temperature = np.array([290.0, 310.0])
    liquid = liquid_at(CRUDE, temperature)
    assert liquid.density_kg_per_m3.value == pytest.approx(
        density_at(850.0, temperature, "crude oil").density_kg_per_m3
    )
    viscosity = viscosity_at(POINTS, temperature).kinematic_viscosity_m2_per_s
    assert liquid.kinematic_viscosity_m2_per_s.value == pytest.approx(viscosity)
    pressure = vapour_pressure_of_crude(REID, temperature).vapour_pressure_pa_abs
    assert liquid.vapour_pressure_pa_abs.value == pytest.approx(pressure)
    assert "MPMS 11.1" in liquid.density_kg_per_m3.source
    assert "D341" in liquid.kinematic_viscosity_m2_per_s.source
    assert "AP-42" in liquid.vapour_pressure_pa_abs.source


def test_a_product_needs_its_distillation_slope() -> None:
    gasoline = LiquidStatement(group="refined product", reid_vapour_pressure_pa=REID)
    asked = liquid_at(gasoline, 300.0).vapour_pressure_pa_abs
    assert asked.value is None
    assert "distillation slope" in asked.question
    known = LiquidStatement(
        group="refined product", reid_vapour_pressure_pa=REID, distillation_slope_k_per_percent=3.0 / 1.8
    )
    expected = vapour_pressure_of_product(REID, 3.0 / 1.8, 300.0).vapour_pressure_pa_abs
    assert liquid_at(known, 300.0).vapour_pressure_pa_abs.value == pytest.approx(expected)


def test_nothing_stated_is_nothing_decided_and_says_what_to_ask() -> None:
    liquid = liquid_at(LiquidStatement(), 300.0)
    for found in (liquid.density_kg_per_m3, liquid.kinematic_viscosity_m2_per_s, liquid.vapour_pressure_pa_abs):
        assert found.value is None
        assert found.source == ""
        assert found.question.startswith("Ask for")


def test_lubricating_oil_has_no_vapour_pressure_correlation() -> None:
    statement = LiquidStatement(group="lubricating oil", reid_vapour_pressure_pa=REID)
    assert liquid_at(statement, 300.0).vapour_pressure_pa_abs.value is None


def test_outside_a_correlation_the_property_is_not_decided_and_the_range_is_named() -> None:
    liquid = liquid_at(CRUDE, 345.0)
    assert liquid.density_kg_per_m3.value is not None
    assert liquid.vapour_pressure_pa_abs.value is None
    assert "allowed: 0 to 140 °F" in liquid.vapour_pressure_pa_abs.question


def test_one_viscosity_point_is_not_decided_elsewhere() -> None:
    statement = LiquidStatement(viscosity_points=POINTS[:1])
    assert liquid_at(statement, 293.15).kinematic_viscosity_m2_per_s.value == pytest.approx(12e-6)
    elsewhere = liquid_at(statement, np.array([293.15, 300.0])).kinematic_viscosity_m2_per_s
    assert elsewhere.value is None
    assert "one temperature only" in elsewhere.question


def test_a_viscosity_beyond_the_measured_points_carries_a_caution_and_one_between_them_none() -> None:
    within = liquid_at(CRUDE, 300.0).kinematic_viscosity_m2_per_s
    assert within.caution == ""
    for temperature in (285.0, 330.0):
        beyond = liquid_at(CRUDE, temperature).kinematic_viscosity_m2_per_s
        assert beyond.value is not None
        assert beyond.caution.startswith("The viscosity is carried beyond what was measured, at 20 and 50 °C:")
    one = LiquidStatement(viscosity_points=POINTS[:1], viscosity_slope=3.5)
    assert "measured, at 20 °C:" in liquid_at(one, 300.0).kinematic_viscosity_m2_per_s.caution


def test_a_contradiction_is_an_error_and_not_a_question() -> None:
    rising = LiquidStatement(viscosity_points=(ViscosityPoint(293.15, 5e-6), ViscosityPoint(323.15, 12e-6)))
    with pytest.raises(InputError, match="does not fall"):
        liquid_at(rising, 300.0)


def test_array_equals_scalar_and_inputs_stay() -> None:
    temperatures = np.array([290.0, 300.0, 310.0])
    kept = temperatures.copy()
    together = liquid_at(CRUDE, temperatures)
    for place, temperature in enumerate(temperatures):
        single = liquid_at(CRUDE, float(temperature))
        for name in ("density_kg_per_m3", "kinematic_viscosity_m2_per_s", "vapour_pressure_pa_abs"):
            assert getattr(single, name).value == pytest.approx(getattr(together, name).value[place], rel=1e-14)
    np.testing.assert_array_equal(temperatures, kept)
