"""Pumps side by side against a head: each alone, non-return valves, unlike lines; closed forms where they exist."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from shared.calc.arrays import fold_rows
from shared.calc.line import Pipes
from vessels.calc.pump import PumpCurves, curve_by_coefficients, curves_by_points, stack_curves
from vessels.calc.pump_group import FlowsAtHead, PumpGroup, flows_at_head

G = 9.80665
A, B = 150.0, 130.0  # m and m per (m3/s)2
POINTS = [(0.0, 160.0), (0.3, 157.0), (0.55, 147.0), (0.8, 128.0)]


def pipes(*runs: tuple[float, float, float, float], pumps: int) -> Pipes:
    """The same runs of (length m, bore m, roughness m, K) for each of so many pumps; without runs, no line at all."""
    table = np.array(runs).reshape(-1, 4).T
    return Pipes(*(np.tile(column, (1, pumps, 1)) for column in table))


def group(
    curves: list[PumpCurves], *, tank_head_m: list[float], viscosity: float = 1e-5, count: float = 1.0,
    suction: Pipes | None = None, discharge: Pipes | None = None,
) -> PumpGroup:  # fmt: skip
    """One case of several pumps."""
    stacked = stack_curves(curves)
    pumps = len(curves)
    folded = fold_rows(stacked, (1, pumps))
    return PumpGroup(
        folded,
        np.full((1, pumps), count),
        np.array([tank_head_m]),
        np.zeros((1, pumps)),
        suction or pipes(pumps=pumps),
        discharge or pipes(pumps=pumps),
        np.full((1, pumps), viscosity),
    )


def parabola(shut_off: float = A, drop: float = B) -> PumpCurves:
    """H = a - b Q^2 at 1,000 rpm, Q in m3/s."""
    return curve_by_coefficients(1000.0, shut_off, drop, 2.0)


@given(st.floats(-20.0, 170.0), st.floats(500.0, 1300.0), st.floats(-10.0, 20.0))
def test_a_parabola_against_a_head_in_closed_form(head: float, speed: float, tank: float) -> None:
    """Q = sqrt((a s^2 + tank - head) / b), and none where the head can't be reached."""
    found = flows_at_head(group([parabola()], tank_head_m=[tank]), np.array([[head]]), np.array([[speed]]))
    surplus = A * (speed / 1000.0) ** 2 + tank - head
    expected = np.sqrt(max(surplus, 0.0) / B)
    assert found.root.converged.all()
    assert found.flow_m3_per_s[0, 0] == pytest.approx(expected, rel=1e-9, abs=1e-6)


def test_losses_of_fittings_alone_add_to_the_parabola() -> None:
    bore, suction_k, discharge_k = 0.4, 2.0, 5.0
    area = np.pi * bore**2 / 4.0
    both = group(
        [parabola()],
        tank_head_m=[3.0],
        suction=pipes((0.0, bore, 1e-4, suction_k), pumps=1),
        discharge=pipes((0.0, bore, 1e-4, 2.0), (0.0, bore, 1e-4, discharge_k - 2.0), pumps=1),
    )
    found = flows_at_head(both, np.array([[60.0]]), np.array([[1000.0]]))
    resistance = (suction_k + discharge_k) / (2.0 * G * area**2)
    flow = np.sqrt((A + 3.0 - 60.0) / (B + resistance))
    assert found.flow_m3_per_s[0, 0] == pytest.approx(flow, rel=1e-10)
    assert both.suction_loss(found.flow_m3_per_s)[0][0, 0] == pytest.approx(
        suction_k * (flow / area) ** 2 / (2 * G), rel=1e-9
    )


def test_unlike_pumps_each_find_their_own_flow_and_a_weak_one_is_shut() -> None:
    curves = [parabola(), curves_by_points([1250.0], [POINTS]), parabola(95.0, 80.0)]
    three = group(curves, tank_head_m=[2.0, 5.0, 1.0])
    heads, speeds = np.full((1, 3), 110.0), np.array([[1000.0, 1200.0, 1000.0]])
    found = flows_at_head(three, heads, speeds)
    assert found.flow_m3_per_s[0, 2] == 0.0
    assert found.by_head[0, 2] == 0.0
    for k, curve in enumerate(curves):
        alone = flows_at_head(group([curve], tank_head_m=[three.tank_head_m[0, k]]), heads[:, :1], speeds[:, k : k + 1])
        # numpy may take another power routine for a whole array: last digits only
        assert found.flow_m3_per_s[0, k] == pytest.approx(alone.flow_m3_per_s[0, 0], rel=1e-12)
    delivered, _, _ = three.junction_head(found.flow_m3_per_s, speeds)
    np.testing.assert_allclose(delivered[0, :2], 110.0, atol=1e-9)
    assert delivered[0, 2] < 110.0


def test_a_pump_that_does_not_exist_gives_nothing() -> None:
    found = flows_at_head(group([parabola()], tank_head_m=[0.0], count=0.0), np.array([[10.0]]), np.array([[1000.0]]))
    assert found.flow_m3_per_s[0, 0] == 0.0
    assert found.root.converged.all()


def test_the_bracket_reaches_beyond_the_tested_points() -> None:
    """Against a suction deep below the tank the pump runs far out on the straight end of its curve."""
    found = flows_at_head(
        group([curves_by_points([1250.0], [POINTS])], tank_head_m=[0.0]), np.array([[-400.0]]), np.array([[1250.0]])
    )
    assert found.root.converged.all()
    end_slope = (128.0 - 147.0) / 0.25
    assert found.flow_m3_per_s[0, 0] <= 0.8 + (-400.0 - 128.0) / end_slope + 1e-9
    assert found.flow_m3_per_s[0, 0] > 0.8


@given(st.floats(20.0, 120.0), st.floats(800.0, 1200.0))
def test_stated_slopes_are_the_slopes(head: float, speed: float) -> None:
    lines = pipes((200.0, 0.4, 1e-4, 3.0), pumps=1)
    one = group([parabola()], tank_head_m=[5.0], discharge=lines, viscosity=2e-5)

    def at(h: float, n: float) -> FlowsAtHead:
        return flows_at_head(one, np.array([[h]]), np.array([[n]]))

    here = at(head, speed)
    assume(here.flow_m3_per_s[0, 0] > 0.1)
    by_head = (at(head + 0.01, speed).flow_m3_per_s - at(head - 0.01, speed).flow_m3_per_s) / 0.02
    by_speed = (at(head, speed + 0.1).flow_m3_per_s - at(head, speed - 0.1).flow_m3_per_s) / 0.2
    assert here.by_head[0, 0] == pytest.approx(by_head[0, 0], rel=1e-4)
    assert here.by_speed[0, 0] == pytest.approx(by_speed[0, 0], rel=1e-4)


def test_inputs_stay_as_they_were() -> None:
    two = group([parabola(), parabola(140.0)], tank_head_m=[1.0, 2.0])
    head, speed = np.full((1, 2), 70.0), np.full((1, 2), 1000.0)
    kept = head.copy(), speed.copy(), two.tank_head_m.copy()
    flows_at_head(two, head, speed)
    for array, before in zip((head, speed, two.tank_head_m), kept, strict=True):
        np.testing.assert_array_equal(array, before)
