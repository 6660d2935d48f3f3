"""The bracketed root finder: ends, hard and easy functions side by side, and what is said where there is no root."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.calc.root import Array, find_falling_root


def cubic(centre: Array) -> object:
    """Return a falling cubic with its root at each ``centre``; its slope vanishes there."""

    def value_and_slope(x: Array) -> tuple[Array, Array]:
        return -((x - centre) ** 3), -3.0 * (x - centre) ** 2

    return value_and_slope


def test_roots_of_very_different_difficulty_side_by_side() -> None:
    # line, flat cubic root, steep exponential, square root with its vertical tangent at the end of the bracket
    roots = np.array([0.25, 0.5, 0.125, 0.0625])

    def functions(x: Array) -> tuple[Array, Array]:
        value = np.stack(
            [
                roots[0] - x[0],
                -((x[1] - roots[1]) ** 3),
                np.exp(-60.0 * x[2]) - np.exp(-60.0 * roots[2]),
                np.sqrt(roots[3]) - np.sqrt(x[3]),
            ]
        )
        with np.errstate(divide="ignore"):
            slope = np.stack(
                [-np.ones(()), -3.0 * (x[1] - roots[1]) ** 2, -60.0 * np.exp(-60.0 * x[2]), -0.5 / np.sqrt(x[3])]
            )
        return value, slope

    root = find_falling_root(functions, np.zeros(4), np.ones(4), tolerance=1e-13)
    assert root.converged.all()
    np.testing.assert_allclose(root.value, roots, rtol=1e-4)  # the flat cubic is within 1e-13 over 1e-4
    np.testing.assert_allclose(root.value[[0, 2, 3]], roots[[0, 2, 3]], rtol=1e-9)
    assert (np.abs(root.residual) <= 1e-13).all()


def test_wrong_slopes_cost_steps_and_not_the_root() -> None:
    def lying(x: Array) -> tuple[Array, Array]:
        return 0.3 - x, np.array([-1e-9, -1e9, 0.0, 5.0])

    root = find_falling_root(lying, np.zeros(4), np.ones(4), tolerance=1e-12)
    assert root.converged.all()
    np.testing.assert_allclose(root.value, 0.3, atol=2e-12)


@pytest.mark.parametrize("end", [0.0, 1.0])
def test_a_root_at_either_end_is_found(end: float) -> None:
    root = find_falling_root(lambda x: (end - x, -np.ones_like(x)), np.zeros(1), np.ones(1))
    assert root.converged.all()
    assert root.value[0] == pytest.approx(end, abs=1e-9)


def test_a_function_outside_its_bracket_ends_there_and_is_not_converged() -> None:
    root = find_falling_root(lambda x: (np.array([-0.5, 1.5]) - x, -np.ones_like(x)), np.zeros(2), np.ones(2))
    assert not root.converged.any()
    np.testing.assert_allclose(root.value, [0.0, 1.0], atol=1e-9)
    np.testing.assert_allclose(root.residual, [-0.5, 0.5], atol=1e-9)


def test_too_few_iterations_are_reported_case_by_case() -> None:
    centres = np.array([0.5, 0.123456789])
    root = find_falling_root(
        lambda x: (
            np.stack([centres[0] - x[0], centres[1] ** 9 - x[1] ** 9]),
            np.stack([-np.ones(()), -9.0 * x[1] ** 8]),
        ),
        np.zeros(2),
        np.ones(2),
        tolerance=1e-15,
        most_iterations=3,
    )
    np.testing.assert_array_equal(root.converged, [True, False])
    assert root.iterations == 3
    assert abs(root.residual[1]) > 1e-15


def test_a_bracket_of_no_width_answers_with_its_own_residual() -> None:
    root = find_falling_root(lambda x: (np.array([0.0, 2.0]), -np.ones_like(x)), np.full(2, 0.7), np.full(2, 0.7))
    np.testing.assert_array_equal(root.value, [0.7, 0.7])
    np.testing.assert_array_equal(root.converged, [True, False])


def test_a_start_is_used_and_brought_into_the_bracket() -> None:
    asked: list[float] = []

    def line(x: Array) -> tuple[Array, Array]:
        asked.append(float(x[0]))
        return 0.3 - x, -np.ones_like(x)

    find_falling_root(line, np.zeros(1), np.ones(1), start=np.array([0.3]))
    find_falling_root(line, np.zeros(1), np.ones(1), start=np.array([7.0]))
    assert asked[0] == 0.3
    assert max(asked) <= 1.0


def test_neither_bracket_nor_start_is_changed() -> None:
    low, high, start = np.zeros(3), np.ones(3), np.full(3, 0.9)
    find_falling_root(cubic(np.array([0.1, 0.2, 0.3])), low, high, start=start)  # type: ignore[arg-type]
    np.testing.assert_array_equal(low, np.zeros(3))
    np.testing.assert_array_equal(high, np.ones(3))
    np.testing.assert_array_equal(start, np.full(3, 0.9))


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=8), st.floats(0.2, 5.0), st.integers(0, 2**31))
def test_every_bracketed_root_is_found(centres: list[float], power: float, seed: int) -> None:
    """Falling functions with kinks and vertical or flat tangents: sign(c - x) |c - x|^power."""
    c = np.array(centres)
    random = np.random.default_rng(seed)
    low, high = c - random.uniform(0.0, 1e3, c.size), c + random.uniform(0.0, 1e3, c.size)

    def function(x: Array) -> tuple[Array, Array]:
        distance = np.maximum(np.abs(c - x), 1e-300)
        return np.sign(c - x) * distance**power, -power * distance ** (power - 1.0)

    root = find_falling_root(function, low, high, tolerance=1e-12)
    wide = np.maximum(1e-12 ** (1.0 / power), 4e-16 * np.abs(c) + 1e-15)
    assert (np.abs(root.value - c) <= 4.0 * wide).all()


@given(st.lists(st.floats(0.01, 0.99), min_size=2, max_size=6))
def test_each_root_of_an_array_comes_out_as_it_would_alone(centres: list[float]) -> None:
    c = np.array(centres)
    together = find_falling_root(cubic(c), np.zeros(c.size), np.ones(c.size))  # type: ignore[arg-type]
    for i, centre in enumerate(c):
        alone = find_falling_root(cubic(np.array([centre])), np.zeros(1), np.ones(1))  # type: ignore[arg-type]
        assert alone.value[0] == together.value[i]
        assert alone.residual[0] == together.residual[i]
