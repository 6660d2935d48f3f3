"""What is stated about pumps, as it comes through a whole case: wear, thick liquids, power, steps, fixed speeds.

Where pumps H = 150 - 1.2e-6 Q² (at 1,000 rpm) meet 40 + 2.0e-6 Q², Q in m³/h, answers are checked in closed form.
"""

from __future__ import annotations

import copy
import json
import math
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from compat.case.answer import Answer
from tests.compat.case.test_answer import answered, exceeded, flow_at_pressure, freed, put, row
from tests.compat.case.test_case_file import assess
from tests.compat.systems import (
    DROP,
    POINTS_A,
    RESISTANCE,
    SHUT_OFF_M,
    STATIC_M,
    UNLIKE,
    Document,
    alike,
    closed_form,
    document,
    points,
    pump,
)

G = 9.80665
WEIGHT = 850.0 * G
CORRECTION = "operation.viscosity_correction"


def rate(answer: Answer) -> float:
    """Return the rate of an answer that has one."""
    assert answer.total_flow_m3_per_h is not None
    return answer.total_flow_m3_per_h


def by_points(count: int = 1, efficiency: float | None = None, **changes: Any) -> Document:
    """Pumps of the closed form as points every 300 m³/h, of one efficiency throughout."""
    more = {} if efficiency is None else {"efficiency_percent": efficiency}
    rows = [{"flow_m3_per_h": q, "head_m": SHUT_OFF_M - DROP * q**2, **more} for q in range(0, 8001, 300)]
    stated = closed_form(count)
    for one in stated["ship"]["pumps"]:
        one["curves"] = [{"speed_rpm": 1000.0, "points": rows}]
        one.update(changes)
    return stated


def each(stated: Document, key: str, value: Any) -> Document:
    """Return a document with one key set on every pump."""
    changed = copy.deepcopy(stated)
    for one in changed["ship"]["pumps"]:
        one[key] = value
    return changed


# Wear and thick liquids


def test_a_worn_pump_is_answered_as_one_whose_curve_was_tested_that_low() -> None:
    worn = answered(each(document(alike(2)), "head_kept_percent", 91.0))
    low = points([(q, 0.91 * h) for q, h in POINTS_A])
    as_tested = answered(document([pump("P1", low), pump("P2", low)]))
    new = answered(document(alike(2)))
    assert rate(worn) == pytest.approx(rate(as_tested), rel=1e-12)
    assert rate(worn) < rate(new)


def hi_9_6_7(viscosity: float, flow: float, head: float, speed: float) -> tuple[float, float]:
    """Return B and C_Q by the standard's equations, written out apart from the project."""
    b = 16.5 * math.sqrt(viscosity) * head**0.0625 / (flow**0.375 * speed**0.25)
    return b, 2.71 ** (-0.165 * math.log10(b) ** 3.15)


def test_a_thick_liquid_is_answered_as_with_the_curve_that_the_standard_makes_of_it() -> None:
    stated = each(document(alike(2), density=930.0, viscosity=700.0), "rated_flow_m3_per_h", 2000.0)
    corrected = answered(put(stated, CORRECTION, "ANSI/HI 9.6.7"))
    b, flow_factor = hi_9_6_7(700.0, 2000.0, 134.0, 1250.0)
    assert 5.0 < b < 10.0
    thick = points([(q * flow_factor, h * (1.0 - (1.0 - flow_factor) * (q / 2000.0) ** 0.75)) for q, h in POINTS_A])
    by_hand = put(document([pump("P1", thick), pump("P2", thick)], density=930.0, viscosity=700.0), "title", "by hand")
    assert rate(corrected) == pytest.approx(rate(answered(by_hand)), rel=1e-9)
    assert rate(corrected) < rate(answered(stated))


