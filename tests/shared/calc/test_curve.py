"""The gatekeeper of sampled curves, and an interpolant that keeps to its points."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from shared.calc.curve import Pieces, check_falling_curve, constant_pieces, pieces_through, stack_pieces

FLOWS = [0.0, 0.2, 0.5, 0.6, 1.0]
HEADS = [150.0, 148.0, 130.0, 129.0, 80.0]


@st.composite
def falling_points(draw: Any) -> tuple[list[float], list[float]]:
    """Points with rising flow and falling head, unevenly spaced."""
    count = draw(st.integers(2, 9))
    steps = draw(st.lists(st.floats(0.01, 1.0), min_size=count, max_size=count))
    drops = draw(st.lists(st.floats(0.05, 40.0), min_size=count, max_size=count))
    return list(np.cumsum(steps)), list(400.0 - np.cumsum(drops))


def at(pieces: Pieces, x: float) -> tuple[float, float]:
    """Evaluate a single curve at one place."""
    value, slope = pieces.evaluate(np.array(x))
    return float(value), float(slope)


@given(falling_points())
def test_the_interpolant_goes_through_its_points(points: tuple[list[float], list[float]]) -> None:
    pieces = pieces_through(*points)
    for x, y in zip(*points, strict=True):
        assert at(pieces, x)[0] == pytest.approx(y, rel=1e-13)


@given(falling_points(), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_the_interpolant_falls_everywhere_and_never_overshoots(
    points: tuple[list[float], list[float]], first: float, second: float
) -> None:
    pieces = pieces_through(*points)
    start, end = points[0][0] - 0.5, points[0][-1] + 0.5
    low, high = sorted(start + (end - start) * share for share in (first, second))
    assert at(pieces, low)[0] >= at(pieces, high)[0]
    xs = np.array(points[0])
    inside = np.clip(low, xs[0], xs[-1])
    right = int(np.clip(np.searchsorted(xs, inside, side="right"), 1, xs.size - 1))
    assert points[1][right] - 1e-9 <= at(pieces, float(inside))[0] <= points[1][right - 1] + 1e-9


@given(falling_points())
def test_value_and_slope_do_not_jump_inside_the_points(points: tuple[list[float], list[float]]) -> None:
    pieces = pieces_through(*points)
    for x in points[0][1:-1]:
        (below, slope_below), (above, slope_above) = at(pieces, x - 1e-11), at(pieces, x + 1e-11)
        steepest = float(np.abs(np.diff(points[1]) / np.diff(points[0])).max())
        assert below == pytest.approx(above, abs=1e-9 * max(steepest, 1.0))
        assert slope_below == pytest.approx(slope_above, abs=1e-5 * max(steepest, 1.0))


@given(falling_points(), st.floats(0.01, 10.0))
def test_beyond_the_points_the_curve_goes_on_straight_and_no_flatter_than_its_ends(
    points: tuple[list[float], list[float]], distance: float
) -> None:
    pieces = pieces_through(*points)
    xs, ys = (np.array(side) for side in points)
    last_chord, first_chord = (ys[-1] - ys[-2]) / (xs[-1] - xs[-2]), (ys[1] - ys[0]) / (xs[1] - xs[0])
    near, near_slope = at(pieces, xs[-1] + distance)
    far, far_slope = at(pieces, xs[-1] + 2.0 * distance)
    assert near_slope == far_slope <= last_chord + 1e-9 * abs(last_chord)
    assert far - near == pytest.approx(distance * near_slope, rel=1e-6)
    before, before_slope = at(pieces, xs[0] - distance)
    assert before_slope <= first_chord + 1e-9 * abs(first_chord)
    assert before == pytest.approx(ys[0] - distance * before_slope, rel=1e-9)


def test_whoever_asks_outside_the_points_is_told() -> None:
    pieces = pieces_through(FLOWS[1:], HEADS[1:])
    told = [bool(pieces.beyond(np.array(x))) for x in (0.0, 0.19, 0.2, 0.7, 1.0, 1.01)]
    assert told == [True, True, False, False, False, True]


@given(
    st.lists(  # rises below 1e-6 are none: scipy divides by them
        st.tuples(st.floats(0.01, 1.0), st.floats(-40.0, 40.0).map(lambda rise: rise if abs(rise) > 1e-6 else 0.0)),
        min_size=2,
        max_size=9,
    ),
    st.lists(st.floats(0.0, 1.0), min_size=5, max_size=5),
)
def test_points_that_rise_and_fall_are_joined_as_scipy_joins_them(
    steps: list[tuple[float, float]], shares: list[float]
) -> None:
    xs, ys = (np.cumsum(side) for side in zip(*steps, strict=True))
    pieces, reference = pieces_through(xs, ys), PchipInterpolator(xs, ys)
    for share in shares:
        x = float(xs[0] + share * (xs[-1] - xs[0]))
        assert at(pieces, x)[0] == pytest.approx(float(reference(x)), rel=1e-10, abs=1e-10)


def test_the_interpolant_is_scipys_monotone_one_inside_its_points() -> None:
    """Fritsch & Butland (1984) as in scipy.interpolate.PchipInterpolator, which is tested there against its source."""
    pieces, reference = pieces_through(FLOWS, HEADS), PchipInterpolator(FLOWS, HEADS)
    for x in np.linspace(0.0, 1.0, 41):
        assert at(pieces, float(x))[0] == pytest.approx(float(reference(x)), rel=1e-13)
        assert at(pieces, float(x))[1] == pytest.approx(float(reference.derivative()(x)), rel=1e-12, abs=1e-11)


def test_curves_of_unequal_length_stack_without_changing() -> None:
    curves = [pieces_through(FLOWS, HEADS), pieces_through([0.0, 1.0], [10.0, 0.0]), constant_pieces(7.0)]
    stacked = stack_pieces(curves)
    for x in np.linspace(-0.5, 2.0, 26):
        value, slope = stacked.evaluate(np.full(3, x))
        for i, curve in enumerate(curves):
            assert (value[i], slope[i]) == at(curve, float(x))
    np.testing.assert_array_equal(stacked.beyond(np.full(3, 1.5)), [True, True, False])


def test_points_are_not_changed() -> None:
    flows, heads = np.array(FLOWS), np.array(HEADS)
    pieces_through(flows, heads)  # type: ignore[arg-type]
    np.testing.assert_array_equal(flows, FLOWS)
    np.testing.assert_array_equal(heads, HEADS)


@pytest.mark.parametrize(
    ("flows", "heads", "sentence"),
    [
        ([0.0], [100.0], "at least two points"),
        ([0.0, 100.0, 100.0], [90.0, 80.0, 70.0], "two points are given at 100 m³/h"),
        ([0.0, 200.0, 100.0], [90.0, 80.0, 70.0], "the point at 100 m³/h stands after 200 m³/h"),
        ([0.0, 100.0, 200.0], [90.0, 95.0, 70.0], "does not fall from 90 m at 0 m³/h to 95 m at 100 m³/h"),
        ([0.0, 100.0], [90.0, 90.0], "does not fall from 90 m at 0 m³/h to 90 m at 100 m³/h"),
    ],
)
def test_points_that_make_no_falling_curve_are_refused(flows: list[float], heads: list[float], sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        check_falling_curve(flows, heads)


def test_a_falling_curve_passes_the_gate() -> None:
    check_falling_curve(FLOWS, HEADS)
