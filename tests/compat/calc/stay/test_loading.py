"""Loading at constant rates: times by hand, limits of vents and of velocities, topping off, refusals."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from compat.calc.stay.loading import LoadedTank, LoadingLimits, Supply, load
from shared.calc.errors import InputError

HOUR = 3600.0
INLET_M2 = math.pi * 0.3**2 / 4.0


def tank(name: str, stop: float = 2000.0, **changes: float) -> LoadedTank:
    return LoadedTank(name, **{"inlet_bore_m": 0.3, "stop_m3": stop, "cover_m3": 50.0, **changes})


def test_start_at_1_m_per_s_then_bulk_at_the_shores_rate_by_hand() -> None:
    """Two inlets of 300 mm: 2 * 254.47 m³/h at 1 m/s cover 100 m³; then 1,500 m³/h take the other 3,900 m³."""
    steps = load([tank("1"), tank("2")], LoadingLimits(1500.0 / HOUR))
    assert [step.stage for step in steps] == ["start", "bulk"]
    start = 2 * INLET_M2 * HOUR
    assert start == pytest.approx(2 * 254.47, abs=0.01)
    assert steps[0].ends_s / HOUR == pytest.approx(100.0 / start, rel=1e-12)
    assert steps[1].ends_s / HOUR == pytest.approx(100.0 / start + 3900.0 / 1500.0, rel=1e-12)
    assert steps[0].binding == "1 m/s in the inlets"
    assert steps[1].binding == "rate from shore"


def test_rate_steps_down_as_tanks_are_topped_off_one_after_another() -> None:
    """At 7 m/s in each inlet the rate is as many times 1,781.3 m³/h as tanks are open."""
    tanks = [tank("1", 1000.0), tank("2", 2000.0), tank("3", 3000.0, topping_m3=200.0)]
    steps = load(tanks, LoadingLimits(10.0, topping_m3_per_s=300.0 / HOUR))
    bulk = [step for step in steps if step.stage == "bulk"]
    assert [len(step.open_tanks) for step in bulk] == [3, 2, 1]
    for step in bulk:
        assert step.rate_m3_per_s == pytest.approx(7.0 * INLET_M2 * len(step.open_tanks))
    assert steps[-1].stage == "topping off"
    assert steps[-1].volume_m3 == pytest.approx(200.0)
    assert steps[-1].rate_m3_per_s * HOUR == pytest.approx(300.0)
    assert steps[-2].ended_by == "3 is at its topping level"
    assert sum(step.volume_m3 for step in steps) == pytest.approx(6000.0, rel=1e-12)


def test_tanks_that_fill_together_are_shut_and_topped_off_one_after_another() -> None:
    """Two tanks of 2,000 m³ less 100 m³ each at 1,500 m³/h, then twice 100 m³ at 300 m³/h: no rush into a full tank."""
    tanks = [tank(name, cover_m3=0.0, topping_m3=100.0) for name in "12"]
    limits = LoadingLimits(1500.0 / HOUR, topping_m3_per_s=300.0 / HOUR, static_accumulator=False)
    steps = load(tanks, limits)
    assert [(step.stage, step.open_tanks) for step in steps] == [
        ("bulk", ("1", "2")),
        ("topping off", ("1",)),
        ("topping off", ("2",)),
    ]
    assert steps[0].ended_by == "1, 2 are at their topping level"
    assert [step.ends_s / HOUR for step in steps] == pytest.approx(
        [3800 / 1500, 3800 / 1500 + 1 / 3, 3800 / 1500 + 2 / 3], rel=1e-12
    )


def test_a_head_that_falls_with_what_is_loaded_as_torricelli_has_it() -> None:
    """Q = sqrt((h - V/A)/k): V of 3,000 m³ takes 2 A sqrt(k) (sqrt(h) - sqrt(h - V/A)); the cap binds before it."""
    area, head, k = 500.0, 12.0, 100.0

    def rate(loaded_m3: np.ndarray) -> np.ndarray:
        return np.sqrt(np.maximum(head - loaded_m3 / area, 0.0) / k)

    limits = LoadingLimits(None, static_accumulator=False)
    one = tank("1", 3000.0, cover_m3=0.0)
    (step,) = load([one], limits, Supply(rate, "gravity"))
    exact = 2.0 * area * math.sqrt(k) * (math.sqrt(head) - math.sqrt(head - 3000.0 / area))
    assert step.ends_s == pytest.approx(exact, rel=1e-9)
    assert step.binding == "gravity"
    capped = load([one], LoadingLimits(0.3, static_accumulator=False), Supply(rate, "gravity"))
    assert [part.binding for part in capped] == ["rate from shore", "gravity"]
    assert capped[0].loaded_m3[-1] == pytest.approx(area * (head - k * 0.3**2), rel=1e-9)
    rest = math.sqrt(k) * 0.3 - math.sqrt(head - 3000.0 / area)
    both = capped[0].loaded_m3[-1] / 0.3 + 2.0 * area * math.sqrt(k) * rest
    assert capped[-1].ends_s == pytest.approx(both, rel=1e-9)
    assert capped[-1].held_m3 == (3000.0,)


def test_a_head_that_is_used_up_ends_the_loading_there() -> None:
    def rate(loaded_m3: np.ndarray) -> np.ndarray:
        return np.sqrt(np.maximum(12.0 - loaded_m3 / 500.0, 0.0) / 100.0)

    steps = load([tank("1", 9000.0, cover_m3=0.0)], LoadingLimits(None), Supply(rate, "gravity"))
    assert steps[-1].ended_by == "nothing flows any more"
    assert steps[-1].loaded_m3[-1] == pytest.approx(6000.0, rel=1e-5)


def test_vents_bind_at_a_rate_1_25_times_smaller() -> None:
    """MSC/Circ.585, 2.6.1: vents of 2,500 m³/h take 2,000 m³/h of cargo."""
    limits = LoadingLimits(1.0, vent_capacity_m3_per_s=2500.0 / HOUR, static_accumulator=False)
    (step, *_) = load([tank("1", cover_m3=0.0)], limits)
    assert step.rate_m3_per_s * HOUR == pytest.approx(2000.0)
    assert step.binding == "vents at 1.25 times the rate"


def test_volume_is_conserved_with_unlike_inlets() -> None:
    tanks = [tank("1", inlet_bore_m=0.2), tank("2", 1234.5, inlet_bore_m=0.35), tank("3", 80.0, cover_m3=10.0)]
    steps = load(tanks, LoadingLimits(2000.0 / HOUR))
    assert sum(step.volume_m3 for step in steps) == pytest.approx(2000.0 + 1234.5 + 80.0, rel=1e-12)
    for one, other in pairwise(steps):
        assert other.begins_s == one.ends_s


def test_refusals() -> None:
    with pytest.raises(InputError, match="Tank 1 is given twice"):
        load([tank("1"), tank("1")], LoadingLimits(1.0))
    with pytest.raises(InputError, match="No tank"):
        load([], LoadingLimits(1.0))
    with pytest.raises(InputError, match="Nothing can be loaded: rate from shore is 0 m³/h"):
        load([tank("1")], LoadingLimits(0.0))
    with pytest.raises(InputError, match="Tank 1: stop volume -5 m³"):
        load([tank("1", -5.0)], LoadingLimits(1.0))
