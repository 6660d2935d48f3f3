"""Chebyshev points: polynomials are integrated and read between the points exactly (from the definition)."""

from __future__ import annotations

import numpy as np
import pytest

from compat.calc.stay.nodes import nodes_of


@pytest.mark.parametrize("count", [3, 8, 12])
def test_powers_up_to_the_degree_are_exact(count: int) -> None:
    nodes = nodes_of(count)
    s = np.linspace(0.0, 1.0, 23)
    for power in range(count):
        values = nodes.points**power
        np.testing.assert_allclose(nodes.integral @ values, nodes.points ** (power + 1) / (power + 1), atol=1e-13)
        np.testing.assert_allclose(nodes.between(s) @ values, s**power, atol=1e-12)


def test_points_themselves_are_met() -> None:
    nodes = nodes_of(9)
    np.testing.assert_allclose(nodes.between(nodes.points), np.eye(9), atol=1e-12)