def test_a_thick_liquid_without_the_correction_is_cautioned() -> None:
    answer = answered(each(document(alike(1), density=930.0, viscosity=700.0), "rated_flow_m3_per_h", 2000.0))
    b, _ = hi_9_6_7(700.0, 2000.0, 134.0, 1250.0)
    (caution,) = [text for text in answer.cautions if "thick enough" in text]
    assert f"B = {b:.1f}" in caution
    assert "choose the viscosity correction unless the curve was tested with such a liquid" in caution


@given(st.floats(1.0, 4000.0), st.floats(50.0, 100.0))
@settings(max_examples=15)
def test_neither_correction_nor_wear_ever_raises_the_rate(viscosity: float, kept: float) -> None:
    stated = each(document(alike(2), density=930.0, viscosity=viscosity), "rated_flow_m3_per_h", 2000.0)
    plain = answered(stated)
    for changed in (put(stated, CORRECTION, "ANSI/HI 9.6.7"), each(stated, "head_kept_percent", kept)):
        assert (answered(changed).total_flow_m3_per_h or 0.0) <= rate(plain) * (1.0 + 1e-9)


def test_from_b_of_40_the_command_refuses_with_status_2_and_a_sentence(tmp_path: Path) -> None:
    small = points([(0, 34), (5, 33), (10, 30), (14, 25)], 1450.0)
    stated = document(
        [pump("P1", small, rated_flow_m3_per_h=10.0)], speeds=1450.0, density=950.0, viscosity=900.0, tank=9.0
    )
    done = assess(tmp_path, json.dumps(put(stated, CORRECTION, "ANSI/HI 9.6.7")))
    assert done.returncode == 2
    assert done.stdout == ""
    b, _ = hi_9_6_7(900.0, 10.0, 30.0, 1450.0)
    assert done.stderr.strip() == (
        f"night.json: Viscosity parameter B of the pump is {b:.1f}; allowed: below 40 (ANSI/HI 9.6.7)."
        " Ask for a pump curve tested with a liquid of this viscosity, or warm the cargo."
    )
    assert assess(tmp_path, json.dumps(stated)).returncode == 0


# Power


def test_the_limit_of_the_driver_binds_where_shaft_power_reaches_it() -> None:
    """P = rho g Q H / eta at 75 % throughout; two pumps share the flow, and H is what the system asks."""
    limit_kw = 700.0
    answer = answered(each(freed(by_points(2, 75.0), 12.0), "driver_power_limit_kw", limit_kw))
    assert answer.binding == "power-P1"
    assert answer.pumps[0].shaft_power_kw == pytest.approx(limit_kw, rel=1e-6)

    def power_kw(total: float) -> float:
        return WEIGHT * total / 2.0 / 3600.0 * (STATIC_M + RESISTANCE * total**2) / 0.75 / 1e3

    expected = brentq(lambda total: power_kw(total) - limit_kw, 100.0, 8000.0, xtol=1e-9)
    assert rate(answer) == pytest.approx(expected, rel=1e-6)
    assert not exceeded(answer)


def test_without_efficiency_the_driver_is_not_decided_and_slows_nothing() -> None:
    free = answered(freed(by_points(2), 9.0))
    answer = answered(each(freed(by_points(2), 9.0), "driver_power_limit_kw", 50.0))
    limit = row(answer, "power-P1")
    assert limit.state == "not decided"
    assert limit.ask == "Ask the ship for the efficiency of No. P1."
    assert rate(answer) == rate(free)


# Continuous flows


def test_the_greatest_continuous_flow_binds_like_a_rated_one() -> None:
    answer = answered(each(freed(closed_form(2), 9.0), "greatest_continuous_flow_m3_per_h", 1650.0))
    assert answer.binding == "greatest-flow-P1"
    assert rate(answer) == pytest.approx(3300.0, rel=1e-6)


