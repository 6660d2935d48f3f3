"""What is stated about a shore, as it comes through a whole case: observed pairs and boosters.

Where pumps H = 150 - 1.2e-6 Q² (at 1,000 rpm) meet 40 + 2.0e-6 Q², Q in m³/h, answers are checked in closed form;
the manifold of that case stands 10 m over the zero.
"""

from __future__ import annotations

import copy
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compat.case.answer import Answer
from compat.case.case_file import CaseError, check_case
from compat.case.report import report
from tests.compat.case.test_answer import WEIGHT, answered, exceeded, flow_at_pressure, freed, put, row
from tests.compat.case.test_shores_against_epanet import HILL, NEAR, boosted, branch, into
from tests.compat.systems import DROP, RESISTANCE, SHUT_OFF_M, STATIC_M, Document, alike, closed_form, document, line

MANIFOLD_M = 10.0


def rate(answer: Answer) -> float:
    """Return the rate of an answer that has one."""
    assert answer.total_flow_m3_per_h is not None
    return answer.total_flow_m3_per_h


def refused(stated: Document) -> str:
    """Return the one sentence with which a document is refused."""
    with pytest.raises(CaseError) as found:
        check_case(stated, "night.json")
    (sentence,) = found.value.problems
    return sentence


# Observed pairs


def pressure_bar(flow: float, density: float = 850.0) -> float:
    """Return the manifold pressure of the closed form at a flow in m³/h."""
    return (STATIC_M + RESISTANCE * flow**2 - MANIFOLD_M) * density * 9.80665 / 1e5


def observed(flows: list[float], count: int = 2, **changes: float) -> Document:
    """The closed form with its shore known only from pairs that it makes itself."""
    stated = closed_form(count)
    pairs = [{"rate_m3_per_h": q, "manifold_pressure_bar_gauge": pressure_bar(q)} for q in flows]
    facts = {
        "pairs": pairs,
        "manifold_elevation_m": MANIFOLD_M,
        "density_kg_per_m3": 850.0,
        "kinematic_viscosity_mm2_per_s": 8.0,
        **changes,
    }
    return put(stated, "berth.shore_end", {"observed": facts})


FLOWS = [1000.0, 2500.0, 4000.0, 5500.0, 7500.0]


@pytest.mark.parametrize("free", [True, False])
def test_pairs_of_a_known_shore_are_answered_like_that_shore(free: bool) -> None:
    """Regression for the fit; the rate itself is a square root."""
    stated = observed(FLOWS)
    answer = answered(freed(stated, 6.0) if free else stated)
    expected = flow_at_pressure(6.0) if free else math.sqrt((SHUT_OFF_M - STATIC_M) / (DROP / 4.0 + RESISTANCE))
    assert rate(answer) == pytest.approx(expected, rel=1e-6)
    assert answer.manifold_pressure_bar_gauge == pytest.approx(pressure_bar(expected), rel=1e-6)
    assert answer.shore_fit is not None
    assert answer.shore_fit.exponent == pytest.approx(2.0, abs=1e-6)
    assert answer.shore_fit.static_pressure_bar_gauge == pytest.approx(pressure_bar(0.0), abs=1e-6)
    assert max(map(abs, answer.shore_fit.residuals_bar)) < 1e-6


def test_what_lies_behind_an_observed_manifold_is_not_told() -> None:
    answer = answered(observed(FLOWS))
    assert [point.name for point in answer.profile] == ["Ship's manifold"]
    assert not any(limit.key == "slack-line" for limit in answer.limits)


def test_arms_of_an_observed_shore_are_not_counted_twice() -> None:
    stated = put(observed(FLOWS), "berth.arms.0.loss_coefficient", 500.0)
    assert rate(answered(put(stated, "berth.arms.0.length_m", 80.0))) == pytest.approx(
        rate(answered(observed(FLOWS))), rel=1e-12
    )


def test_heads_and_not_pressures_are_carried_to_another_density() -> None:
    """In closed form heads do not know the density, so the flow is the same, and pressures go with the density."""
    light = put(observed(FLOWS), "cargo.density_kg_per_m3", 700.0)
    answer = answered(light)
    assert rate(answer) == pytest.approx(rate(answered(observed(FLOWS))), rel=1e-9)
    assert answer.manifold_pressure_bar_gauge == pytest.approx(pressure_bar(rate(answer), 700.0), rel=1e-6)


