"""Friction against the `fluids` library (Colebrook solved exactly, Hagen-Poiseuille) and worked examples."""

from __future__ import annotations

import numpy as np
import pytest
from fluids.friction import Colebrook
from hypothesis import given
from hypothesis import strategies as st

from shared.calc.friction import (
    LAMINAR_BELOW_REYNOLDS,
    TURBULENT_ABOVE_REYNOLDS,
    friction_factor,
    friction_product,
)
from tests.reference_tables import reference_rows

RELATIVE_TOLERANCE = 1e-6
ROUGHNESSES = np.array([0.0, 1e-7, 1e-6, 1e-5, 5e-5, 2e-4, 1e-3, 5e-3, 2e-2, 5e-2])


@pytest.mark.parametrize("relative_roughness", ROUGHNESSES)
def test_turbulent_factor_equals_colebrook_of_the_fluids_library(relative_roughness: float) -> None:
    """200 points: 20 Reynolds numbers from 4,000 to 1e8 at each of 10 roughnesses."""
    reynolds = np.geomspace(TURBULENT_ABOVE_REYNOLDS, 1e8, 20)
    expected = [Colebrook(Re=float(number), eD=float(relative_roughness)) for number in reynolds]
    np.testing.assert_allclose(friction_factor(reynolds, relative_roughness), expected, rtol=RELATIVE_TOLERANCE)


def test_factor_satisfies_colebrooks_own_equation() -> None:
    """Colebrook (1939): 1/sqrt(f) = -2 log10(e/(3.7 D) + 2.51/(Re sqrt(f))), without any other library."""
    reynolds = np.geomspace(4000.0, 1e9, 60)[:, None]
    roughness = np.concatenate([ROUGHNESSES, [0.1, 0.2]])
    root = 1.0 / np.sqrt(friction_factor(reynolds, roughness))
    np.testing.assert_allclose(root, -2.0 * np.log10(roughness / 3.7 + 2.51 * root / reynolds), rtol=1e-11)


def test_laminar_factor_is_64_over_reynolds_whatever_the_roughness() -> None:
    """Hagen-Poiseuille, the `fluids` library's laminar law too."""
    reynolds = np.geomspace(1e-6, LAMINAR_BELOW_REYNOLDS, 200)[:, None]
    np.testing.assert_allclose(friction_factor(reynolds, ROUGHNESSES) * reynolds, 64.0, rtol=1e-12)


def test_friction_stays_finite_at_rest() -> None:
    product, slope = friction_product(np.zeros(ROUGHNESSES.size), ROUGHNESSES)
    np.testing.assert_allclose(product, 64.0, rtol=1e-12)
    np.testing.assert_allclose(slope, 0.0, atol=1e-12)


@pytest.mark.parametrize("edge", [LAMINAR_BELOW_REYNOLDS, TURBULENT_ABOVE_REYNOLDS])
def test_no_jump_in_value_or_slope_at_the_edges_of_the_band(edge: float) -> None:
    below, above = edge * (1.0 - 1e-9), edge * (1.0 + 1e-9)
    low, low_slope = friction_product(np.full(ROUGHNESSES.size, below), ROUGHNESSES)
    high, high_slope = friction_product(np.full(ROUGHNESSES.size, above), ROUGHNESSES)
    np.testing.assert_allclose(low, high, rtol=1e-8)
    np.testing.assert_allclose(low_slope, high_slope, rtol=1e-6, atol=1e-8)


def test_between_the_laws_the_factor_lies_between_them() -> None:
    reynolds = np.linspace(LAMINAR_BELOW_REYNOLDS, TURBULENT_ABOVE_REYNOLDS, 101)
    for roughness in ROUGHNESSES:
        factor = friction_factor(reynolds, roughness)
        turbulent = np.array([Colebrook(Re=float(number), eD=float(roughness)) for number in reynolds])
        laminar = 64.0 / reynolds
        slack = 1e-9
        assert (factor >= np.minimum(laminar, turbulent) - slack).all()
        assert (factor <= np.maximum(laminar, turbulent) + slack).all()


@given(st.floats(1e-3, 1e8), st.sampled_from(list(ROUGHNESSES)))
def test_stated_slope_is_the_slope(reynolds: float, roughness: float) -> None:
    step = 1e-5 * reynolds
    around = np.array([reynolds - step, reynolds, reynolds + step])
    product, slope = friction_product(around, np.full(3, roughness))
    difference = (product[2] - product[0]) / (2.0 * step)
    scale = product[1] / reynolds
    assert slope[1] == pytest.approx(difference, rel=2e-4, abs=2e-4 * scale)


@given(st.floats(0.0, 1e8), st.floats(1e-9, 1.0), st.sampled_from(list(ROUGHNESSES)))
def test_head_loss_rises_with_flow_across_every_border(reynolds: float, more: float, roughness: float) -> None:
    """Head loss of one pipe in its own scale, f Re^2, must rise with Re, or an operating point is not unique."""
    pair = np.array([reynolds, reynolds + more * max(reynolds, 1.0)])
    product, _ = friction_product(pair, np.full(2, roughness))
    loss = product * pair
    assert loss[1] > loss[0]


def test_array_equals_single_numbers_and_inputs_stay_as_they_were() -> None:
    reynolds = np.geomspace(1.0, 1e7, 40)
    roughness = np.full(40, 2e-4)
    before = reynolds.copy(), roughness.copy()
    together = friction_factor(reynolds, roughness)
    singles = np.array([friction_factor(float(number), 2e-4) for number in reynolds])
    # numpy's logarithm of a whole array and of one number may differ in the last digit
    np.testing.assert_allclose(together, singles, rtol=4e-16 * 8)
    np.testing.assert_array_equal(reynolds, before[0])
    np.testing.assert_array_equal(roughness, before[1])


@pytest.mark.parametrize("row", reference_rows("friction_factors"), ids=lambda row: row["case"])
def test_worked_examples(row: dict[str, str]) -> None:
    factor = friction_factor(float(row["reynolds"]), float(row["relative_roughness"]))
    assert factor == pytest.approx(float(row["factor"]), rel=float(row["relative_tolerance"]))
