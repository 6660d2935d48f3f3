"""Ways of making a rate with the least shaft power: all of them make it, none of them breaks a limit."""

from __future__ import annotations

import copy

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compat.case.answer import Answer, answer_case
from compat.case.case_file import CaseFile, check_case
from compat.case.least_power import MOST_WAYS, Ways, ways_to_make
from tests.compat.case.test_answer import exceeded, freed, put
from tests.compat.case.test_pumps_in_cases import by_points
from tests.compat.systems import POINTS_A, POINTS_B, POINTS_C, Document, alike, closed_form, document, points, pump


def efficient(curve: Document, best: float) -> Document:
    """Give a curve efficiencies that are greatest at a flow in m³/h: 80 % there, less by the square of the distance."""
    rows = [
        {**point, "efficiency_percent": 80.0 - 60.0 * (point["flow_m3_per_h"] / best - 1.0) ** 2}
        for point in curve["points"]
    ]
    return {**curve, "points": rows}


ALIKE = [pump(f"P{i + 1}", efficient(points(POINTS_A), 1700.0)) for i in range(4)]
UNLIKE = [
    pump("P1", efficient(points(POINTS_A), 1700.0)),
    pump("P2", efficient(points(POINTS_B, 1180.0), 1300.0)),
    pump("P3", efficient(points(POINTS_C, 1450.0), 650.0)),
]


def solved(stated: Document) -> tuple[CaseFile, Answer, Ways]:
    """Return a case, its answer and the ways of making its rate."""
    case = check_case(stated, "case")
    answer = answer_case(case)
    return case, answer, ways_to_make(case, answer)


def power_kw(answer: Answer) -> float:
    """Return the shaft power of an answer's pumps together."""
    running = [pump.shaft_power_kw for pump in answer.pumps if pump.running]
    assert None not in running
    return sum(power or 0.0 for power in running)


CASES = {
    "alike": freed(document(ALIKE), 7.0),
    "unlike": freed(document(UNLIKE), 8.0),
    "unlike, one fraction": freed(document(UNLIKE), 8.0, "one common fraction"),
    "one idle": put(freed(document(ALIKE), 7.0), "operation.pumps.1.running", False),
    "steps": freed(document([{**one, "speed_step_rpm": 20.0} for one in ALIKE]), 7.0),
}


@pytest.mark.parametrize("name", CASES)
def test_the_answered_way_is_among_them_and_the_least_is_never_above_it(name: str) -> None:
    _, answer, found = solved(CASES[name])
    assert found.reason == ""
    powers = [way.shaft_power_kw for way in found.ways]
    assert powers == sorted(powers)
    own = power_kw(answer)
    assert min(abs(power - own) for power in powers) <= 1e-6 * own
    assert powers[0] <= own * (1.0 + 1e-9)


@pytest.mark.parametrize("name", CASES)
def test_each_way_run_at_its_speeds_makes_the_rate_and_breaks_no_limit(name: str) -> None:
    _, answer, found = solved(CASES[name])
    for way in found.ways:
        run = copy.deepcopy(CASES[name])
        run["operation"]["speed"] = "as stated"
        for state in run["operation"]["pumps"]:
            state["running"] = state["pump"] in way.pumps
            if state["running"]:
                state["speed_rpm"] = way.speeds_rpm[way.pumps.index(state["pump"])]
        again = answer_case(check_case(run, "way"))
        assert again.total_flow_m3_per_h == pytest.approx(answer.total_flow_m3_per_h, rel=1e-6)
        assert power_kw(again) == pytest.approx(way.shaft_power_kw, rel=1e-6)
        assert not exceeded(again)


def test_alike_pumps_are_counted_and_not_told_apart() -> None:
    _, _, found = solved(CASES["alike"])
    assert len({len(way.pumps) for way in found.ways}) == len(found.ways) <= 4


def test_unlike_pumps_are_tried_at_one_speed_and_at_one_fraction() -> None:
    """P1 was tested at 1,250 rpm and P2 at 1,180 rpm: the same fraction is another speed."""
    _, _, found = solved(CASES["unlike"])
    both = [way for way in found.ways if way.pumps == ("P1", "P2")]
    ratios = sorted(round(way.speeds_rpm[0] / way.speeds_rpm[1], 6) for way in both)
    assert ratios == [1.0, round(1250.0 / 1180.0, 6)]


def test_at_one_efficiency_throughout_every_way_takes_the_same_power() -> None:
    """Closed form: P = rho g Q H / eta, and the shore asks the same head of any number of pumps."""
    _, answer, found = solved(freed(by_points(4, 75.0), 6.0))
    assert len(found.ways) > 1
    flow, head = answer.total_flow_m3_per_h, answer.pumps[0].head_m
    assert flow is not None
    assert head is not None
    for way in found.ways:
        assert way.shaft_power_kw == pytest.approx(850.0 * 9.80665 * flow / 3600.0 * head / 0.75 / 1e3, rel=1e-6)


@given(st.floats(4.0, 11.0), st.lists(st.booleans(), min_size=3, max_size=3), st.booleans())
@settings(max_examples=12)
def test_the_least_is_never_above_what_was_answered(pressure: float, running: list[bool], fraction: bool) -> None:
    stated = freed(document(UNLIKE), pressure, "one common fraction" if fraction else "one common speed")
    for state, runs in zip(stated["operation"]["pumps"], running, strict=True):
        state["running"] = runs or not any(running)
    _, answer, found = solved(stated)
    if answer.outcome != "found" or any(pump.flow_m3_per_h == 0.0 for pump in answer.pumps if pump.running):
        return
    assert found.ways[0].shaft_power_kw <= power_kw(answer) * (1.0 + 1e-9)


REASONS: list[tuple[str, Document, str]] = [
    (
        "unknown efficiency",
        freed(document(alike(2)), 8.0),
        "The efficiency of the pumps is not known; ask the ship for it.",
    ),
    ("stated speeds", document(ALIKE), "The speeds are as stated, or there is no operating point."),
    ("no operating point", freed(closed_form(2), 2.0), "The speeds are as stated, or there is no operating point."),
    (
        "throttled",
        freed(document([{**one, "least_speed_rpm": 1200.0} for one in ALIKE]), 3.0),
        "No choice of pumps makes this rate without throttling.",
    ),
    (
        "too many ways",
        freed(document([pump(f"P{i}", efficient(points(POINTS_A), 1600.0 + i)) for i in range(9)]), 8.0),
        f"There are 1,022 ways to choose the pumps; at most {MOST_WAYS} are compared.",
    ),
]


@pytest.mark.parametrize(("stated", "reason"), [entry[1:] for entry in REASONS], ids=[entry[0] for entry in REASONS])
def test_where_nothing_can_be_compared_a_sentence_says_why(stated: Document, reason: str) -> None:
    _, _, found = solved(stated)
    assert found == Ways((), reason)


def test_ways_with_a_pump_of_unknown_efficiency_are_left_out() -> None:
    stated = freed(document([*ALIKE[:2], pump("P3", points(POINTS_B, 1180.0))]), 6.0)
    _, answer, found = solved(stated)
    assert answer.pumps[2].shaft_power_kw is None
    assert found.ways
    assert all("P3" not in way.pumps for way in found.ways)
