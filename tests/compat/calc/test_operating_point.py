"""Where pumps and shore agree: closed forms, the two ways of solving side by side, arrays against single cases."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compat.calc.balance import SpeedRule, balance_flow, balance_speed
from compat.calc.bracketed import bracket_flow, bracket_speed, bracket_throttle
from compat.calc.operating_point import point_at_speeds, speed_for_flow
from compat.calc.system import ShipShore
from compat.case.case_arrays import CaseArrays, arrays_of
from compat.case.case_file import check_case
from shared.calc.arrays import take
from tests.compat.systems import DROP, RESISTANCE, SHUT_OFF_M, STATIC_M, SYSTEMS, Document, closed_form
from tests.reference_tables import reference_numbers
from vessels.calc.pump import greatest_tested_flow

HOUR_S = 3600.0


def arrays(*documents: Document) -> CaseArrays:
    """Return documents as arrays of one case each."""
    return arrays_of([check_case(document, "case") for document in documents])


def flow_at(speed_rpm: float, count: int = 1) -> float:
    """Flow in m³/h in closed form: sqrt((H0 s² - Hs) / (k / n² + R))."""
    lift = SHUT_OFF_M * (speed_rpm / 1000.0) ** 2 - STATIC_M
    return math.sqrt(max(lift, 0.0) / (DROP / count**2 + RESISTANCE))


@pytest.mark.parametrize("row", reference_numbers("curve_meets_system"), ids=lambda row: f"{row['pumps']:.0f} pumps")
def test_curve_meets_system_in_closed_form(row: dict[str, float]) -> None:
    built = arrays(closed_form(int(row["pumps"]), speeds=row["speed_rpm"]))
    point = point_at_speeds(built.system, built.stated_rpm)
    assert point.converged.all()
    assert point.flow_m3_per_s[0] * HOUR_S == pytest.approx(row["flow_m3_per_h"], abs=0.05)
    assert point.junction_head_m[0] == pytest.approx(row["head_m"], abs=0.005)
    assert point.flow_m3_per_s[0] * HOUR_S == pytest.approx(flow_at(row["speed_rpm"], int(row["pumps"])), rel=1e-9)


@given(st.integers(1, 4), st.floats(400.0, 1100.0))
@settings(max_examples=40)
def test_any_speed_and_number_of_pumps_in_closed_form(count: int, speed: float) -> None:
    """And below n/n0 = sqrt(Hs/H0) = 516.4 rpm nothing moves."""
    built = arrays(closed_form(count, speeds=speed))
    point = point_at_speeds(built.system, built.stated_rpm)
    assert point.converged.all()
    assert point.residual_m[0] < 1e-6
    assert point.flow_m3_per_s[0] * HOUR_S == pytest.approx(flow_at(speed, count), rel=1e-8, abs=1e-3)


def test_two_pumps_never_give_twice_the_flow_of_one() -> None:
    built = arrays(closed_form(1), closed_form(2), closed_form(4))
    point = point_at_speeds(built.system, built.stated_rpm)
    one, two, four = point.flow_m3_per_s
    assert one < two < 2.0 * one
    assert two < four < 2.0 * two


def free(count: int = 1) -> tuple[ShipShore, SpeedRule]:
    """Return closed-form pumps under one common speed between 400 and 1,100 rpm."""
    document = closed_form(count)
    document["operation"]["speed"] = "one common speed"
    document["agreed"]["manifold_pressure_bar_gauge"] = 12.0
    built = arrays(document)
    return built.system, built.rule


@given(st.floats(300.0, 5500.0))
@settings(max_examples=40)
def test_the_speed_for_a_flow_in_closed_form(flow: float) -> None:
    system, rule = free()
    found = speed_for_flow(system, rule, np.array([flow / HOUR_S]))
    needed = STATIC_M + (RESISTANCE + DROP) * flow**2
    assert found.point.converged.all()
    assert not found.short[0]
    assert found.point.throttled_head_m[0] == 0.0
    assert found.point.speed_rpm[0, 0] == pytest.approx(1000.0 * math.sqrt(needed / SHUT_OFF_M), rel=1e-9)


def test_where_the_least_speed_gives_too_much_the_rest_is_throttled() -> None:
    """Least speed raised to 900 rpm; at 3,000 m³/h the throttled head is H0 s² - k Q² - Hs - R Q² in closed form."""
    system, rule = free()
    fast = SpeedRule(rule.scale, np.full_like(rule.least_rpm, 900.0), rule.greatest_rpm)
    found = speed_for_flow(system, fast, np.array([3000.0 / HOUR_S]))
    expected = SHUT_OFF_M * 0.81 - STATIC_M - (DROP + RESISTANCE) * 3000.0**2
    assert found.point.converged.all()
    assert found.point.speed_rpm[0, 0] == 900.0
    assert found.point.throttled_head_m[0] == pytest.approx(expected, rel=1e-8)
    assert found.point.flow_m3_per_s[0] * HOUR_S == pytest.approx(3000.0)


def test_where_the_greatest_speed_falls_short_the_point_is_the_one_there() -> None:
    system, rule = free()
    found = speed_for_flow(system, rule, np.array([9000.0 / HOUR_S]))
    assert found.short[0]
    assert found.point.converged.all()
    assert found.point.speed_rpm[0, 0] == 1100.0
    assert found.point.flow_m3_per_s[0] * HOUR_S == pytest.approx(flow_at(1100.0), rel=1e-9)


CASES = [check_case(system.document, system.name) for system in SYSTEMS]


def test_newtons_way_and_the_bracketed_way_agree_on_every_system() -> None:
    built = arrays_of(CASES)
    speed = np.where(built.system.pumps.count > 0, built.stated_rpm, 1.0)
    newton = balance_flow(built.system, speed, 0.7 * greatest_tested_flow(built.system.pumps.curves, speed))
    bracketed = bracket_flow(built.system, speed)
    assert newton.converged.all()
    assert bracketed.converged.all()
    count = built.system.pumps.count
    np.testing.assert_allclose(newton.free, bracketed.free, rtol=1e-7)
    np.testing.assert_allclose(
        count * newton.pump_flow_m3_per_s, count * bracketed.pump_flow_m3_per_s, rtol=1e-6, atol=1e-7
    )


def test_the_two_ways_agree_on_the_speed_for_a_flow() -> None:
    built = arrays_of(CASES)
    flow = (
        0.6 * point_at_speeds(built.system, np.where(built.system.pumps.count > 0, built.stated_rpm, 1.0)).flow_m3_per_s
    )
    share = greatest_tested_flow(built.system.pumps.curves, built.rule.greatest_rpm)
    start = share * (flow / (built.system.pumps.count * share).sum(-1))[:, None]
    newton = balance_speed(built.system, built.rule, flow, start, built.rule.greatest_setting)
    settled = newton.converged
    assert settled.mean() > 0.7  # the rest is what the brackets are there for
    bracketed = bracket_speed(built.system, built.rule, flow)
    assert bracketed.converged.all()
    np.testing.assert_allclose(newton.free[settled], bracketed.free[settled], rtol=1e-7)


@given(st.floats(1e-13, 1e-6), st.floats(20.0, 120.0), st.sampled_from([1, 2, 3]), st.floats(0.1, 0.9))
@settings(max_examples=30)
def test_pumps_of_nearly_flat_curves_converge_and_their_flows_add_up(
    fall: float, head: float, count: int, share: float
) -> None:
    """H = a (1 - fall (Q/Q1)²): against 40 + R Q² the flow is that of a level head, sqrt((a - 40)/R), to about fall."""
    most = 4000.0
    stated = closed_form(count)
    for number, one in enumerate(stated["ship"]["pumps"]):
        own = fall * (1.0 + number) * head / most**2  # unlike by little, so that they take the flow from each other
        coefficients = {"shut_off_head_m": head, "drop_at_1_m3_per_h_m": max(own, 1e-15), "exponent": 2.0}
        one["curves"] = [{"speed_rpm": 1000.0, "coefficients": coefficients}]
    built = arrays(stated)
    for point in (
        point_at_speeds(built.system, built.stated_rpm),
        speed_for_flow(built.system, built.rule, np.array([share])).point,
    ):
        assert point.converged.all()
        assert point.residual_m[0] < 1e-6
        total = (built.system.pumps.count * point.pump_flow_m3_per_s).sum(-1)
        np.testing.assert_allclose(total, point.flow_m3_per_s, rtol=1e-9, atol=1e-10)
    free = point_at_speeds(built.system, built.stated_rpm).flow_m3_per_s[0] * HOUR_S
    level = math.sqrt(max(head - STATIC_M, 0.0) / RESISTANCE)
    assert free == pytest.approx(level, rel=1e-3, abs=1.0)


@given(st.integers(0, 39), st.floats(0.05, 0.95))
@settings(max_examples=20)
def test_brackets_alone_settle_every_system_at_any_flow(number: int, share: float) -> None:
    built = arrays_of([CASES[number]])
    most = point_at_speeds(built.system, built.stated_rpm).flow_m3_per_s
    by_speed = bracket_speed(built.system, built.rule, share * most)
    throttled = bracket_throttle(built.system, built.stated_rpm, share * most)
    for found in (by_speed, throttled):
        assert found.converged.all()
        given_flow = (built.system.pumps.count * found.pump_flow_m3_per_s).sum(-1)
        if found is by_speed and found.free[0] == built.rule.least_setting[0]:
            assert given_flow[0] >= share * most[0] * (1 - 1e-9), "the least speed is the answer only where it suffices"
        else:
            np.testing.assert_allclose(given_flow, share * most, rtol=1e-9, atol=1e-10)


def test_systems_in_one_array_come_out_as_each_alone() -> None:
    """To 1e-11, not to the last digit: a whole array takes other routines for logarithms and powers than one number."""
    built = arrays_of(CASES)
    speed = np.where(built.system.pumps.count > 0, built.stated_rpm, 1.0)
    together = point_at_speeds(built.system, speed)
    for row, case in enumerate(CASES):
        single = arrays_of([case])
        alone = point_at_speeds(single.system, single.stated_rpm)
        assert together.flow_m3_per_s[row] == pytest.approx(alone.flow_m3_per_s[0], rel=1e-11)
        kinds = alone.pump_flow_m3_per_s.shape[-1]
        np.testing.assert_allclose(
            together.pump_flow_m3_per_s[row, :kinds], alone.pump_flow_m3_per_s[0], rtol=1e-9, atol=1e-12
        )


def test_speeds_and_system_stay_as_they_were() -> None:
    built = arrays_of(CASES[:6])
    speed = np.where(built.system.pumps.count > 0, built.stated_rpm, 1.0)
    kept = speed.copy(), take(built.system, np.arange(6))
    point_at_speeds(built.system, speed)
    speed_for_flow(built.system, built.rule, np.full(6, 0.5))
    np.testing.assert_array_equal(speed, kept[0])
    np.testing.assert_array_equal(built.system.pumps.count, kept[1].pumps.count)
    np.testing.assert_array_equal(built.system.berth.arms.bore_m, kept[1].berth.arms.bore_m)
    np.testing.assert_array_equal(built.system.pumps.tank_head_m, kept[1].pumps.tank_head_m)
