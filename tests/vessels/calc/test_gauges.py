"""Head from a pump's gauges. Common practice, no source: head = kgf/cm² difference × 10 ÷ relative density."""

from __future__ import annotations

import numpy as np
import pytest

from shared.calc.units import from_si, to_si
from vessels.calc.gauges import head_from_gauges_m

KGF_PER_CM2 = to_si(1.0, "kgf/cm²")


@pytest.mark.parametrize(
    ("difference_kgf_per_cm2", "relative_density", "head_m"), [(11.0, 0.9, 122.0), (10.0, 1.0, 100.0)]
)
def test_head_is_gauge_difference_times_ten_over_relative_density(
    difference_kgf_per_cm2: float, relative_density: float, head_m: float
) -> None:
    suction = 1.3 * KGF_PER_CM2
    head = head_from_gauges_m(suction + difference_kgf_per_cm2 * KGF_PER_CM2, suction, 1000.0 * relative_density)
    assert head == pytest.approx(head_m, abs=0.5)  # the rule is quoted to whole metres
    assert head == pytest.approx(difference_kgf_per_cm2 * 10.0 / relative_density, rel=1e-12)


def test_suction_gauge_below_zero_is_added() -> None:
    with_pressure = head_from_gauges_m(9.0 * KGF_PER_CM2, 0.5 * KGF_PER_CM2, 1000.0)
    with_vacuum = head_from_gauges_m(9.0 * KGF_PER_CM2, -0.5 * KGF_PER_CM2, 1000.0)
    assert with_pressure == pytest.approx(85.0, rel=1e-12)
    assert with_vacuum == pytest.approx(95.0, rel=1e-12)


def test_a_gauge_standing_higher_reads_less_for_the_same_head() -> None:
    weight = 850.0 * 9.80665
    level = head_from_gauges_m(8e5, 1e5, 850.0)
    raised = head_from_gauges_m(8e5 - 2.0 * weight, 1e5, 850.0, discharge_gauge_above_suction_gauge_m=2.0)
    assert raised == pytest.approx(level, rel=1e-12)


def test_arrays_give_what_single_numbers_give_and_stay_as_they_were() -> None:
    discharge, suction, density = np.array([8e5, 9e5]), np.array([1e5, -3e4]), np.array([850.0, 740.0])
    before = discharge.copy(), suction.copy(), density.copy()
    heads = head_from_gauges_m(discharge, suction, density)
    singles = [head_from_gauges_m(*row) for row in zip(discharge, suction, density, strict=True)]
    np.testing.assert_array_equal(heads, singles)
    for array, kept in zip((discharge, suction, density), before, strict=True):
        np.testing.assert_array_equal(array, kept)


def test_kgf_per_cm2_is_ten_metres_of_fresh_water() -> None:
    assert from_si(1000.0 * 9.80665 * 10.0, "kgf/cm²") == pytest.approx(1.0, rel=1e-12)
