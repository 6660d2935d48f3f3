"""NPSH available against required."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.calc.arrays import map_arrays
from shared.calc.curve import Pieces, pieces_through
from tests.vessels.calc.test_pump_group import A, B, group, parabola, pipes
from vessels.calc.pump_group import PumpGroup
from vessels.calc.suction import (
    SuctionLimits,
    level_to_spare_m,
    level_to_stop_m,
    npsh_available_m,
    npsh_required_m,
    suction_margin_m,
)

G = 9.80665
ATMOSPHERE_PA = 101_325.0
FLOWS, REQUIRED = [0.0, 0.3, 0.6, 0.9], [3.0, 3.4, 4.6, 7.0]


def limits(absolute_head_m: float, *, known: bool = True, speed_rpm: float = 1000.0) -> SuctionLimits:
    """NPSH data of one pump."""
    curve = pieces_through(FLOWS, REQUIRED)
    folded = Pieces(curve.knots[None, None], curve.pieces[None, None])
    return SuctionLimits(np.array([[known]]), np.array([[absolute_head_m]]), folded, np.array([[speed_rpm]]))


def test_available_head_of_a_crude() -> None:
    """Worked by hand: 860 kg/m³, gas 5 kPa, vapour 45 kPa, level 2.0 m over the eye, losses 1.0 m: 8.271 m."""
    flow, bore = 0.4, 0.45
    speed = flow / (np.pi * bore**2 / 4.0)
    loss_coefficient = 1.0 * 2.0 * G / speed**2  # so that one metre is lost
    one = group([parabola()], tank_head_m=[2.0], suction=pipes((0.0, bore, 0.0, loss_coefficient), pumps=1))
    absolute = (ATMOSPHERE_PA + 5e3 - 45e3) / (860.0 * G) + 2.0
    assert npsh_available_m(one, limits(absolute), np.array([[flow]]))[0, 0] == pytest.approx(8.271, abs=5e-4)


def test_required_head_goes_through_its_points_and_with_the_square_of_speed() -> None:
    at_test = [npsh_required_m(limits(9.0), np.array([[q]]), np.array([[1000.0]]))[0, 0] for q in FLOWS]
    np.testing.assert_allclose(at_test, REQUIRED, rtol=1e-12)
    slower = [npsh_required_m(limits(9.0), np.array([[0.8 * q]]), np.array([[800.0]]))[0, 0] for q in FLOWS]
    np.testing.assert_allclose(slower, 0.64 * np.array(REQUIRED), rtol=1e-12)


def test_margin_is_available_less_required() -> None:
    one = group([parabola()], tank_head_m=[2.0], suction=pipes((30.0, 0.5, 5e-5, 1.5), pumps=1))
    flow, speed = np.array([[0.5]]), np.array([[950.0]])
    margin = suction_margin_m(one, limits(9.0), flow, speed)
    available, required = npsh_available_m(one, limits(9.0), flow), npsh_required_m(limits(9.0), flow, speed)
    np.testing.assert_allclose(margin, available - required, rtol=1e-12)


def test_what_is_not_known_limits_nothing() -> None:
    one = group([parabola()], tank_head_m=[2.0])
    speed = np.array([[1000.0]])
    assert suction_margin_m(one, limits(-50.0, known=False), np.array([[0.5]]), speed)[0, 0] == np.inf
    assert suction_margin_m(one, limits(-50.0), np.array([[0.0]]), speed)[0, 0] < 0
    assert suction_margin_m(one, limits(-50.0), np.array([[0.5]]), speed)[0, 0] < 0


def to_spare(one: PumpGroup, absolute: float, flow: float, speed: float, greatest: float) -> float:
    """Return how far the tank of a single pump may fall."""
    arrays = (np.array([[value]]) for value in (flow, speed, greatest))
    return float(level_to_spare_m(one, limits(absolute), *arrays)[0, 0])


@given(st.floats(0.1, 0.85), st.floats(700.0, 1100.0), st.floats(0.0, 300.0))
@settings(max_examples=40)
def test_the_level_to_spare_leaves_no_suction_at_the_speed_that_makes_up_the_lift(
    flow: float, speed: float, more: float
) -> None:
    """H = a (n/n0)² - b Q²: d metres less of level are made up at n = sqrt(n² + d n0²/a)."""
    one = group([parabola()], tank_head_m=[2.0], suction=pipes((30.0, 0.5, 5e-5, 1.5), pumps=1))
    greatest = speed + more
    drop = to_spare(one, 14.0, flow, speed, greatest)
    reached = min(np.sqrt(max(speed**2 + drop * 1000.0**2 / A, 0.0)), greatest) if drop > 0.0 else speed
    required = npsh_required_m(limits(14.0), np.array([[flow]]), np.array([[reached]]))[0, 0]
    available = npsh_available_m(one, limits(14.0), np.array([[flow]]))[0, 0]
    assert available - drop == pytest.approx(required, abs=1e-6)


def test_at_a_speed_that_can_not_rise_the_level_to_spare_is_the_margin() -> None:
    one = group([parabola()], tank_head_m=[2.0])
    flow, speed = np.array([[0.5]]), np.array([[950.0]])
    margin = suction_margin_m(one, limits(9.0), flow, speed)
    np.testing.assert_allclose(level_to_spare_m(one, limits(9.0), flow, speed, speed), margin, rtol=1e-12)


def test_a_tank_that_is_too_low_already_has_less_than_nothing_to_spare() -> None:
    one = group([parabola()], tank_head_m=[2.0])
    flow, speed = np.array([[0.5]]), np.array([[950.0]])
    margin = suction_margin_m(one, limits(1.0), flow, speed)
    assert margin[0, 0] < 0.0
    np.testing.assert_allclose(level_to_spare_m(one, limits(1.0), flow, speed, 1.2 * speed), margin, rtol=1e-12)


def test_many_pumps_at_once_have_to_spare_what_each_has_alone() -> None:
    one = group([parabola()], tank_head_m=[2.0], suction=pipes((30.0, 0.5, 5e-5, 1.5), pumps=1))
    flows, speeds, greatest = np.array([[0.2], [0.5], [0.8]]), np.array([[900.0], [950.0], [1100.0]]), 1100.0
    wide, bounds = (map_arrays(lambda array: np.repeat(array, 3, axis=0), part) for part in (one, limits(9.0)))
    kept = flows.copy(), speeds.copy()
    together = level_to_spare_m(wide, bounds, flows, speeds, np.full_like(speeds, greatest))
    for row, flow, speed in zip(together, flows, speeds, strict=True):
        assert row[0] == pytest.approx(to_spare(one, 9.0, flow[0], speed[0], greatest), rel=1e-9)
    np.testing.assert_array_equal(flows, kept[0])
    np.testing.assert_array_equal(speeds, kept[1])


def test_the_level_to_stop_is_the_lower_of_suction_and_lift_in_closed_form() -> None:
    """A parabola H = a (n/n0)² - b Q² at a flow against a junction head: suction at that speed, or no lift."""
    one = group([parabola()], tank_head_m=[2.0])
    flow, junction, least, greatest = np.array([[0.3]]), np.array([60.0]), np.array([[400.0]]), np.array([[1000.0]])
    asked = junction[0] - 2.0
    drop = float(level_to_stop_m(one, limits(9.0), flow, junction, least, greatest)[0, 0])
    speed = 1000.0 * np.sqrt((asked + drop + B * 0.3**2) / A)
    assert 400.0 < speed < 1000.0
    required = npsh_required_m(limits(9.0), flow, np.array([[speed]]))[0, 0]
    assert 9.0 - drop == pytest.approx(required, abs=1e-6)
    no_lift = float(level_to_stop_m(one, limits(900.0), flow, junction, least, greatest)[0, 0])
    assert no_lift == pytest.approx(A - B * 0.3**2 - asked, rel=1e-9)