def test_a_flow_below_the_least_continuous_one_is_told_and_slows_nothing() -> None:
    """No slowing down cures it: fewer pumps do."""
    plain = answered(freed(closed_form(2), 9.0))
    answer = answered(each(freed(closed_form(2), 9.0), "least_continuous_flow_m3_per_h", 4000.0))
    assert rate(answer) == rate(plain)
    least = row(answer, "least-flow-P1")
    assert least.state == "exceeded"
    assert (least.value, least.allowed) == (4000.0, answer.pumps[0].flow_m3_per_h)
    assert answer.binding == plain.binding
    kept = answered(each(freed(closed_form(2), 9.0), "least_continuous_flow_m3_per_h", 500.0))
    assert row(kept, "least-flow-P1").state == "kept"


# Steps and fixed speeds


@pytest.mark.parametrize("step", [1.0, 30.0, 45.0, 300.0])
def test_a_drive_with_steps_runs_at_the_step_below_and_the_limit_is_still_named(step: float) -> None:
    free = answered(freed(closed_form(2), 9.0))
    answer = answered(each(freed(closed_form(2), 9.0), "speed_step_rpm", step))
    assert free.common_speed_rpm is not None
    speed = 400.0 + step * math.floor((free.common_speed_rpm - 400.0) / step)  # steps count from the least speed
    assert answer.common_speed_rpm == speed
    expected = math.sqrt((SHUT_OFF_M * (speed / 1000.0) ** 2 - STATIC_M) / (DROP / 4.0 + RESISTANCE))
    assert rate(answer) == pytest.approx(expected, rel=1e-9)
    assert rate(answer) < rate(free)
    assert answer.binding == free.binding == "agreed-manifold-pressure"
    held = row(answer, "agreed-manifold-pressure")
    assert held.state == "binding"
    assert held.margin > 0.0
    assert not exceeded(answer)


@given(st.floats(1.0, 400.0), st.floats(3.0, 14.0))
@settings(max_examples=20)
def test_steps_never_raise_the_rate_and_leave_less_than_a_step_unused(step: float, pressure: float) -> None:
    free = answered(freed(closed_form(2), pressure))
    answer = answered(each(freed(closed_form(2), pressure), "speed_step_rpm", step))
    assert (answer.total_flow_m3_per_h or 0.0) <= rate(free) * (1.0 + 1e-9)
    speed = answer.pumps[0].speed_rpm
    assert speed is not None
    assert free.common_speed_rpm is not None
    assert -1e-6 <= free.common_speed_rpm - speed < step
    steps = (speed - 400.0) / step
    assert steps == pytest.approx(round(steps), abs=1e-6)


def test_a_speed_that_is_a_step_already_is_kept() -> None:
    """2,000 m³/h of each pump at 900 rpm exactly: 150 · 0.81 - 0.3e-6 Q² = 40 + 2.0e-6 Q²."""
    flow = math.sqrt((SHUT_OFF_M * 0.81 - STATIC_M) / (DROP / 4.0 + RESISTANCE))
    stated = put(freed(closed_form(2), 20.0), "agreed.highest_rate_m3_per_h", flow)
    answer = answered(each(stated, "speed_step_rpm", 50.0))
    assert answer.common_speed_rpm == pytest.approx(900.0, rel=1e-12)
    assert rate(answer) == pytest.approx(flow, rel=1e-9)


def test_free_drives_slow_down_with_a_stepped_one_and_no_pump_passes_its_limit() -> None:
    """Held back alone, the stepped pump would leave its flow to the others, past their rated flow."""
    stated = each(freed(document(UNLIKE), 9.0), "rated_flow_m3_per_h", 1200.0)
    free = answered(stated)
    answer = answered(put(stated, "ship.pumps.1.speed_step_rpm", 250.0))
    assert free.binding == answer.binding == "rated-flow-P1"
    assert answer.common_speed_rpm == 800.0
    assert not exceeded(answer)
    assert rate(answer) < rate(free)


