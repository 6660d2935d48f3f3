"""Suction through a case: the levels at which to slow down and to stop, found again by answering the case there."""

from __future__ import annotations

import copy
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compat.case.answer import Answer
from compat.case.answer_parts import PumpReading
from compat.case.report import report
from tests.compat.case.test_answer import WEIGHT, answered, freed, npsh_points, put, row
from tests.compat.systems import DROP, RESISTANCE, SHUT_OFF_M, STATIC_M, Document, alike, closed_form, document

KEEL_M = -9.0
ATMOSPHERE_PA = 101_325.0


def at_level(stated: Document, level: float) -> Document:
    """Return a document with every cargo tank at a level over the keel."""
    changed = copy.deepcopy(stated)
    for state in changed["operation"]["pumps"]:
        state["tank_surface_elevation_m"] = level
    return changed


def npsh_everywhere(stated: Document, vapour_kpa: float = 85.0) -> Document:
    """Give alike pumps NPSH required of 3 m at rest and 3 + 5 (Q/2000)² m above, at their tested speed."""
    changed = put(stated, "cargo.vapour_pressure_kpa_abs", vapour_kpa)
    for one in changed["ship"]["pumps"]:
        one["least_continuous_flow_m3_per_h"] = 300.0
        for point in one["curves"][0]["points"]:
            point["npsh_required_m"] = 3.0 + 5.0 * (point["flow_m3_per_h"] / 2000.0) ** 2
    return changed


def first(answer: Answer) -> PumpReading:
    """Return the reading of the first pump."""
    return answer.pumps[0]


def margin(answer: Answer) -> float:
    """Return NPSH available less required of the first pump."""
    reading = first(answer)
    assert reading.npsh_available_m is not None
    assert reading.npsh_required_m is not None
    return reading.npsh_available_m - reading.npsh_required_m


