"""Ratings, slack lines and limits of somebody's own, as they come through a whole case.

Where pumps H = 150 - 1.2e-6 Q² (at 1,000 rpm) meet 40 + 2.0e-6 Q², Q in m³/h, answers are checked in closed form;
the manifold of that case stands 10 m over the zero.
"""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest

from tests.compat.case.test_answer import AREA_M2, WEIGHT, answered, flow_at_pressure, freed, put, row
from tests.compat.case.test_case_file import assess
from tests.compat.case.test_shores_in_cases import MANIFOLD_M, rate
from tests.compat.systems import DROP, RESISTANCE, SHUT_OFF_M, STATIC_M, Document, alike, closed_form, document, line

ATMOSPHERE_KPA = 101.325


# Ratings: shut valves, flanges


def test_pumps_on_against_a_shut_valve_are_held_against_the_lowest_end_of_each_part() -> None:
    """150 m at no flow; a segment from 5 m up to 40 m bears (150 - 5) m at its lower end."""
    stated = put(closed_form(2), "berth.arm_shore_end_elevation_m", 5.0)
    stated = put(
        stated, "berth.shore_line", [{**line((0, 1000, STATIC_M))[0], "loss_coefficient": 0.0, "name": "hill"}]
    )
    stated = put(stated, "berth.shore_line.0.rating_bar_gauge", 16.0)
    answer = answered(stated)
    shut = row(answer, "shut-valve")
    assert shut.label == "Pumps on against a shut valve: shore segment hill"
    assert shut.value == pytest.approx((SHUT_OFF_M - 5.0) * WEIGHT / 1e5, rel=1e-9)
    assert shut.state == "kept"


def test_the_part_with_the_least_to_spare_against_a_shut_valve_is_named_and_slows_nothing() -> None:
    stated = put(freed(closed_form(2), 6.0), "ship.manifold.rating_bar_gauge", 16.0)
    answer = answered(put(stated, "berth.arms.0.rating_bar_gauge", 6.2))
    shut = row(answer, "shut-valve")
    assert shut.label == "Pumps on against a shut valve: the arms"
    speed = answer.common_speed_rpm
    assert speed is not None
    assert shut.value == pytest.approx((SHUT_OFF_M * (speed / 1000.0) ** 2 - MANIFOLD_M) * WEIGHT / 1e5, rel=1e-6)
    assert shut.state == "exceeded"
    assert answer.binding == "agreed-manifold-pressure"
    assert rate(answer) == pytest.approx(flow_at_pressure(6.0), rel=1e-6)


# ASME B16.5-2009 table 2-1.1, group 1.1: 19.2 bar at 50 °C and 17.7 bar at 100 °C, straight between them.
@pytest.mark.parametrize(("temperature", "rating"), [(20.0, 19.6), (50.0, 19.2), (75.0, 18.45), (100.0, 17.7)])
def test_a_flange_class_rates_manifold_and_arms_by_the_temperature_of_the_liquid(
    temperature: float, rating: float
) -> None:
    stated = put(put(closed_form(2), "ship.manifold.flange", "class 150"), "cargo.temperature_c", temperature)
    answer = answered(put(stated, "berth.arms.0.flange", "class 150"))
    for key in ("ship-manifold-rating", "arm-rating-1"):
        found = row(answer, key)
        assert found.allowed == pytest.approx(rating, abs=1e-9)
        assert found.source.startswith(f"class 150 flange at {temperature:g} °C, ASME B16.5-2009, table 2-1.1")


def test_a_flange_class_rates_a_shore_segment_too() -> None:
    hill = {**line((0, 1000, STATIC_M))[0], "name": "hill", "flange": "class 150"}
    stated = put(put(closed_form(2), "berth.shore_line", [hill]), "cargo.temperature_c", 75.0)
    found = row(answered(stated), "shore-rating-1")
    assert found.allowed == pytest.approx(18.45, abs=1e-9)  # ASME B16.5-2009 table 2-1.1, group 1.1, between its rows
    assert found.source.startswith("class 150 flange at 75 °C")
    assert row(answered(put(stated, "berth.shore_line.0.rating_bar_gauge", 12.0)), "shore-rating-1").allowed == 12.0


