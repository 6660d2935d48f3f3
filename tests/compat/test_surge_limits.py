"""Surge among the limits of the rate: what a closing time leaves, its rows, and searches that are paused."""

from __future__ import annotations

import pytest

from compat.calc.surge.study import margins_in
from compat.calc.surge.system import Event
from compat.case.answer import answer_case
from compat.case.case_file import check_case
from compat.case.questions import SURGE_LEFT_OUT
from compat.case.sampling import spread_of
from compat.surge import closing
from compat.surge.asking import stated_valves
from compat.surge.closing import rate_for, safe_closing, times_for
from compat.surge.found import Found, SearchPausedError
from compat.surge.limiting import SURGE_HELD, answer_within_surge, time_row, times_within, with_times
from compat.surge.steps import steps_within_surge
from shared.calc.units import HOUR_S
from tests.compat.surges import short_case, surge_case


def within(document=None, **agreed):
    return answer_within_surge(check_case(document or short_case(**agreed), "case"))


def row_of(answer, key):
    return next(row for row in answer.limits if row.key == key)


def test_a_quick_valve_sets_the_rate_and_is_named_with_its_owner():
    found = within(closing_time_s=6.0)
    row = row_of(found.answer, "surge-rate-shore-valve")
    assert found.answer.binding == row.key
    assert (row.state, row.owner, row.unit) == ("binding", "terminal", "m³/h")
    assert row.source == "pressure surge, method of characteristics"
    assert row.value == row.allowed == pytest.approx(found.answer.total_flow_m3_per_h)
    assert row.margin == pytest.approx(0.0, abs=1e-6)
    assert found.answer.total_flow_m3_per_h < found.free.total_flow_m3_per_h
    assert sum(one.key == row.key for one in found.answer.limits) == 1


def test_the_rate_that_is_left_is_the_highest_that_keeps_every_rating():
    found = within(closing_time_s=6.0)
    event, rate = Event("", ("shore-valve",), 6.0), found.answer.total_flow_m3_per_h / HOUR_S
    assert margins_in(found.study.at_flow(rate), event).rating_m >= 0.0
    assert margins_in(found.study.at_flow(1.01 * rate), event).rating_m < 0.0


def test_a_slow_valve_is_kept_with_its_margin_and_binds_nothing():
    found = within(closing_time_s=60.0)
    row = row_of(found.answer, "surge-rate-shore-valve")
    assert row.state == "kept"
    assert row.allowed > row.value == pytest.approx(found.answer.total_flow_m3_per_h)
    assert found.answer.total_flow_m3_per_h == found.free.total_flow_m3_per_h
    assert found.answer.binding == found.free.binding


def test_a_longer_time_never_leaves_less():
    rates = [within(closing_time_s=time).answer.total_flow_m3_per_h for time in (4.0, 6.0, 10.0, 20.0, 60.0)]
    assert rates == sorted(rates)


def test_shortest_times_stand_among_the_limits_to_the_second():
    found = within(closing_time_s=60.0)
    times = times_within(found)
    row = row_of(with_times(found, times), "surge-closing-shore-valve")
    needed = times[0].within_ratings_s
    assert (row.value, row.allowed, row.unit, row.state) == (needed, 60.0, "s", "kept")
    assert row.margin == 60.0 - needed
    event = Event("", ("shore-valve",), float(needed))
    assert margins_in(found.study.system, event).verdict != "exceeded"
    assert margins_in(found.study.system, Event("", ("shore-valve",), needed - 1.0)).verdict == "exceeded"


def test_the_kernel_of_batches_knows_nothing_of_surge():
    stated, bare = short_case(closing_time_s=4.0), short_case()
    del bare["ship"]["surge"], bare["berth"]["surge"]
    one, other = (answer_case(check_case(document, "case")) for document in (stated, bare))
    assert one == other
    assert not any(row.key.startswith("surge") for row in one.limits)


def test_without_facts_surge_is_one_limit_that_is_not_decided():
    bare = short_case()
    del bare["ship"]["surge"], bare["berth"]["surge"]
    answer = within(bare).answer
    assert [row.state for row in answer.limits if row.key.startswith("surge")] == ["not decided"]
    assert SURGE_LEFT_OUT in answer.cautions


def test_with_facts_the_caution_says_what_was_held():
    answer = within(closing_time_s=60.0).answer
    assert SURGE_HELD in answer.cautions
    assert SURGE_LEFT_OUT not in answer.cautions


def test_a_valve_without_a_time_asks_for_one():
    document = short_case()
    del document["berth"]["surge"]["shore_valve"]["closing_time_s"]
    row = row_of(within(document).answer, "surge-rate-shore-valve")
    assert row.state == "not decided"
    assert "Agree a closing time, or ask the terminal" in row.ask


def test_stated_speeds_are_kept_and_the_rate_is_exceeded():
    document = short_case(closing_time_s=4.0)
    document["operation"]["speed"] = "as stated"
    for state in document["operation"]["pumps"]:
        state["speed_rpm"] = 1200.0
    found = within(document)
    assert found.answer.total_flow_m3_per_h == found.free.total_flow_m3_per_h
    assert row_of(found.answer, "surge-rate-shore-valve").state == "exceeded"


