"""What stands in joints, against closed forms of what a wave does there.

A step of flow Q1 sent into a line at rest brings H = B Q1 along with it, so that H + BQ = 2 B Q1 arrives at a joint;
continuity at a joint gives the rest (Wylie & Streeter 1993, ch. 3; from memory).
"""

from math import inf, sqrt

import numpy as np
import pytest

from compat.calc.surge.ends import Booster, HeadCurve, HeldFlow, ReliefValve, ThrottledBooster, as_steps
from compat.calc.surge.march import Line, march
from tests.compat.calc.surge.lines import line_between, run

RUNS = [run(400.0, 0.5, 1000.0), run(400.0, 0.5, 1000.0)]
STEP_S, SENT = 0.01, 0.15
SHUT_OFF_M, SLOPE_S_PER_M2 = 40.0, 130.0  # a curve that falls straight, so that the closed form is exact
CURVE = HeadCurve([0.0, 0.25, 0.5], [SHUT_OFF_M - SLOPE_S_PER_M2 * flow for flow in (0.0, 0.25, 0.5)])


def sent_to(joint, sent=SENT, gain_m=0.0):
    """Return impedance, and head and flow on both sides of the joint once the step has passed it."""
    line = line_between(RUNS, STEP_S, 0.0, 0.0, joints={0: joint}, gains_m={0: gain_m})
    grid = line.grid
    at = grid.last[0]
    met = march(Line(grid, line.head_m, line.flow_m3_per_s, HeldFlow([sent]), line.far, {0: joint}), 60, (at, at + 1))
    (left, right), (before, behind) = met.watched_head_m[-1], met.watched_flow_m3_per_s[-1]
    return grid.impedance_s_per_m2[0], left, right, before, behind


def test_relief_valve_that_stays_shut_lets_the_wave_pass_whole():
    b, left, right, before, behind = sent_to(ReliefValve(100.0, 120.0, 0.1))
    assert left == right == pytest.approx(b * SENT, rel=1e-9)
    assert before == behind == pytest.approx(SENT, rel=1e-9)


def test_relief_valve_half_open_takes_what_its_head_gives():
    # (2 B Q1 - H)/B - H/B = G (H - H0), so H = (2 B Q1 + B G H0) / (2 + B G) G the flow per metre over H0
    opens, full, most = 40.0, 120.0, 0.2
    b, left, right, before, behind = sent_to(ReliefValve(opens, full, most))
    gain = most / (full - opens)
    head = (2.0 * b * SENT + b * gain * opens) / (2.0 + b * gain)
    assert opens < head < full
    assert left == right == pytest.approx(head, rel=1e-9)
    assert before - behind == pytest.approx(gain * (head - opens), rel=1e-9)


def test_relief_valve_fully_open_takes_its_full_flow_and_no_more():
    # Half of what it takes is missing on each side: H = B Q1 - B Q0 / 2
    most = 0.05
    b, left, right, before, behind = sent_to(ReliefValve(10.0, 15.0, most))
    assert left == right == pytest.approx(b * SENT - 0.5 * b * most, rel=1e-9)
    assert before - behind == pytest.approx(most, rel=1e-9)


def test_booster_passes_what_its_curve_allows():
    # 2 B Q1 - B Q + h0 - c Q = h0 + B Q, so Q = 2 B Q1 / (2 B + c)
    b, left, right, before, behind = sent_to(Booster(CURVE), gain_m=SHUT_OFF_M)
    flow = 2.0 * b * SENT / (2.0 * b + SLOPE_S_PER_M2)
    assert before == behind == pytest.approx(flow, rel=1e-9)
    assert right == pytest.approx(SHUT_OFF_M + b * flow, rel=1e-9)
    assert right - left == pytest.approx(SHUT_OFF_M - SLOPE_S_PER_M2 * flow, rel=1e-9)


def test_booster_lets_nothing_back_through_its_non_return_valve():
    # At a shut end a wave comes back whole: the head falls by 2 B Q1
    b, left, right, before, behind = sent_to(Booster(CURVE), sent=-SENT, gain_m=SHUT_OFF_M)
    assert before == behind == 0.0
    assert left == pytest.approx(-2.0 * b * SENT, rel=1e-9)
    assert right == pytest.approx(SHUT_OFF_M, rel=1e-12)


@pytest.mark.parametrize("loss", [0.0, 900.0, inf])
def test_booster_behind_a_valve_passes_what_curve_and_valve_allow(loss):
    # k Q² + (2 B + c) Q - 2 B Q1 = 0
    b, left, _, before, behind = sent_to(ThrottledBooster(CURVE, as_steps(np.array([loss]))), gain_m=SHUT_OFF_M)
    linear = 2.0 * b + SLOPE_S_PER_M2
    flow = {0.0: 2.0 * b * SENT / linear, inf: 0.0}.get(loss)
    if flow is None:
        flow = (-linear + sqrt(linear**2 + 8.0 * loss * b * SENT)) / (2.0 * loss)
    assert before == behind == pytest.approx(flow, rel=1e-9, abs=1e-12)
    assert left == pytest.approx(2.0 * b * SENT - b * flow, rel=1e-9)


def test_curve_goes_on_beyond_its_points_by_the_square_of_the_flow():
    # Through the last point with its slope: head = h1 - s (Q² - Q1²), s = c / (2 Q1)
    impedance, last = 20.0, 0.5
    flow = CURVE.meets(impedance, -90.0)
    bend = SLOPE_S_PER_M2 / (2.0 * last)
    head = SHUT_OFF_M - SLOPE_S_PER_M2 * last - bend * (flow**2 - last**2)
    assert flow > last
    assert head == pytest.approx(-90.0 + impedance * flow, rel=1e-9)
