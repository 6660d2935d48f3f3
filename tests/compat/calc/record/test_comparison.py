"""Expected gauges, the range they may lie in, and how often a reading on plan raises an alarm."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from compat.calc.operating_point import point_at_speeds
from compat.calc.record.comparison import SURE, Accuracy, Rule, compare, flow_from_head
from compat.calc.record.gauges import Change, by_speed, changed_system, gauges_at, pumps_apart
from compat.case.answer import answer_case
from compat.case.case_arrays import arrays_of
from compat.case.case_file import check_case
from shared.calc.arrays import take
from shared.calc.units import BAR_PA, HOUR_S
from tests.builders import berth_facts, case_document, pump_facts, ship_facts
from tests.compat.calc.record.synthetic import ACCURACY, departed, read_with_noise, ten_hours


def stated_case(rpm: float = 1400.0, **changes: object) -> dict[str, object]:
    document = case_document(**changes)
    pumps = [{**state, "speed_rpm": rpm} for state in document["operation"]["pumps"]]
    return {**document, "operation": {"speed": "as stated", "pumps": pumps}}


def test_pumps_apart_read_what_the_answer_of_the_case_reads() -> None:
    case = check_case(stated_case(), "case")
    answer = answer_case(case)
    system = pumps_apart(arrays_of([case]).system, np.zeros(2))
    found = gauges_at(system, np.full((1, 2), 1400.0))
    assert answer.total_flow_m3_per_h == pytest.approx(float(found.flow_m3_per_s[0]) * HOUR_S, rel=1e-9)
    assert answer.manifold_pressure_bar_gauge == pytest.approx(float(found.manifold_pa_gauge[0]) / BAR_PA, rel=1e-9)
    for place, pump in enumerate(answer.pumps):
        discharge, suction = found.discharge_pa_gauge[0, place], found.suction_pa_gauge[0, place]
        assert pump.discharge_pressure_bar_gauge == pytest.approx(float(discharge) / BAR_PA, rel=1e-9)
        assert pump.suction_pressure_bar_gauge == pytest.approx(float(suction) / BAR_PA, rel=1e-9)


def test_wear_and_resistance_do_what_the_facts_do() -> None:
    worn = ship_facts(pumps=[pump_facts(key, head_kept_percent=93.0) for key in ("P1", "P2")])
    found = berth_facts(found={"resistance_percent": 125.0, "static_head_m": 2.5})
    stated = arrays_of([check_case(stated_case(ship=worn, berth=found), "case")]).system
    by_facts = gauges_at(pumps_apart(stated, np.zeros(2)), np.full((1, 2), 1400.0)).channels()
    system = pumps_apart(arrays_of([check_case(stated_case(), "case")]).system, np.zeros(2))
    changed = changed_system(system, departed(1, (0.93, 0.93), 1.25, 2.5))
    assert gauges_at(changed, np.full((1, 2), 1400.0)).channels() == pytest.approx(by_facts, rel=1e-9)


def test_nothing_changed_changes_nothing_and_leaves_its_input_alone() -> None:
    system, speed = ten_hours()
    before = gauges_at(system, speed).channels()
    after = gauges_at(changed_system(system, Change.none(10, 2)), speed).channels()
    assert after == pytest.approx(before, rel=1e-12)
    assert gauges_at(system, speed).channels() == pytest.approx(before, rel=0, abs=0)


def test_many_rows_are_each_as_alone() -> None:
    system, speed = ten_hours()
    together = gauges_at(system, speed).channels()
    for row in range(10):
        alone = gauges_at(take(system, np.array([row])), speed[[row]]).channels()
        assert together[row] == pytest.approx(alone[0], rel=1e-9)


def test_a_pump_that_stands_still_reads_nothing_and_gives_nothing() -> None:
    system, _ = ten_hours(1)
    one = gauges_at(system, np.array([[1400.0, 0.0]]))
    both = gauges_at(system, np.array([[1400.0, 1400.0]]))
    assert np.isnan(one.discharge_pa_gauge[0, 1])
    assert np.isnan(one.suction_pa_gauge[0, 1])
    assert 0.5 * both.flow_m3_per_s[0] < one.flow_m3_per_s[0] < both.flow_m3_per_s[0]


def test_slopes_with_speed_are_those_of_the_model() -> None:
    system, speed = ten_hours(1)
    slope = by_speed(system, speed)[0]
    faster = gauges_at(system, speed + np.array([[5.0, 0.0]])).channels()[0]
    slower = gauges_at(system, speed - np.array([[5.0, 0.0]])).channels()[0]
    assert slope[:, 0] == pytest.approx((faster - slower) / 10.0, rel=2e-3)


def test_readings_exactly_as_expected_stand_in_the_middle_of_their_range() -> None:
    system, speed = ten_hours()
    found = compare(system, speed, gauges_at(system, speed), ACCURACY, Rule(0.05, 0.01))
    assert not found.drifted.any()
    assert (found.low < found.expected).all()
    assert found.high - found.expected == pytest.approx(found.expected - found.low)


@pytest.mark.parametrize("rate", [0.01, 0.05])
def test_with_readings_on_plan_alarms_in_a_thousand_runs_are_no_more_than_stated(rate: float) -> None:
    system, speed = ten_hours(1000)
    noisy = read_with_noise(gauges_at(system, speed), speed, np.random.default_rng(20310414))
    found = compare(system, noisy.speed_rpm, noisy.observed, ACCURACY, Rule(0.0, rate))
    alarms = found.drifted.any(-1).mean()
    scatter = 3.0 * np.sqrt(rate * (1.0 - rate) / 1000)  # three standard deviations of a count
    assert alarms <= rate + scatter
    assert alarms >= 0.3 * rate  # the rule is not deaf: it uses up most of what is allowed


def test_a_drift_beyond_the_band_is_seen_and_one_within_it_is_not() -> None:
    system, speed = ten_hours(1)
    sure = Accuracy(pressure_pa=1.0, flow_share=1e-6, speed_rpm=1e-3)
    expected = gauges_at(system, speed)
    for share, drifts in ((1.04, False), (1.06, True)):
        read = replace(expected, manifold_pa_gauge=expected.manifold_pa_gauge * share)
        found = compare(system, speed, read, sure, Rule(0.05, 0.01))
        assert found.drifted[0].tolist() == [False, drifts, *[False] * 4]


def test_what_was_not_read_does_not_drift() -> None:
    system, speed = ten_hours(1)
    read = replace(gauges_at(system, speed), flow_m3_per_s=np.array([np.nan]))
    found = compare(system, speed, read, ACCURACY, Rule(0.05, 0.01))
    assert np.isnan(found.deviation[0, 0])
    assert not found.drifted.any()


def test_the_flow_from_a_pumps_head_is_the_flow_that_made_the_head() -> None:
    system, speed = ten_hours()
    truth = gauges_at(system, speed)
    found = flow_from_head(
        system.pumps.curves,
        truth.suction_pa_gauge,
        truth.discharge_pa_gauge,
        speed,
        system.density_kg_per_m3[:, None],
        ACCURACY,
    )
    assert found.flow_m3_per_s.sum(-1) == pytest.approx(truth.flow_m3_per_s, rel=1e-6)
    flows = point_at_speeds(system, speed).pump_flow_m3_per_s
    assert found.flow_m3_per_s == pytest.approx(flows, rel=1e-5)


def test_how_sure_the_flow_from_head_is_follows_from_the_gauges() -> None:
    system, speed = ten_hours(1)
    truth = gauges_at(system, speed)
    chance = np.random.default_rng(5)
    many = [read_with_noise(truth, speed, chance) for _ in range(400)]
    flows = [
        flow_from_head(
            system.pumps.curves,
            one.observed.suction_pa_gauge,
            one.observed.discharge_pa_gauge,
            one.speed_rpm,
            system.density_kg_per_m3[:, None],
            ACCURACY,
        )
        for one in many
    ]
    scatter = np.std([one.flow_m3_per_s[0, 0] for one in flows])
    assert np.mean([one.sigma_m3_per_s[0, 0] for one in flows]) == pytest.approx(scatter, rel=0.2)


def test_95_of_100_normal_errors_lie_within_the_stated_accuracy() -> None:
    # Normal distribution, 0.975 quantile: 1.960 (any table of the normal distribution).
    assert pytest.approx(1.960, abs=5e-4) == SURE
