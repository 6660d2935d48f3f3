"""Height of tide against the rule of twelfths and the half cosine."""

from __future__ import annotations

import numpy as np
import pytest

from shared.calc.errors import InputError
from shared.calc.tide import tide_of
from tests.reference_tables import reference_numbers

HOUR = 3600.0
RISE = 6.2 * HOUR  # 6 h 12 min
# Low water 0.8 m, high water 4.4 m, six equal parts (rule of twelfths, Admiralty Manual of Navigation; from memory).
TWELFTHS_M = [0.8, 1.1, 1.7, 2.6, 3.5, 4.1, 4.4]
TIDE = tide_of([0.0, RISE, 2 * RISE, 3 * RISE], [0.8, 4.4, 1.2, 4.0])


def test_rule_of_twelfths_as_it_is_taught() -> None:
    np.testing.assert_allclose(TIDE.height_by_twelfths(np.linspace(0.0, RISE, 7)), TWELFTHS_M, atol=1e-12)


@pytest.mark.parametrize("row", reference_numbers("tide_between_waters"), ids=lambda row: f"{row['sixths']:.0f} sixths")
def test_both_published_forms_at_each_sixth_of_the_time(row: dict[str, float]) -> None:
    time = np.array([row["sixths"] * RISE / 6.0])
    assert (TIDE.height(time)[0] - 0.8) / 3.6 == pytest.approx(row["half_cosine"], abs=6e-6)
    assert (TIDE.height_by_twelfths(time)[0] - 0.8) / 3.6 == pytest.approx(row["twelfths"], abs=6e-6)


def test_both_forms_differ_by_at_most_1_63_percent_of_the_range_at_the_parts() -> None:
    parts = np.linspace(0.0, RISE, 7)
    at_parts = np.abs(TIDE.height(parts) - TIDE.height_by_twelfths(parts)).max() / 3.6
    assert at_parts == pytest.approx(0.0163, abs=2e-4)


def test_waters_are_met_exactly_and_array_equals_scalar() -> None:
    times = np.array([0.0, 1.0, RISE, 1.4 * RISE, 3 * RISE])
    height = TIDE.height(times)
    np.testing.assert_allclose(height[[0, 2, 4]], [0.8, 4.4, 4.0], atol=1e-12)
    np.testing.assert_array_equal(height, [TIDE.height(np.array([one]))[0] for one in times])
    assert TIDE.covers(RISE)
    assert not TIDE.covers(3 * RISE + 1)


@pytest.mark.parametrize(
    ("hours", "heights", "words"),
    [
        ([0.0, 6.0, 5.0], [1.0, 4.0, 1.0], "hour 5 stands after hour 6"),
        ([0.0, 6.0, 12.0], [1.0, 2.0, 4.0], "hour 6 is neither high nor low"),
        ([0.0], [1.0], "two waters or more"),
    ],
)
def test_tides_that_are_refused(hours: list[float], heights: list[float], words: str) -> None:
    with pytest.raises(InputError, match=words):
        tide_of([hour * HOUR for hour in hours], heights)