def test_boiling_is_not_decided_and_asks_for_a_study():
    found = within(surge_case(closing_time_s=20.0))
    row = row_of(found.answer, "surge-rate-ship-valve")
    assert (row.state, row.margin) == ("not decided", None)
    assert "specialist surge study" in row.ask
    rate = next(rate for rate in found.rates if rate.valve.key == "ship-valve")
    assert rate.verdict == "boils"
    times = times_for(found.study, rate.valve, safe=False)
    assert time_row(rate, times).state == ("not decided" if times.verdict == "boils" else "kept")


def test_a_longer_closing_time_is_a_step_that_buys_something():
    found = within(closing_time_s=6.0)
    steps = {step.key: step for step in steps_within_surge(found)}
    assert steps["closing-time"].label == "10 s more for valves to shut"
    assert steps["closing-time"].rate_gained_m3_per_h > 1.0
    assert steps["pressure"].rate_gained_m3_per_h == pytest.approx(0.0, abs=1e-3)
    assert "closing-time" not in {step.key for step in steps_within_surge(within(closing_time_s=60.0))}


def test_a_paused_search_ends_with_what_it_finds_at_once():
    found = within(closing_time_s=6.0)
    valve = stated_valves(found.study.case)[0]
    at_once = safe_closing(found.free_study, valve)
    known, parts = {}, []
    for _ in range(100):
        asked = Found(known=known, until=float("-inf"))
        try:
            result = safe_closing(found.free_study, valve, asked)
            break
        except SearchPausedError:
            known = dict(asked.known)
            parts.append(asked.part)
    assert result == at_once
    assert len(parts) > 5
    assert parts == sorted(parts)
    assert 0.0 < parts[0] < parts[-1] < 1.0


def test_relief_valve_leaves_a_higher_rate():
    document = short_case(closing_time_s=6.0)
    line = document["berth"]["shore_line"][-1]
    document["berth"]["surge"]["relief_valve"] = {
        "run": line["name"],
        "distance_m": line["length_m"] - 30.0,
        "opens_at_bar_gauge": 12.0,
        "full_at_bar_gauge": 13.0,
        "full_flow_m3_per_h": 2500.0,
    }
    plain, eased = within(closing_time_s=6.0), within(document)
    assert eased.answer.total_flow_m3_per_h > 1.05 * plain.answer.total_flow_m3_per_h


@pytest.mark.parametrize("valve", ["arm_valve", "shore_valve"])
def test_a_booster_keeps_its_steady_state_whatever_valve_shuts_before_it(valve):
    document = short_case()
    jetty, farm = document["berth"]["shore_line"]
    document["berth"]["booster"] = {
        "name": "Booster",
        "feeds_segment": jetty["name"] if valve == "arm_valve" else farm["name"],
        "points": [{"flow_m3_per_h": 0.0, "head_m": 30.0}, {"flow_m3_per_h": 4000.0, "head_m": 18.0}],
    }
    facts = document["berth"]["surge"].pop("shore_valve")
    document["berth"]["surge"][valve] = {**facts, "closing_time_s": 60.0}
    document["berth"]["surge"]["shore_valve_behind"] = jetty["name"] if valve == "shore_valve" else ""
    study = within(document).study
    assert study.system is not None, study.problem
    assert study.system.booster is not None
    assert study.system.valves[0].behind == study.system.booster[0]
    met = study.studied(stated_valves(study.case)[0].key).envelope
    first = met.watched_head_m[:50]
    assert abs(first - first[0]).max() < 0.05


def test_rate_for_is_the_same_with_what_was_found_before():
    found = within(closing_time_s=6.0)
    valve, asked = stated_valves(found.study.case)[0], Found()
    first = rate_for(found.free_study, valve, asked)
    count = len(asked.known)
    assert rate_for(found.free_study, valve, asked) == first
    assert len(asked.known) == count


def test_samples_keep_to_the_rate_that_surge_leaves():
    document = short_case(closing_time_s=6.0)
    document["tolerances"] = [{"key": "cargo.kinematic_viscosity_mm2_per_s", "plus_minus_percent": 20.0}]
    found = within(document)
    spread = spread_of(found.case, 64)
    assert spread.binding == {"surge-rate-shore-valve": 1.0}
    assert spread.rate_p50_m3_per_h == pytest.approx(found.answer.total_flow_m3_per_h)


def test_guidance_on_static_accumulators_comes_as_rates_of_this_line():
    # 590 mm: π/4 × 0.59² × 3600 = 984.2 m³/h for each m/s; v·d = 0.5 m²/s is 0.847 m/s, 834 m³/h
    notes = within().study.notes
    told = next(text for text in notes if "static accumulator" in text)
    assert "1 m/s is 984 m³/h, 7 m/s is 6,890 m³/h, and velocity times bore of 0.5 m²/s is 834 m³/h" in told
    assert "Local rules first" in told


def test_what_was_found_of_a_line_serves_another_case_at_the_same_speeds(monkeypatch):
    asked = []
    monkeypatch.setattr(closing, "margins_in", lambda *given, **more: asked.append(1) or margins_in(*given, **more))
    first = within(closing_time_s=7.0)
    assert asked
    asked.clear()
    document = short_case(closing_time_s=7.0, start_rate_m3_per_h=100.0)
    assert within(document).answer.total_flow_m3_per_h == first.answer.total_flow_m3_per_h
    assert not asked
    document["berth"]["shore_line"][0]["length_m"] += 1.0
    within(document)
    assert asked