def test_the_rating_of_a_flange_binds() -> None:
    """PN 10 at 100 °C: 9.2 bar (EN 1092-1 annex G, from memory)."""
    stated = put(put(freed(closed_form(2), 12.0), "berth.arms.0.flange", "PN 10"), "cargo.temperature_c", 100.0)
    answer = answered(stated)
    assert answer.binding == "arm-rating-1"
    assert answer.manifold_pressure_bar_gauge == pytest.approx(9.2, rel=1e-9)
    assert "from memory" in row(answer, "arm-rating-1").source


def test_a_stated_rating_wins_over_the_class_even_outside_its_table() -> None:
    stated = put(put(closed_form(2), "berth.arms.0.flange", "PN 16"), "berth.arms.0.rating_bar_gauge", 13.5)
    for temperature in (20.0, -20.0):
        found = row(answered(put(stated, "cargo.temperature_c", temperature)), "arm-rating-1")
        assert (found.allowed, found.source) == (13.5, "stated for the berth")


def test_a_class_without_a_temperature_is_not_decided() -> None:
    found = row(answered(put(closed_form(2), "berth.arms.0.flange", "class 150")), "arm-rating-1")
    assert (found.state, found.allowed) == ("not decided", None)
    assert found.ask.startswith("Ask the terminal for the working pressure of")


def test_a_class_outside_its_table_is_refused_by_the_command_with_status_2(tmp_path: Path) -> None:
    stated = put(put(closed_form(2), "berth.arms.0.flange", "PN 16"), "cargo.temperature_c", -20.0)
    done = assess(tmp_path, json.dumps(stated))
    assert done.returncode == 2
    assert done.stderr.strip() == (
        "night.json: Temperature of the PN 16 flange is -20 °C; allowed: -10 to 300 °C. State the rating given by the"
        " maker."
    )


# Slack line


def over_a_ridge(vapour_kpa: float | None, ridge_m: float = 32.0) -> Document:
    """A line over a ridge down to a low tank, at stated speeds."""
    stated = document(alike(2), shore=line((800, 500, 4), (1500, 550, ridge_m), (900, 600, 6)), tank=12.0)
    return stated if vapour_kpa is None else put(stated, "cargo.vapour_pressure_kpa_abs", vapour_kpa)


def test_a_line_runs_slack_where_its_pressure_falls_to_the_vapour_pressure() -> None:
    free = answered(over_a_ridge(None))
    lowest = min(free.profile, key=lambda point: point.pressure_bar_gauge)
    absolute = lowest.pressure_bar_gauge * 100.0 + ATMOSPHERE_KPA
    assert lowest.name == "run 2"
    assert 5.0 < absolute < ATMOSPHERE_KPA
    for vapour, state in ((absolute - 1.0, "kept"), (absolute + 1.0, "exceeded")):
        found = row(answered(over_a_ridge(vapour)), "slack-line")
        assert found.state == state
        assert found.value == pytest.approx(vapour)
        assert found.allowed == pytest.approx(absolute, rel=1e-9)
        assert found.label == "Vapour pressure against the lowest pressure ashore, at the end of run 2"


def test_a_slack_line_is_a_warning_and_changes_no_rate() -> None:
    assert rate(answered(over_a_ridge(90.0))) == rate(answered(over_a_ridge(None)))


def test_a_pressure_below_a_vacuum_is_cautioned_whatever_the_vapour_pressure() -> None:
    answer = answered(over_a_ridge(None, 48.0))
    assert (
        "The pressure at the end of run 2 would be below a vacuum: the line runs slack there, and the rate is not to be"
        " trusted." in answer.cautions
    )
    assert not any("below a vacuum" in text for text in answered(over_a_ridge(None)).cautions)


def test_without_the_vapour_pressure_a_slack_line_is_not_decided() -> None:
    found = row(answered(over_a_ridge(None)), "slack-line")
    assert (found.state, found.ask) == ("not decided", "Ask the ship for the vapour pressure of the cargo.")


# Limits of somebody's own

