"""How far tested speeds disagree with the affinity laws, on curves that disagree by a known share."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vessels.calc.misfit import affinity_misfit
from vessels.calc.pump import curves_by_points

POINTS = [(0.0, 160.0), (0.3, 157.0), (0.55, 147.0), (0.8, 128.0), (0.9, 118.0)]


def carried(ratio: float, share: float = 1.0) -> list[tuple[float, float]]:
    """Return the points at another speed by the affinity laws, with a share of the head they make."""
    return [(flow * ratio, head * ratio**2 * share) for flow, head in POINTS]


@given(st.floats(0.4, 0.95))
@settings(max_examples=20)
def test_curves_that_obey_the_laws_have_none(ratio: float) -> None:
    assert affinity_misfit(curves_by_points([1250.0, 1250.0 * ratio], [POINTS, carried(ratio)])) < 1e-12


@given(st.floats(0.4, 0.95), st.floats(0.8, 1.2))
@settings(max_examples=20)
def test_a_slower_test_with_a_share_of_the_head_is_off_by_that_share(ratio: float, share: float) -> None:
    found = affinity_misfit(curves_by_points([1250.0 * ratio, 1250.0], [carried(ratio, share), POINTS]))
    assert found == pytest.approx(abs(1.0 / share - 1.0), rel=1e-9, abs=1e-12)


def test_the_worst_of_several_tested_speeds_counts() -> None:
    curves = curves_by_points([1250.0, 1000.0, 750.0], [POINTS, carried(0.8, 0.99), carried(0.6, 0.9)])
    assert affinity_misfit(curves) == pytest.approx(1.0 / 0.9 - 1.0, rel=1e-9)


def test_one_tested_speed_disagrees_with_nothing() -> None:
    assert affinity_misfit(curves_by_points([1250.0], [POINTS])) == 0.0


def test_curves_tested_down_to_no_head_are_compared_where_there_is_head() -> None:
    ends = [(0.0, 100.0), (1.0, 0.0)]
    curves = curves_by_points([1000.0, 800.0], [ends, [(flow * 0.8, head * 0.64 * 0.95) for flow, head in ends]])
    assert affinity_misfit(curves) == pytest.approx(1.0 / 0.95 - 1.0, rel=1e-6)