def test_a_thicker_liquid_through_a_smooth_shore_loses_more_by_blasius_law() -> None:
    """Blasius (White, Fluid Mechanics, ch. 6): loss with Q^1.75 viscosity^0.25; 16 times as thick, twice the loss."""
    stated = observed(FLOWS)
    pairs = stated["berth"]["shore_end"]["observed"]["pairs"]
    for pair in pairs:
        head = STATIC_M + 30.0 * (pair["rate_m3_per_h"] / 5000.0) ** 1.75
        pair["manifold_pressure_bar_gauge"] = (head - MANIFOLD_M) * WEIGHT / 1e5
    thick = put(stated, "cargo.kinematic_viscosity_mm2_per_s", 128.0)
    answer = answered(freed(thick, 6.0))
    expected = 5000.0 * ((6.0 * 1e5 / WEIGHT + MANIFOLD_M - STATIC_M) / 60.0) ** (1.0 / 1.75)
    assert rate(answer) == pytest.approx(expected, rel=1e-5)
    fit = answer.shore_fit
    assert fit is not None
    assert (fit.viscosity_ratio, fit.loss_factor) == (16.0, pytest.approx(2.0, rel=1e-6))
    assert [(at, seen) for at, seen, _, _ in fit.rows] == [
        (pair["rate_m3_per_h"], pair["manifold_pressure_bar_gauge"]) for pair in pairs
    ]
    assert all(made == pytest.approx(seen, abs=1e-6) for _, seen, made, _ in fit.rows)
    text = report(answer)
    assert "The shore as it was observed" in text
    assert "is 16.00 times as viscous as the one observed: k is 2.000 times as much" in text
    assert f"+ k Q^1.75, trusted from 1,000 to {FLOWS[-1]:,.0f} m³/h" in text


def test_a_rate_outside_the_observed_ones_is_cautioned_and_one_inside_is_not() -> None:
    inside, outside = answered(observed(FLOWS)), answered(observed(FLOWS[:4]))
    assert not any("outside the observed rates" in text for text in inside.cautions)
    (caution,) = [text for text in outside.cautions if "outside the observed rates" in text]
    assert caution == (
        f"{rate(outside):,.0f} m³/h lies outside the observed rates, 1,000 to 5,500 m³/h: the pressure there is not to"
        " be trusted. Ask the terminal for a reading nearer this rate."
    )
    assert any(text.startswith("The shore is known only from 5 observed pairs") for text in inside.cautions)


def test_with_fewer_than_four_pairs_the_square_is_taken_and_said() -> None:
    answer = answered(observed([2000.0, 7000.0]))
    assert rate(answer) == pytest.approx(rate(answered(observed(FLOWS))), rel=1e-6)
    assert "With fewer than 4 pairs the loss is taken to go with the square of the rate." in answer.cautions


@given(st.lists(st.floats(-0.05, 0.05), min_size=5, max_size=5))
@settings(max_examples=15)
def test_readings_that_miss_a_little_move_the_rate_a_little_and_are_shown(misses: list[float]) -> None:
    stated = observed(FLOWS)
    for pair, miss in zip(stated["berth"]["shore_end"]["observed"]["pairs"], misses, strict=True):
        pair["manifold_pressure_bar_gauge"] += miss
    answer = answered(freed(stated, 6.0))
    assert answer.shore_fit is not None
    assert max(map(abs, answer.shore_fit.residuals_bar)) <= 2.0 * max(map(abs, misses)) + 1e-9
    assert rate(answer) == pytest.approx(flow_at_pressure(6.0), rel=0.05)


def test_pairs_that_fall_or_stand_out_of_order_are_refused() -> None:
    stated = observed(FLOWS)
    pairs = stated["berth"]["shore_end"]["observed"]["pairs"]
    falling = copy.deepcopy(pairs)
    falling[2]["manifold_pressure_bar_gauge"] = 2.8
    assert refused(put(stated, "berth.shore_end.observed.pairs", falling)) == (
        f"night.json: berth.shore_end.observed: the pressure does not rise from {pressure_bar(2500.0):g} bar at"
        " 2500 m³/h to 2.8 bar at 4000 m³/h; correct the pairs or take the stray one out."
    )
    assert refused(put(stated, "berth.shore_end.observed.pairs", [pairs[1], pairs[0], *pairs[2:]])) == (
        "night.json: berth.shore_end.observed: the pair at 1000 m³/h stands after 2500 m³/h; put the rates in rising"
        " order, each once."
    )