OWN = [
    ("rate_m3_per_h", 3100.0, 3100.0, "m³/h"),
    ("manifold_pressure_bar_gauge", 5.2, flow_at_pressure(5.2), "bar"),
    ("speed_rpm", 830.0, math.sqrt((SHUT_OFF_M * 0.83**2 - STATIC_M) / (DROP / 4.0 + RESISTANCE)), "rpm"),
]


@pytest.mark.parametrize(("key", "value", "flow", "unit"), OWN, ids=[entry[0] for entry in OWN])
def test_a_limit_of_somebodys_own_binds_and_names_its_owner(key: str, value: float, flow: float, unit: str) -> None:
    own = {"name": "Harbour master", "owner": "terminal", "source": "Notice 7", key: value}
    loose = {"name": "Loose", "owner": "ship", key: 10.0 * value}
    answer = answered(put(freed(closed_form(2), 9.0), "own_limits", [loose, own]))
    assert answer.binding == "own-2"
    assert rate(answer) == pytest.approx(flow, rel=1e-6)
    found = row(answer, "own-2")
    assert (found.label, found.owner, found.source, found.unit) == ("Harbour master", "terminal", "Notice 7", unit)
    assert found.allowed == value
    assert row(answer, "own-1").state == "kept"
    assert row(answer, "own-1").source == "stated"


def test_at_stated_speeds_a_limit_of_somebodys_own_is_exceeded() -> None:
    answer = answered(put(closed_form(2), "own_limits", [{"name": "Slow", "owner": "ship", "rate_m3_per_h": 1000.0}]))
    assert row(answer, "own-1").state == "exceeded"
    velocity = row(answer, "arm-velocity-1").value
    assert velocity == pytest.approx(rate(answer) / 3600.0 / AREA_M2, rel=1e-9)


# Ratings: the ship's own lines


def with_own_lines(rating_bar: float, agreed_bar: float = 12.0) -> Document:
    """Return the closed form, its speed free, with a rating of the ship's lines."""
    return put(freed(closed_form(2), agreed_bar), "ship.cargo_line_rating_bar_gauge", rating_bar)


def lowest_pump_m(stated: Document) -> float:
    """Return the height of the lowest pump over the berth's zero."""
    return float(stated["keel_elevation_m"] + min(pump["elevation_m"] for pump in stated["ship"]["pumps"]))


def test_the_rating_of_the_ships_lines_binds_where_the_pumps_meet() -> None:
    stated = with_own_lines(7.0)
    answer = answered(stated)
    assert answer.binding == "ship-line-rating"
    head = 7.0e5 / WEIGHT + lowest_pump_m(stated)
    assert rate(answer) == pytest.approx(math.sqrt((head - STATIC_M) / RESISTANCE), rel=1e-6)
    found = row(answer, "ship-line-rating")
    assert (found.label, found.owner) == ("Rating of the ship's lines, where the pumps meet", "ship")
    assert found.value == pytest.approx(7.0, rel=1e-9)
    assert (answer.pumps[0].discharge_pressure_bar_gauge or 0.0) == pytest.approx(7.0, rel=1e-6)


def test_ships_lines_that_bear_more_bind_nothing_and_stand_against_a_shut_valve() -> None:
    stated = with_own_lines(16.0, 6.0)
    answer = answered(stated)
    assert answer.binding == "agreed-manifold-pressure"
    assert rate(answer) == pytest.approx(flow_at_pressure(6.0), rel=1e-6)
    shut = row(answer, "shut-valve")
    assert shut.label == "Pumps on against a shut valve: the ship's lines"
    speed = answer.common_speed_rpm
    assert speed is not None
    standing = SHUT_OFF_M * (speed / 1000.0) ** 2 - lowest_pump_m(stated)
    assert shut.value == pytest.approx(standing * WEIGHT / 1e5, rel=1e-6)


def test_ships_lines_exceeded_at_rest_leave_no_operating_point() -> None:
    answer = answered(with_own_lines(2.0))
    assert answer.outcome == "no operating point"
    assert "A rating is exceeded even at rest" in answer.reason


def test_ships_lines_not_rated_are_no_limit() -> None:
    assert not any(one.key == "ship-line-rating" for one in answered(freed(closed_form(2))).limits)
