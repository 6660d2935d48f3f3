"""Pumps that move a volume with each turn: flow goes with speed, head does not."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vessels.calc.pump import beyond_curve, curves_by_points, greatest_tested_flow, pump_head, stack_curves

POINTS = [(0.045, 120.0), (0.05, 60.0), (0.052, 10.0)]  # m3/s and m at 100 rpm: slip takes a tenth off
DISPLACES = stack_curves([curves_by_points([100.0], [POINTS], displaces=True)])


def head_m(flow: float, speed: float) -> float:
    """Return the head of the pump of this file."""
    return float(pump_head(DISPLACES, np.array([flow]), np.array([speed]))[0][0])


@given(st.floats(0.0451, 0.0519), st.floats(0.2, 1.5))
@settings(max_examples=30)
def test_at_another_speed_the_same_head_belongs_to_a_flow_in_proportion(flow: float, ratio: float) -> None:
    """Common practice, no source: a screw or piston pump moves its swept volume, less slip, whatever the pressure."""
    assert head_m(flow * ratio, 100.0 * ratio) == pytest.approx(head_m(flow, 100.0), rel=1e-9)


def test_at_its_tested_speed_it_goes_through_its_points() -> None:
    for flow, head in POINTS:
        assert head_m(flow, 100.0) == pytest.approx(head, rel=1e-12)


@given(st.floats(0.02, 0.06), st.floats(60.0, 120.0))
@settings(max_examples=30)
def test_stated_slopes_are_the_slopes(flow: float, speed: float) -> None:
    carried = flow * 100.0 / speed
    if min(abs(carried - point) for point, _ in POINTS) < 1e-4:  # the slope bends there
        return
    _, by_flow, by_speed = pump_head(DISPLACES, np.array([flow]), np.array([speed]))
    step = 1e-7
    assert by_flow[0] == pytest.approx((head_m(flow + step, speed) - head_m(flow - step, speed)) / (2 * step), rel=1e-3)
    step = 1e-4
    numeric = (head_m(flow, speed + step) - head_m(flow, speed - step)) / (2 * step)
    assert by_speed[0] == pytest.approx(numeric, rel=1e-3)


def test_beside_a_centrifugal_pump_in_one_array_each_keeps_its_own_law() -> None:
    centrifugal = curves_by_points([1000.0], [[(0.0, 100.0), (0.3, 80.0), (0.5, 50.0)]])
    both = stack_curves([curves_by_points([100.0], [POINTS], displaces=True), centrifugal])
    heads = pump_head(both, np.array([0.025, 0.15]), np.array([50.0, 500.0]))[0]
    np.testing.assert_allclose(heads, [60.0, 20.0], rtol=1e-12)  # the tested head; a quarter of the tested head


def test_range_of_trust_goes_with_the_speed() -> None:
    flow, speed = np.array([0.0261]), np.array([50.0])
    assert greatest_tested_flow(DISPLACES, speed)[0] == pytest.approx(0.026)
    assert beyond_curve(DISPLACES, flow, speed)[0]
    assert not beyond_curve(DISPLACES, flow, np.array([51.0]))[0]
