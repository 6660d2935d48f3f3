"""What is offered as the cause of a drift, where the test made the drift itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from compat.calc.record.causes import APART, Causes, likely_causes, resistance_trend
from compat.calc.record.gauges import Change, Gauges, changed_system, gauges_at
from shared.calc.arrays import take
from tests.compat.calc.record.synthetic import ACCURACY, read_with_noise, ten_hours

SYSTEM, SPEED = (take(part, np.array([4])) for part in ten_hours())
NONE = Change.none(1, 2)


def causes_of(change: Change = NONE, seed: int = 1, **wrong_pa: float) -> Causes:
    read = read_with_noise(gauges_at(changed_system(SYSTEM, change), SPEED), SPEED, np.random.default_rng(seed))
    observed = read.observed
    if wrong_pa:
        observed = replace(observed, **{name: getattr(observed, name) + off for name, off in wrong_pa.items()})
    return likely_causes(SYSTEM, read.speed_rpm, observed, ACCURACY)


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize(
    ("change", "kind", "place", "value", "within"),
    [
        (replace(NONE, head_kept=np.array([[0.85, 1.0]])), "worn pump", 0, 0.85, 0.03),
        (replace(NONE, head_kept=np.array([[1.0, 0.85]])), "worn pump", 1, 0.85, 0.03),
        (replace(NONE, ship_loss=np.array([40.0])), "ship's valve", -1, 40.0, 4.0),
        (replace(NONE, pump_loss=np.array([[0.0, 200.0]])), "pump's valve", 1, 200.0, 40.0),
    ],
)
def test_what_changed_on_board_is_named_first(
    change: Change, kind: str, place: int, value: float, within: float, seed: int
) -> None:
    first = causes_of(change, seed).found[0]
    assert (first.kind, first.place) == (kind, place)
    assert first.estimate == pytest.approx(value, abs=within)
    assert first.explained > 0.85


@pytest.mark.parametrize("seed", range(5))
def test_a_wrong_gauge_is_pointed_at_as_such_with_its_error(seed: int) -> None:
    first = causes_of(seed=seed, manifold_pa_gauge=0.8e5).found[0]
    assert (first.kind, first.place) == ("wrong gauge", 1)
    assert first.estimate == pytest.approx(0.8e5, abs=0.2e5)
    rate = causes_of(seed=seed, flow_m3_per_s=-0.1).found[0]
    assert (rate.kind, rate.place) == ("wrong gauge", 0)


@pytest.mark.parametrize("seed", range(5))
def test_resistance_and_static_head_ashore_come_together_and_are_said_to_be_alike(seed: int) -> None:
    # From one reading they are the same thing: more head at one flow.
    found = causes_of(replace(NONE, resistance=np.array([1.4])), seed)
    assert {cause.kind for cause in found.found[:2]} == {"shore resistance", "shore head"}
    assert found.alike >= 2
    assert found.found[1].misfit < found.found[0].misfit + APART


def test_a_reading_on_plan_has_little_to_explain() -> None:
    misfits = [causes_of(seed=seed).misfit for seed in range(40)]
    assert np.mean(misfits) == pytest.approx(6.0, rel=0.3)  # six channels: the mean of a chi-square of six


def test_a_valve_does_not_open_further_than_open() -> None:
    for cause in causes_of(replace(NONE, resistance=np.array([0.6]))).found:
        if cause.kind in {"ship's valve", "pump's valve"}:
            assert cause.estimate >= 0.0


def trend_of(growth: float, seed: int = 2) -> tuple[float, bool]:
    system, speed = ten_hours()
    hours = np.arange(10.0)
    change = replace(Change.none(10, 2), resistance=1.0 + growth * hours)
    read = read_with_noise(gauges_at(changed_system(system, change), speed), speed, np.random.default_rng(seed))
    trend = resistance_trend(system, read.observed, hours)
    assert trend is not None
    return trend.growth_per_h, trend.grows


def test_a_filter_that_fills_is_told_from_a_steady_line_by_its_growth() -> None:
    growth, grows = trend_of(0.08)
    assert grows
    assert growth == pytest.approx(0.08, abs=0.04)
    assert sum(trend_of(0.0, seed)[1] for seed in range(40)) <= 4  # two standard deviations, one side


def test_no_trend_is_told_from_three_readings() -> None:
    system, speed = ten_hours(3)
    read: Gauges = gauges_at(system, speed)
    assert resistance_trend(system, read, np.arange(3.0)) is None
