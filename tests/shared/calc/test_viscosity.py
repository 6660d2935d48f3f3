"""Viscosity over temperature against worked examples of ASTM D341 and its own points."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.optimize import brentq

from shared.calc.errors import InputError, OutOfRangeError
from shared.calc.viscosity import (
    ViscosityPoint,
    _low_end_term,
    _viscosity_of,
    line_through,
    line_with_slope,
    viscosity_at,
    viscosity_on,
)
from tests.array_checks import check_array_answer
from tests.reference_tables import reference_numbers

THICK = (ViscosityPoint(313.15, 100e-6), ViscosityPoint(373.15, 11.4e-6))
THIN = (ViscosityPoint(293.15, 0.7e-6), ViscosityPoint(333.15, 0.45e-6))


@pytest.mark.parametrize("row", reference_numbers("astm_d341_viscosity"))
def test_worked_examples(row: dict[str, float]) -> None:
    line = line_through(
        ViscosityPoint(row["first_k"], row["first_mm2_per_s"] * 1e-6),
        ViscosityPoint(row["second_k"], row["second_mm2_per_s"] * 1e-6),
    )
    assert line.intercept == pytest.approx(row["intercept"], rel=1e-5)
    assert line.slope == pytest.approx(row["slope"], rel=1e-5)
    viscosity = viscosity_on(line, row["temperature_k"]).kinematic_viscosity_m2_per_s
    assert viscosity * 1e6 == pytest.approx(row["viscosity_mm2_per_s"], rel=4e-3)


def test_low_viscosities_against_the_printed_equation_solved_on_its_own() -> None:
    # ASTM D341-09, equations 1 and 2, read in three public descriptions, with a solver that is not ours.
    def z(viscosity: float) -> float:
        return viscosity + 0.7 + math.exp(-1.47 - 1.84 * viscosity - 0.51 * viscosity**2)

    (cold, thick), (warm, thin) = (293.15, 0.7), (333.15, 0.45)
    w_cold, w_warm = (math.log10(math.log10(z(viscosity))) for viscosity in (thick, thin))
    for temperature in (283.15, 313.15, 353.15):
        place = math.log10(temperature / cold) / math.log10(warm / cold)
        wanted = 10.0 ** (10.0 ** (w_cold + place * (w_warm - w_cold)))
        expected = brentq(lambda viscosity, wanted=wanted: z(viscosity) - wanted, 0.1, 5.0, xtol=1e-14)
        ours = viscosity_at(THIN, temperature).kinematic_viscosity_m2_per_s
        assert ours * 1e6 == pytest.approx(expected, rel=1e-11)


@pytest.mark.parametrize("viscosity", [0.25, 0.5, 1.0, 1.5, 2.0, 5.0])
def test_low_viscosities_agree_with_the_inverse_that_the_standard_prints(viscosity: float) -> None:
    # The same source, equation 3, which is a fit: within 0.6 %.
    x = float(_low_end_term(np.array(viscosity))) + viscosity
    printed = x - math.exp(-0.7487 - 3.295 * x + 0.6119 * x**2 - 0.3193 * x**3)
    assert _viscosity_of(np.array(x + 0.7)) == pytest.approx(printed, rel=6e-3)


@given(
    cold=st.floats(240.0, 400.0), span=st.floats(5.0, 100.0), thick=st.floats(0.5, 5000.0), ratio=st.floats(0.1, 0.98)
)
def test_measured_points_come_back(cold: float, span: float, thick: float, ratio: float) -> None:
    thin = thick * ratio
    assume(thin > 0.22)
    points = (ViscosityPoint(cold, thick * 1e-6), ViscosityPoint(cold + span, thin * 1e-6))
    answer = viscosity_at(points, np.array([cold, cold + span]))
    assert answer.kinematic_viscosity_m2_per_s * 1e6 == pytest.approx([thick, thin], rel=1e-9)
    assert answer.decided.all()
    assert not answer.beyond_points.any()


@given(colder=st.floats(283.15, 393.15), step=st.floats(0.01, 30.0))
def test_warmer_oil_is_thinner(colder: float, step: float) -> None:
    for points in (THICK, THIN):
        cold, warm = viscosity_at(points, np.array([colder, colder + step])).kinematic_viscosity_m2_per_s
        assert warm < cold


def test_points_exactly_5_k_apart_pass_although_kelvin_are_not_exact() -> None:
    for cold_c in range(10, 90):
        line_through(ViscosityPoint(cold_c + 273.15, 10e-6), ViscosityPoint(cold_c + 5 + 273.15, 9e-6))


def test_the_order_of_the_points_does_not_matter() -> None:
    forward, backward = line_through(*THICK), line_through(*reversed(THICK))
    assert forward.slope == pytest.approx(backward.slope, rel=1e-13)
    assert (forward.coldest_point_k, forward.warmest_point_k) == (backward.coldest_point_k, backward.warmest_point_k)


def test_extrapolation_is_marked() -> None:
    answer = viscosity_at(THICK, np.array([300.0, 340.0, 380.0]))
    assert answer.beyond_points.tolist() == [True, False, True]


def test_one_point_answers_at_its_own_temperature_only() -> None:
    answer = viscosity_at(THICK[:1], np.array([313.15, 313.18, 320.0]))
    assert answer.decided.tolist() == [True, True, False]
    assert answer.kinematic_viscosity_m2_per_s[:2].tolist() == [100e-6, 100e-6]
    assert np.isnan(answer.kinematic_viscosity_m2_per_s[2])
    assert "ask for the viscosity at the pumping temperature" in answer.reason


def test_one_point_with_the_slope_of_two_gives_the_line_of_two() -> None:
    line = line_through(*THICK)
    answer = viscosity_at(THICK[:1], 350.0, stated_slope=float(line.slope))
    assert answer.kinematic_viscosity_m2_per_s == pytest.approx(
        viscosity_on(line, 350.0).kinematic_viscosity_m2_per_s, rel=1e-12
    )
    assert answer.beyond_points
    assert answer.source == "ASTM D341 line through one measured point with the stated slope"


def test_array_answers() -> None:
    check_array_answer(
        lambda t, v, at: (
            viscosity_at((ViscosityPoint(t, v), ViscosityPoint(373.15, 1e-6)), at).kinematic_viscosity_m2_per_s
        ),
        [293.15, 300.0, 313.15],
        [5e-6, 100e-6, 1.5e-6],
        [300.0, 320.0, 373.15],
    )


def test_wrong_sets_of_points_are_refused() -> None:
    with pytest.raises(InputError, match="0 viscosity points are given; allowed: 1 or 2"):
        viscosity_at((), 300.0)
    with pytest.raises(InputError, match="3 viscosity points are given"):
        viscosity_at((*THICK, THIN[0]), 300.0)
    with pytest.raises(InputError, match="one of the two"):
        viscosity_at(THICK, 300.0, stated_slope=3.5)
    with pytest.raises(InputError, match="less than 5 K apart"):
        line_through(THICK[0], ViscosityPoint(316.0, 80e-6))
    with pytest.raises(InputError, match="does not fall"):
        line_through(THICK[0], ViscosityPoint(373.15, 120e-6))
    with pytest.raises(InputError, match="does not fall"):
        line_through(THICK[0], ViscosityPoint(373.15, 100e-6))


def test_out_of_range_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match=r"Measured viscosity is 0.2 mm²/s; allowed: 0.21 to 20,000,000 mm²/s"):
        viscosity_at([ViscosityPoint(300.0, 0.2e-6)], 300.0)
    with pytest.raises(OutOfRangeError, match=r"Temperature is 346.85 °C; allowed: -70 to 340 °C"):
        viscosity_at(THICK, 620.0)
    with pytest.raises(OutOfRangeError, match=r"Slope of viscosity \(B of ASTM D341\) is 7; allowed: 1 to 6"):
        line_with_slope(THICK[0], 7.0)
    with pytest.raises(OutOfRangeError, match=r"leaves the range of ASTM D341, 0.21 to"):
        viscosity_at(THIN, 500.0)
    with pytest.raises(OutOfRangeError, match="leaves the range of ASTM D341"):
        viscosity_at(THICK, 210.0)


def test_below_the_pour_point_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match=r"below the pour point of the oil \(24.0 °C\)"):
        viscosity_at(THICK, 290.0, pour_point_k=297.15)
    assert viscosity_at(THICK, 298.0, pour_point_k=297.15).decided
