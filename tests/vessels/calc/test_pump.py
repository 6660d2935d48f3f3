"""Pump curves: through their own points, by the affinity laws, between several tested speeds."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.reference_tables import reference_numbers
from vessels.calc.pump import (
    PumpCurves,
    beyond_curve,
    curve_by_coefficients,
    curves_by_points,
    greatest_tested_flow,
    pump_head,
    stack_curves,
)

HOUR_S = 3600.0
POINTS = [(0.0, 160.0), (0.3, 157.0), (0.55, 147.0), (0.8, 128.0), (0.9, 118.0)]


def head_m(curves: PumpCurves, flow_m3_per_s: float, speed_rpm: float) -> float:
    """Return the head of a single pump."""
    return float(pump_head(stack_curves([curves]), np.array([flow_m3_per_s]), np.array([speed_rpm]))[0][0])


def quadratic_curve() -> PumpCurves:
    """H = a (n/n0)² − b Q² through 145 m at 4,000 m³/h, 1,250 rpm and 100 m at 2,200 m³/h, 1,000 rpm (n0 = 1,250)."""
    a, b = np.linalg.solve([[1.0, -(4000.0**2)], [(1000.0 / 1250.0) ** 2, -(2200.0**2)]], [145.0, 100.0])
    return curve_by_coefficients(1250.0, float(a), float(b) * HOUR_S**2, 2.0)


def test_curve_of_common_practice_between_its_two_known_points() -> None:
    """Common practice, no source: about 113 m at 4,000 m³/h and about 3,100 m³/h at 122 m, both at 1,125 rpm."""
    curve = quadratic_curve()
    assert head_m(curve, 4000.0 / HOUR_S, 1250.0) == pytest.approx(145.0, rel=1e-12)
    assert head_m(curve, 2200.0 / HOUR_S, 1000.0) == pytest.approx(100.0, rel=1e-12)
    assert head_m(curve, 4000.0 / HOUR_S, 1125.0) == pytest.approx(113.0, rel=0.01)
    assert head_m(curve, 3100.0 / HOUR_S, 1125.0) == pytest.approx(122.0, rel=0.01)
    flows = np.linspace(2500.0, 3700.0, 1201)
    nearest = flows[np.argmin([abs(head_m(curve, flow / HOUR_S, 1125.0) - 122.0) for flow in flows])]
    assert nearest == pytest.approx(3100.0, rel=0.01)


def test_affinity_laws_of_cranes_example() -> None:
    for row in reference_numbers("affinity_laws"):
        curve = curves_by_points(
            [row["speed_rpm"]],
            [[(0.0, 1.2 * row["head_m"]), (row["flow_m3_per_h"] / HOUR_S, row["head_m"])]],
        )
        scaled = head_m(curve, row["other_flow_m3_per_h"] / HOUR_S, row["other_speed_rpm"])
        assert scaled == pytest.approx(row["other_head_m"], rel=1e-3)


@given(st.floats(0.0, 1.3), st.floats(0.3, 1.3))
def test_affinity_holds_at_every_speed(flow: float, ratio: float) -> None:
    for curve in (curves_by_points([1250.0], [POINTS]), curve_by_coefficients(1250.0, 160.0, 50.0, 1.85)):
        assert head_m(curve, flow * ratio, 1250.0 * ratio) == pytest.approx(
            ratio**2 * head_m(curve, flow, 1250.0), rel=1e-12, abs=1e-9
        )


def test_a_curve_reproduces_its_own_points() -> None:
    curve = curves_by_points([1250.0], [POINTS])
    for flow, head in POINTS:
        assert head_m(curve, flow, 1250.0) == pytest.approx(head, rel=1e-13)


def test_every_tested_speed_reproduces_its_own_points_in_whatever_order_they_are_given() -> None:
    slower = [(0.0, 90.0), (0.3, 88.0), (0.6, 75.0)]
    middle = [(0.0, 121.0), (0.35, 117.0), (0.7, 95.0)]
    curve = curves_by_points([1250.0, 950.0, 1100.0], [POINTS, slower, middle])
    for speed, points in ((1250.0, POINTS), (950.0, slower), (1100.0, middle)):
        for flow, head in points:
            assert head_m(curve, flow, speed) == pytest.approx(head, rel=1e-12)


@given(st.floats(600.0, 1500.0), st.floats(0.0, 0.9))
def test_tested_speeds_that_obey_affinity_leave_no_misfit(speed: float, flow: float) -> None:
    def scaled(ratio: float) -> list[tuple[float, float]]:
        return [(q * ratio, h * ratio**2) for q, h in POINTS]

    several = curves_by_points([1250.0, 1000.0, 800.0], [POINTS, scaled(0.8), scaled(0.64)])
    single = curves_by_points([1250.0], [POINTS])
    assert head_m(several, flow, speed) == pytest.approx(head_m(single, flow, speed), rel=1e-11, abs=1e-9)


def test_between_tested_speeds_that_disagree_the_head_goes_over_from_one_to_the_other() -> None:
    weaker = [(q * 0.8, h * 0.64 * 0.95) for q, h in POINTS]  # 5 % under what affinity makes of the faster test
    curve = curves_by_points([1000.0, 1250.0], [weaker, POINTS])
    alone = curves_by_points([1250.0], [POINTS])
    shares = [
        head_m(curve, 0.4, speed) / head_m(alone, 0.4, speed) for speed in (900.0, 1000.0, 1125.0, 1250.0, 1300.0)
    ]
    np.testing.assert_allclose(shares, [0.95, 0.95, 0.975, 1.0, 1.0], rtol=1e-9)
    fine = np.array([head_m(curve, 0.4, speed) for speed in np.linspace(900.0, 1350.0, 451)])
    assert (np.diff(fine) > 0).all()
    assert np.abs(np.diff(fine, 2)).max() < 0.2  # no jump: the head itself rises by some 0.2 m a revolution


@st.composite
def pumps_in_arrays(draw: Any) -> tuple[PumpCurves, np.ndarray, np.ndarray]:
    """One pump by points, one by coefficients, one at two tested speeds, with flows and speeds."""
    curves = stack_curves(
        [
            curves_by_points([1250.0], [POINTS]),
            curve_by_coefficients(1100.0, 140.0, 45.0, draw(st.floats(1.0, 3.0))),
            curves_by_points([900.0, 1200.0], [[(0.0, 80.0), (0.5, 60.0)], [(0.0, 145.0), (0.5, 122.0), (0.8, 90.0)]]),
        ]
    )
    flows = draw(st.lists(st.floats(0.01, 0.85), min_size=3, max_size=3))
    speeds = draw(st.lists(st.floats(700.0, 1350.0), min_size=3, max_size=3))
    return curves, np.array(flows), np.array(speeds)


@given(pumps_in_arrays())
def test_stated_slopes_are_the_slopes(pumps: tuple[PumpCurves, np.ndarray, np.ndarray]) -> None:
    curves, flows, speeds = pumps
    _, by_flow, by_speed = pump_head(curves, flows, speeds)

    def head(flow: np.ndarray, speed: np.ndarray) -> np.ndarray:
        return pump_head(curves, flow, speed)[0]

    def near_kink() -> np.ndarray:
        tested = np.abs(curves.speed_rpm - speeds[:, None]).min(-1) < 0.1
        x = flows[:, None] * curves.speed_rpm / speeds[:, None]
        return np.asarray(tested | (np.abs(curves.head.knots - x[..., None]) < 1e-3).any((-1, -2)))

    smooth = ~near_kink()
    step = 1e-6
    numeric = (head(flows + step, speeds) - head(flows - step, speeds)) / (2.0 * step)
    np.testing.assert_allclose(by_flow[smooth], numeric[smooth], rtol=1e-4, atol=1e-4)
    numeric = (head(flows, speeds + 0.01) - head(flows, speeds - 0.01)) / 0.02
    np.testing.assert_allclose(by_speed[smooth], numeric[smooth], rtol=1e-4, atol=1e-6)


@given(pumps_in_arrays())
def test_head_falls_with_flow_and_stacking_changes_nothing(pumps: tuple[PumpCurves, np.ndarray, np.ndarray]) -> None:
    curves, flows, speeds = pumps
    heads, by_flow, _ = pump_head(curves, flows, speeds)
    assert (by_flow < 0).all()
    singles = [
        curves_by_points([1250.0], [POINTS]),
        curve_by_coefficients(1100.0, 140.0, 45.0, float(curves.exponent[1, 0])),
        curves_by_points([900.0, 1200.0], [[(0.0, 80.0), (0.5, 60.0)], [(0.0, 145.0), (0.5, 122.0), (0.8, 90.0)]]),
    ]
    alone = [head_m(single, float(q), float(n)) for single, q, n in zip(singles, flows, speeds, strict=True)]
    # numpy may take another power routine for a whole array: last digits only
    np.testing.assert_allclose(heads, alone, rtol=1e-14)


def test_inputs_stay_as_they_were() -> None:
    curves = stack_curves([curves_by_points([1000.0, 1250.0], [POINTS[:4], POINTS])])
    flow, speed = np.array([0.4]), np.array([1100.0])
    kept = flow.copy(), speed.copy(), curves.speed_rpm.copy(), curves.head.knots.copy()
    pump_head(curves, flow, speed)
    for array, before in zip((flow, speed, curves.speed_rpm, curves.head.knots), kept, strict=True):
        np.testing.assert_array_equal(array, before)


def test_greatest_tested_flow_is_carried_to_the_speed() -> None:
    curves = stack_curves([curves_by_points([1250.0], [POINTS]), curve_by_coefficients(1250.0, 144.0, 100.0, 2.0)])
    np.testing.assert_allclose(greatest_tested_flow(curves, np.array([1250.0, 1250.0])), [0.9, 1.2], rtol=1e-12)
    np.testing.assert_allclose(greatest_tested_flow(curves, np.array([1000.0, 625.0])), [0.72, 0.6], rtol=1e-12)


def test_a_flow_outside_the_tested_points_is_told_at_every_speed() -> None:
    points = [(0.2, 150.0), *POINTS[2:]]
    curves = stack_curves(
        [curves_by_points([1250.0], [points])] * 4 + [curve_by_coefficients(1250.0, 144.0, 100.0, 2.0)]
    )
    flow = np.array([0.19, 0.21, 0.73, 0.71, 5.0])
    speed = np.array([1250.0, 1250.0, 1000.0, 1000.0, 1250.0])
    np.testing.assert_array_equal(beyond_curve(curves, flow, speed), [True, False, True, False, False])


@pytest.mark.parametrize("exponent", [0.5, 0.9, 1.0, 2.0, 6.0])
def test_every_allowed_exponent_is_defined_at_no_flow(exponent: float) -> None:
    curves = stack_curves([curve_by_coefficients(1250.0, 144.0, 100.0, exponent)])
    head, by_flow, by_speed = pump_head(curves, np.zeros(1), np.array([1250.0]))
    assert head[0] == pytest.approx(144.0)
    assert not np.isnan(by_flow[0])
    assert by_speed[0] == pytest.approx(2.0 * 144.0 / 1250.0)