def test_a_pump_that_a_slower_stepped_one_would_push_past_its_limit_is_slowed_further_by_its_own_steps() -> None:
    """One 1 rpm step higher, and it would be past its rated flow."""
    stated = each(freed(document(UNLIKE), 9.0), "rated_flow_m3_per_h", 1200.0)
    stated = put(put(stated, "ship.pumps.1.speed_step_rpm", 250.0), "ship.pumps.0.speed_step_rpm", 1.0)
    answer = answered(stated)
    speeds = {reading.pump: reading.speed_rpm for reading in answer.pumps}
    assert speeds["P2"] == 800.0
    assert not exceeded(answer)
    assert answer.binding == "rated-flow-P1"
    assert answer.pumps[0].flow_m3_per_h == pytest.approx(1200.0, rel=5e-3)
    faster = put(stated, "operation.speed", "as stated")
    for state in faster["operation"]["pumps"]:
        state["speed_rpm"] = speeds[state["pump"]] + (1.0 if state["pump"] == "P1" else 0.0)
    assert "rated-flow-P1" in exceeded(answered(faster))


@st.composite
def stepped(draw: Any) -> Document:
    """Three unlike pumps with steps, rated flows and least speeds of their own."""
    stated = freed(document(UNLIKE), draw(st.floats(3.0, 12.0)))
    for one in stated["ship"]["pumps"]:
        one["rated_flow_m3_per_h"] = draw(st.floats(400.0, 1800.0))
        one["least_speed_rpm"] = draw(st.floats(300.0, 700.0))
        one["speed_step_rpm"] = draw(st.none() | st.sampled_from([1.0, 5.0, 50.0, 250.0, 400.0]))
    return stated


@given(stepped())
@settings(max_examples=30)
def test_speeds_held_to_steps_never_pass_a_limit_nor_raise_the_rate(stated: Document) -> None:
    answer = answered(stated)
    assert not exceeded(answer)
    assert answer.converged
    free = answered(each(stated, "speed_step_rpm", None))
    if free.outcome == "found":  # throttled at unlike steps, pumps may share better than at one speed
        assert rate(answer) <= rate(free) * (1.0 + 1e-9)
    for reading, facts in zip(answer.pumps, stated["ship"]["pumps"], strict=True):
        assert reading.speed_rpm is not None
        if facts["speed_step_rpm"] is not None:  # steps count from each drive's own least speed
            steps = (reading.speed_rpm - facts["least_speed_rpm"]) / facts["speed_step_rpm"]
            assert steps == pytest.approx(round(steps), abs=1e-6)


def test_where_the_least_step_still_passes_a_limit_the_rest_is_throttled() -> None:
    """P2 turns at 1,000 rpm only; P1, in steps of 500 rpm, stands at its least: 150 - k Q² is throttled."""
    stated = each(each(freed(closed_form(2), 8.0), "least_speed_rpm", 500.0), "greatest_speed_rpm", 1000.0)
    stated = put(each(stated, "speed_step_rpm", 500.0), "ship.pumps.1.least_speed_rpm", 1000.0)
    answer = answered(stated)
    flow = flow_at_pressure(8.0)
    assert answer.outcome == "throttling needed"
    assert answer.pumps[0].flow_m3_per_h == 0.0
    assert rate(answer) == pytest.approx(flow, rel=1e-9)
    assert answer.throttled_head_m == pytest.approx(SHUT_OFF_M - STATIC_M - (DROP + RESISTANCE) * flow**2, rel=1e-6)


@pytest.mark.parametrize("pressure", [4.0, 6.0, 7.0])
def test_pumps_of_fixed_speed_are_throttled_by_what_they_have_too_much(pressure: float) -> None:
    """At 1,000 rpm a pump makes 150 - 1.2e-6 q², the shore takes 40 + 2.0e-6 Q²; the rest is throttled away."""
    stated = each(each(freed(closed_form(2), pressure), "least_speed_rpm", 1000.0), "greatest_speed_rpm", 1000.0)
    answer = answered(each(stated, "drive", "electric motor, fixed speed"))
    flow = flow_at_pressure(pressure)
    expected = SHUT_OFF_M - DROP * (flow / 2.0) ** 2 - STATIC_M - RESISTANCE * flow**2
    assert expected > 0.0
    assert answer.outcome == "throttling needed"
    assert answer.throttled_head_m == pytest.approx(expected, rel=1e-6)
    assert f"{expected:.1f} m of head has to be taken away" in answer.reason
    assert rate(answer) == pytest.approx(flow, rel=1e-9)
    assert answer.binding == "agreed-manifold-pressure"
    assert row(answer, "speed-P1").state == "kept"