CASES = {
    "one pump, closed form": npsh_points(freed(closed_form(1), 8.0)),
    "three alike pumps with lines": npsh_everywhere(freed(document(alike(3)), 8.0)),
    "rated flow binds": put(
        npsh_everywhere(freed(document(alike(1)), 12.0)), "ship.pumps.0.rated_flow_m3_per_h", 1700.0
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_answered_at_the_level_to_slow_at_the_rate_is_kept_and_no_suction_is_left(name: str) -> None:
    """A free speed rises to keep the rate as the level falls; that speed requires more, and the level knows it."""
    before = answered(CASES[name])
    level = first(before).slow_below_level_m
    assert level is not None
    there = answered(at_level(CASES[name], level))
    assert there.total_flow_m3_per_h == pytest.approx(before.total_flow_m3_per_h, rel=1e-8)
    assert first(there).speed_rpm > first(before).speed_rpm  # type: ignore[operator]
    assert margin(there) == pytest.approx(0.0, abs=1e-6)
    assert first(there).slow_below_level_m == pytest.approx(level, abs=1e-6)


@pytest.mark.parametrize("name", CASES)
def test_a_little_below_it_suction_binds_and_the_rate_falls(name: str) -> None:
    before = answered(CASES[name])
    below = answered(at_level(CASES[name], (first(before).slow_below_level_m or 0.0) - 0.3))
    assert below.binding == "npsh-P1"
    assert below.total_flow_m3_per_h < before.total_flow_m3_per_h  # type: ignore[operator]


def test_at_stated_speeds_the_level_is_never_too_low() -> None:
    """The speed stays, so less flow is made from a lower tank: a little suction is left where slowing is called for."""
    stated = npsh_everywhere(document(alike(2)))
    level = first(answered(stated)).slow_below_level_m
    assert level is not None
    assert 0.0 <= margin(answered(at_level(stated, level))) < 0.5


def test_at_the_greatest_speed_the_level_is_never_too_low() -> None:
    stated = npsh_everywhere(freed(document(alike(2)), 20.0))
    before = answered(stated)
    assert before.binding == "speed-P1"
    there = answered(at_level(stated, first(before).slow_below_level_m or 0.0))
    assert 0.0 <= margin(there) < 0.5


def test_at_the_level_to_stop_the_least_flow_at_the_least_speed_leaves_no_suction() -> None:
    """The case is held to its least continuous flow at its least speed, throttled, at that level."""
    stated = put(npsh_points(freed(closed_form(1), 8.0)), "ship.pumps.0.least_continuous_flow_m3_per_h", 900.0)
    stated = put(stated, "ship.pumps.0.least_speed_rpm", 700.0)
    level = first(answered(stated)).stop_below_level_m
    assert level is not None
    least = answered(put(at_level(stated, level), "agreed.highest_rate_m3_per_h", 900.0))
    assert least.outcome == "throttling needed"
    assert first(least).speed_rpm == 700.0
    assert first(least).flow_m3_per_h == pytest.approx(900.0, rel=1e-9)
    assert margin(least) == pytest.approx(0.0, abs=1e-6)


def test_the_level_to_stop_in_closed_form() -> None:
    """Required 0.7² · (2 + 6 · 900/0.7/4000) m at 700 rpm; available (101.325 - 70) kPa/(rho g) + level - 2.5 m."""
    stated = put(npsh_points(freed(closed_form(1), 8.0)), "ship.pumps.0.least_continuous_flow_m3_per_h", 900.0)
    stated = put(stated, "ship.pumps.0.least_speed_rpm", 700.0)
    required = 0.49 * (2.0 + 6.0 * 900.0 / 0.7 / 4000.0)
    expected = required - (ATMOSPHERE_PA - 70_000.0) / WEIGHT + 2.5
    assert first(answered(stated)).stop_below_level_m == pytest.approx(expected, rel=1e-9)


def test_the_level_to_stop_counts_the_speed_that_the_lift_takes() -> None:
    """From a tank that low, 900 m³/h take more than the least speed: n² = n0² (Hs + R Q² + k Q² + level lost)/H0."""
    stated = put(npsh_points(freed(closed_form(1), 8.0)), "ship.pumps.0.least_continuous_flow_m3_per_h", 900.0)
    stated = put(stated, "cargo.vapour_pressure_kpa_abs", 95.0)  # at 400 rpm, the least, nothing would reach the shore
    level = first(answered(stated)).stop_below_level_m
    assert level is not None
    ratio = math.sqrt((STATIC_M + (RESISTANCE + DROP) * 900.0**2 + 9.0 - level) / SHUT_OFF_M)
    assert ratio > 0.4
    required = ratio**2 * 2.0 + ratio * 6.0 * 900.0 / 4000.0
    assert required == pytest.approx((ATMOSPHERE_PA - 95_000.0) / WEIGHT + level - 2.5, rel=1e-5)
    least = answered(put(at_level(stated, level), "agreed.highest_rate_m3_per_h", 900.0))
    assert first(least).speed_rpm == pytest.approx(1000.0 * ratio, rel=1e-5)  # drawn through points of the parabola
    assert margin(least) == pytest.approx(0.0, abs=1e-6)


def test_a_pump_whose_lift_ends_before_its_suction_stops_where_the_lift_ends() -> None:
    """At its greatest speed of 560 rpm it lifts 150 · 0.56² m at most; a thin cargo never loses suction there."""
    stated = put(npsh_points(freed(closed_form(1), 8.0)), "ship.pumps.0.least_continuous_flow_m3_per_h", 900.0)
    stated = put(put(stated, "ship.pumps.0.greatest_speed_rpm", 560.0), "cargo.vapour_pressure_kpa_abs", 5.0)
    level = first(answered(stated)).stop_below_level_m
    assert level is not None
    lift = STATIC_M + (RESISTANCE + DROP) * 900.0**2 + 9.0 - level
    assert lift == pytest.approx(SHUT_OFF_M * 0.56**2, rel=1e-5)
    below = answered(put(at_level(stated, level - 0.05), "agreed.highest_rate_m3_per_h", 900.0))
    assert below.binding == "speed-P1"
    assert first(below).flow_m3_per_h < 900.0


def test_no_level_below_the_bottom_of_the_tanks_is_told_but_that_suction_does_not_limit() -> None:
    stated = npsh_everywhere(freed(document(alike(2)), 8.0), 5.0)
    reading = first(answered(stated))
    assert reading.slow_below_level_m is None
    assert reading.stop_below_level_m is None
    assert reading.level_note == "suction does not limit above the bottom of the tanks"
    hot = first(answered(npsh_everywhere(freed(document(alike(2)), 8.0), 85.0)))
    assert hot.slow_below_level_m is not None
    bottom = (hot.slow_below_level_m + (hot.stop_below_level_m or 0.0)) / 2.0
    tanks = {"bottom_elevation_m": bottom, "top_elevation_m": 30.0}
    between = first(answered(put(npsh_everywhere(freed(document(alike(2)), 8.0), 85.0), "ship.cargo_tanks", tanks)))
    assert between.slow_below_level_m == hot.slow_below_level_m
    assert between.stop_below_level_m is None
    assert between.level_note == "at the least flow suction lasts to the bottom of the tanks"


def test_without_a_least_continuous_flow_the_level_to_stop_is_asked_for_and_not_guessed() -> None:
    stated = put(npsh_everywhere(freed(document(alike(1)), 8.0)), "ship.pumps.0.least_continuous_flow_m3_per_h", None)
    answer = answered(stated)
    assert first(answer).slow_below_level_m is not None
    assert first(answer).stop_below_level_m is None
    asked = "the level at which to stop is not known; ask the ship for the least continuous flow"
    assert first(answer).level_note == asked
    assert asked in report(answer)
    assert "slow below" in report(answer)


@given(st.floats(3.5, 18.0), st.floats(20.0, 95.0))
@settings(max_examples=15)
def test_a_pump_slows_before_it_stops_and_the_levels_fall_with_the_vapour_pressure(level: float, vapour: float) -> None:
    stated = at_level(npsh_everywhere(freed(document(alike(2)), 8.0), vapour), level)
    answer = answered(stated)
    reading = first(answer)
    if answer.total_flow_m3_per_h is None:
        assert "suction head available is too low" in answer.reason
        return
    slow, stop = told(reading.slow_below_level_m), told(reading.stop_below_level_m)
    assert stop <= slow
    assert (slow <= level + 1e-6) == (margin(answer) >= -1e-6)
    calmer = first(answered(put(stated, "cargo.vapour_pressure_kpa_abs", vapour - 10.0)))
    assert told(calmer.stop_below_level_m) <= stop


def told(level: float | None) -> float:
    """Return a level, or one below every tank where suction does not limit."""
    return -math.inf if level is None else level


def test_the_rate_that_suction_leaves_in_closed_form() -> None:
    """Available (101.325 - 70) kPa/(rho g) - 0.7 m = required r² (2 + 6 q/r/4000), where r² H0 - k q² = Hs + R q²."""
    stated = put(npsh_points(freed(closed_form(1), 20.0)), "ship.pumps.0.elevation_m", 9.7)
    answer = answered(stated)
    assert answer.binding == "npsh-P1"
    flow = answer.total_flow_m3_per_h
    assert flow is not None
    ratio = math.sqrt((STATIC_M + (RESISTANCE + DROP) * flow**2) / SHUT_OFF_M)
    available = (ATMOSPHERE_PA - 70_000.0) / WEIGHT + 9.0 - 9.7
    assert ratio**2 * 2.0 + ratio * 6.0 * flow / 4000.0 == pytest.approx(available, rel=1e-4)


def test_a_cargo_that_boils_in_its_tank_moves_nothing_and_says_so() -> None:
    stated = put(npsh_points(freed(closed_form(1), 8.0)), "cargo.vapour_pressure_kpa_abs", 200.0)
    answer = answered(stated)
    assert answer.outcome == "no operating point"
    assert answer.reason == (
        "No flow is left within the limits of the pumps: the suction head available is too low; see the limits below."
    )
    assert (
        "The cargo boils in the tank of pump P1: its vapour pressure is 200.0 kPa and the gas over it 101.3 kPa, both"
        " absolute. Check the two, or cool the cargo." in answer.cautions
    )


def test_at_stated_speeds_a_boiling_cargo_is_an_exceeded_limit_and_a_caution() -> None:
    answer = answered(put(npsh_points(closed_form(1)), "cargo.vapour_pressure_kpa_abs", 200.0))
    assert row(answer, "npsh-P1").state == "exceeded"
    assert any("boils in the tank of pump P1" in text for text in answer.cautions)
    under_gas = answered(
        put(put(npsh_points(closed_form(1)), "cargo.vapour_pressure_kpa_abs", 200.0),
            "operation.pumps.0.tank_gas_pressure_bar_gauge", 1.0)
    )  # fmt: skip
    assert not any("boils" in text for text in under_gas.cautions)


def test_levels_are_not_told_where_the_vapour_pressure_or_the_npsh_is_not_known() -> None:
    for stated in (document(alike(1)), npsh_everywhere(document(alike(1)))):
        stated["cargo"].pop("vapour_pressure_kpa_abs", None)
        reading = first(answered(stated))
        assert reading.slow_below_level_m is None
        assert reading.stop_below_level_m is None


def test_the_flow_that_suction_allows_is_told_where_it_is_less_than_what_was_tested() -> None:
    hot = npsh_everywhere(document(alike(1)), 95.0)
    stated = at_level(put(hot, "ship.pumps.0.suction_line", []), 4.0)
    reading = first(answered(stated))
    available, allowed = reading.npsh_available_m, reading.suction_allows_m3_per_h
    assert available is not None
    assert allowed is not None
    assert allowed < reading.flow_m3_per_h  # and the limit is exceeded
    assert row(answered(stated), "npsh-P1").state == "exceeded"
    ratio = (reading.speed_rpm or 0.0) / 1250.0  # NPSH goes with the square of the speed, its flow with the speed
    points = [
        (point["flow_m3_per_h"], point["npsh_required_m"])
        for point in stated["ship"]["pumps"][0]["curves"][0]["points"]
    ]
    flows, required = zip(*points, strict=True)
    assert available == pytest.approx(
        ratio**2 * np.interp(allowed / ratio, flows, required), rel=0.02
    )  # straight between


def test_where_suction_binds_it_allows_the_flow_that_is_found() -> None:
    answer = answered(at_level(npsh_everywhere(freed(document(alike(3)), 8.0), 100.0), 6.0))
    assert answer.binding == "npsh-P1"
    assert first(answer).suction_allows_m3_per_h == pytest.approx(first(answer).flow_m3_per_h, rel=1e-6)


def test_suction_that_allows_all_that_was_tested_or_is_not_known_is_not_told() -> None:
    assert first(answered(npsh_everywhere(document(alike(1)), 5.0))).suction_allows_m3_per_h is None
    assert first(answered(document(alike(1)))).suction_allows_m3_per_h is None
