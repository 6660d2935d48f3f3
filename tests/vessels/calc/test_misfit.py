"""How far several tested speeds disagree with the affinity laws, in figures worked by hand."""

from __future__ import annotations

import pytest

from vessels.calc.misfit import affinity_misfit
from vessels.calc.pump import curves_by_points

POINTS = [(0.0, 160.0), (0.3, 157.0), (0.55, 147.0), (0.8, 128.0)]


def scaled(ratio: float, kept: float = 1.0) -> list[tuple[float, float]]:
    """The points carried to another speed by affinity, with a share of the head kept."""
    return [(flow * ratio, head * ratio**2 * kept) for flow, head in POINTS]


def test_one_tested_speed_has_nothing_to_disagree_with() -> None:
    assert affinity_misfit(curves_by_points([1250.0], [POINTS])) == 0.0


def test_speeds_that_obey_affinity_have_no_misfit() -> None:
    curves = curves_by_points([1000.0, 1250.0, 750.0], [scaled(0.8), POINTS, scaled(0.6)])
    assert affinity_misfit(curves) == pytest.approx(0.0, abs=1e-12)


def test_a_speed_tested_five_percent_low_shows_five_percent() -> None:
    """Affinity carries the faster test to 1/0.95 of what the slower one gave: 5.26 %."""
    curves = curves_by_points([1000.0, 1250.0], [scaled(0.8, 0.95), POINTS])
    assert affinity_misfit(curves) == pytest.approx(1.0 / 0.95 - 1.0, rel=1e-9)


def test_the_worst_of_several_speeds_counts() -> None:
    curves = curves_by_points([750.0, 1000.0, 1250.0], [scaled(0.6, 1.02), scaled(0.8, 0.97), POINTS])
    assert affinity_misfit(curves) == pytest.approx(1.0 / 0.97 - 1.0, rel=1e-9)