BAD: list[tuple[str, Document, str]] = [
    (
        "a line beside observed pairs",
        put(observed(FLOWS), "berth.shore_line", line((500, 400, 5))),
        ("berth: shore_line is given beside observed pairs, which already hold the whole shore; keep one."),
    ),
    (
        "two kinds of end",
        put(observed(FLOWS), "berth.shore_end.back_pressure_bar_gauge", 2.0),
        (
            "berth.shore_end: state the receiving tank, several tanks, a fixed back-pressure, or observed pairs: one of"
            " these."
        ),
    ),
    (
        "a single one of several tanks",
        into(document(alike(1)), branch("A", 12.0, NEAR)),
        "berth.shore_end: tanks lists a single tank; state it as tank, and its pipe as the last shore segment.",
    ),
    (
        "a booster on a segment that is not there",
        boosted(document(alike(1)), "valley"),
        (
            "berth: booster.feeds_segment names 'valley', which is not the name of one shore segment; it has jetty,"
            " ridge, tank farm."
        ),
    ),
    (
        "a booster whose head rises",
        boosted(document(alike(1)), "ridge", [(0.0, 40.0), (900.0, 45.0)]),
        (
            "berth.booster: head does not fall from 40 m at 0 m³/h to 45 m at 900 m³/h; a curve that rises with flow"
            " has no single operating point: correct the points, or start after the hump."
        ),
    ),
    (
        "an own limit on two things",
        put(closed_form(1), "own_limits", [{"name": "x", "owner": "ship", "rate_m3_per_h": 1.0, "speed_rpm": 800.0}]),
        "own_limits[0]: state one of rate_m3_per_h, manifold_pressure_bar_gauge and speed_rpm.",
    ),
    (
        "an own limit below the least speed",
        put(freed(closed_form(1)), "own_limits", [{"name": "Bearing", "owner": "ship", "speed_rpm": 350.0}]),
        (
            "own_limits: speed_rpm of Bearing is 350 rpm, below least_speed_rpm 400 rpm of pump P1; raise it, or stop"
            " the pump."
        ),
    ),
]


@pytest.mark.parametrize(("stated", "sentence"), [entry[1:] for entry in BAD], ids=[entry[0] for entry in BAD])
def test_each_mistake_gives_one_sentence(stated: Document, sentence: str) -> None:
    assert refused(stated) == f"night.json: {sentence}"


# Boosters


def test_a_booster_of_next_to_no_head_changes_nothing() -> None:
    plain = answered(document(alike(2)))
    assert rate(answered(boosted(document(alike(2)), "ridge", [(0.0, 1e-7), (9000.0, 0.0)]))) == pytest.approx(
        rate(plain), rel=1e-8
    )


def booster_head(answer: Answer) -> float:
    """Return the head of a booster that falls straight from 60 m by 4 m each 1,000 m³/h."""
    return 60.0 - 0.004 * rate(answer)


STRAIGHT = [(0.0, 60.0), (3000.0, 48.0), (6000.0, 36.0)]


def test_the_rating_is_held_against_the_pressure_right_behind_the_booster() -> None:
    stated = put(boosted(document(alike(2)), "ridge", STRAIGHT), "berth.shore_line.1.rating_bar_gauge", 8.0)
    answer = answered(stated)
    rating = row(answer, "shore-rating-2")
    expected = answer.profile[2].pressure_bar_gauge + booster_head(answer) * WEIGHT / 1e5
    assert expected > max(point.pressure_bar_gauge for point in answer.profile[2:4])
    assert rating.value == pytest.approx(expected, rel=1e-9)
    assert rating.state == "exceeded"


def test_the_rating_behind_the_booster_binds_a_free_rate() -> None:
    stated = put(boosted(document(alike(2)), "ridge", STRAIGHT), "berth.shore_line.1.rating_bar_gauge", 6.5)
    answer = answered(freed(stated, 12.0))
    assert answer.binding == "shore-rating-2"
    assert answer.profile[2].pressure_bar_gauge + booster_head(answer) * WEIGHT / 1e5 == pytest.approx(6.5, rel=1e-7)
    assert not exceeded(answer)


def test_against_a_shut_valve_the_booster_adds_the_head_that_it_has_at_no_flow() -> None:
    plain = put(document(alike(2)), "berth.shore_line.2.rating_bar_gauge", 8.0)
    before, after = answered(plain), answered(boosted(plain, "ridge", STRAIGHT))
    added = row(after, "shut-valve").value - row(before, "shut-valve").value
    assert added == pytest.approx(60.0 * WEIGHT / 1e5, rel=1e-9)
    ahead = put(document(alike(2)), "berth.shore_line.0.rating_bar_gauge", 8.0)
    for stated in (ahead, boosted(ahead, "ridge", STRAIGHT)):
        assert row(answered(stated), "shut-valve").value == pytest.approx(row(answered(ahead), "shut-valve").value)


def test_a_booster_outside_its_points_is_cautioned() -> None:
    short = answered(boosted(document(alike(2)), "ridge", HILL[:2]))
    assert rate(short) > 1500.0
    assert any(text.startswith("Hill pump works outside its stated points at") for text in short.cautions)
    assert not any("Hill pump" in text for text in answered(boosted(document(alike(2)), "ridge")).cautions)