def test_pumps_of_fixed_speed_that_no_limit_holds_are_bound_by_their_speed() -> None:
    stated = each(each(freed(closed_form(2), 20.0), "least_speed_rpm", 1000.0), "greatest_speed_rpm", 1000.0)
    answer = answered(stated)
    assert answer.outcome == "found"
    assert answer.binding == "speed-P1"
    assert rate(answer) == pytest.approx(math.sqrt((SHUT_OFF_M - STATIC_M) / (DROP / 4.0 + RESISTANCE)), rel=1e-9)


def test_one_pump_of_fixed_speed_among_others_is_not_taken_for_what_binds() -> None:
    stated = freed(document([*alike(2), pump("P3", points(POINTS_A), least_speed_rpm=1150.0)]), 8.0)
    stated = put(stated, "ship.pumps.2.greatest_speed_rpm", 1150.0)
    answer = answered(stated)
    assert answer.pumps[2].speed_rpm == 1150.0
    assert answer.binding == "agreed-manifold-pressure"


# Pumps that displace

SCREW = points([(180, 120), (190, 60), (200, 0)], 100.0)  # a straight line: 6 m a m³/h of slip


def stripping(**changes: Any) -> Document:
    """A stripping pump of 200 m³/h at 100 rpm without pressure."""
    stated = {"kind": "positive displacement", "least_speed_rpm": 20.0, "greatest_speed_rpm": 120.0}
    return pump("S1", SCREW, **stated | changes)


def test_a_displacing_pump_makes_the_head_that_is_asked_at_a_flow_that_goes_with_its_speed() -> None:
    """On the stated line at every speed: head = 6 m · (200 m³/h - flow · 100 rpm / speed)."""
    for speed in (100.0, 50.0, 25.0):
        answer = answered(document([stripping()], speeds=speed))
        (reading,) = answer.pumps
        assert reading.head_m == pytest.approx(6.0 * (200.0 - reading.flow_m3_per_h * 100.0 / speed), rel=1e-8)
        assert rate(answer) == pytest.approx(198.0 * speed / 100.0, rel=0.01)


def test_a_displacing_pump_is_not_corrected_for_a_thick_liquid() -> None:
    stated = document([stripping(rated_flow_m3_per_h=150.0)], speeds=100.0, density=960.0, viscosity=800.0)
    plain, corrected = answered(stated), answered(put(stated, CORRECTION, "ANSI/HI 9.6.7"))
    assert rate(corrected) == rate(plain)
    assert not any("thick enough" in text for text in plain.cautions)


def test_a_stripping_pump_beside_a_cargo_pump_adds_about_its_volume() -> None:
    alone = answered(document(alike(1)))
    both = answered(document([*alike(1), stripping()], speeds=[1200.0, 100.0]))
    reading = both.pumps[1]
    assert reading.head_m == pytest.approx(6.0 * (200.0 - reading.flow_m3_per_h), rel=1e-8)
    assert rate(alone) < rate(both) < rate(alone) + reading.flow_m3_per_h


# Limits of somebody's own on speed


def test_a_speed_limit_of_somebodys_own_binds() -> None:
    stated = put(freed(closed_form(2), 20.0), "own_limits", [{"name": "Bearing", "owner": "ship", "speed_rpm": 820.0}])
    answer = answered(stated)
    assert answer.binding == "own-1"
    assert answer.common_speed_rpm == 820.0
    expected = math.sqrt((SHUT_OFF_M * 0.82**2 - STATIC_M) / (DROP / 4.0 + RESISTANCE))
    assert rate(answer) == pytest.approx(expected, rel=1e-9)
