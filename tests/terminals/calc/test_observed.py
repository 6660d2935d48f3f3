"""A shore known from observed pairs: fits that give back what made them, within bounds, for another liquid too."""

from __future__ import annotations

import numpy as np
import pytest
from fluids.friction import Blasius
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.calc.errors import InputError
from shared.calc.line import Pipes, head_loss
from terminals.calc.observed import (
    GREATEST_EXPONENT,
    LEAST_EXPONENT,
    PAIRS_FOR_EXPONENT,
    ObservedShore,
    coefficient_for,
    fit_observed,
)

G = 9.80665
FLOWS = np.array([0.2, 0.35, 0.5, 0.62, 0.8, 0.95])


def heads(static: float, coefficient: float, exponent: float, flows: np.ndarray = FLOWS) -> np.ndarray:
    """Return static + k Q^m."""
    return np.asarray(static + coefficient * flows**exponent)


def head_at(fit: ObservedShore, flow: float) -> float:
    """Return the fitted head at a flow."""
    return fit.static_head_m + fit.coefficient * flow**fit.exponent


@given(st.floats(-20.0, 60.0), st.floats(5.0, 300.0), st.floats(LEAST_EXPONENT, GREATEST_EXPONENT))
@settings(max_examples=30)
def test_exact_pairs_give_back_what_made_them(static: float, coefficient: float, exponent: float) -> None:
    fit = fit_observed(FLOWS, heads(static, coefficient, exponent))
    assert np.abs(fit.residual_m).max() < 1e-6
    assert fit.exponent == pytest.approx(exponent, abs=1e-6)
    assert fit.static_head_m == pytest.approx(static, abs=1e-6 * (1.0 + coefficient))
    assert (fit.least_trusted_m3_per_s, fit.greatest_trusted_m3_per_s) == (0.2, 0.95)


@pytest.mark.parametrize(("made_with", "held_at"), [(1.0, LEAST_EXPONENT), (1.6, LEAST_EXPONENT), (2.6, 2.0)])
def test_the_exponent_stays_between_smooth_turbulent_and_fully_rough_pipe(made_with: float, held_at: float) -> None:
    """1.75 is Blasius' law, 2 a fully rough pipe (White, Fluid Mechanics, ch. 6)."""
    fit = fit_observed(FLOWS, heads(10.0, 50.0, made_with))
    assert fit.exponent == pytest.approx(held_at, abs=1e-9)
    assert np.abs(fit.residual_m).max() > 0.1  # and the misses are shown


@pytest.mark.parametrize("pairs", range(2, PAIRS_FOR_EXPONENT))
def test_with_few_pairs_the_exponent_is_held_at_its_greatest(pairs: int) -> None:
    made = heads(12.0, 80.0, 1.8)[:pairs]
    fit = fit_observed(FLOWS[:pairs], made)
    assert fit.exponent == GREATEST_EXPONENT
    beyond = 1.5 * FLOWS[pairs - 1]
    assert head_at(fit, beyond) > heads(12.0, 80.0, 1.8, np.array([beyond]))[0]  # never promises too much


def test_two_pairs_are_met_exactly_in_closed_form() -> None:
    fit = fit_observed(np.array([0.3, 0.6]), np.array([25.0, 52.0]))
    assert fit.coefficient == pytest.approx(27.0 / (0.36 - 0.09), rel=1e-9)
    assert fit.static_head_m == pytest.approx(25.0 - 100.0 * 0.09, rel=1e-9)


@given(st.lists(st.floats(0.01, 20.0), min_size=2, max_size=8))
@settings(max_examples=40)
def test_whatever_rises_is_fitted_within_bounds(rises: list[float]) -> None:
    """No static head above the least observed one, no loss that falls, an exponent within its bounds."""
    flow = 0.1 + 0.1 * np.arange(len(rises))
    head = 15.0 + np.cumsum(rises)
    fit = fit_observed(flow, head)
    assert LEAST_EXPONENT <= fit.exponent <= GREATEST_EXPONENT
    assert fit.coefficient >= 0.0
    assert fit.static_head_m <= head.min() + 1e-9
    np.testing.assert_allclose(
        fit.residual_m, heads(fit.static_head_m, fit.coefficient, fit.exponent, flow) - head, atol=1e-9
    )


def test_the_engines_own_smooth_pipe_is_recovered_as_a_regression() -> None:
    """Regression: pairs made by this project's own line of fittings alone, which lose K v²/2g, come back to 1e-6."""
    line = Pipes(*(np.array([[value]]) for value in (0.0, 0.5, 0.0, 8.0)))
    made = [18.0 + float(head_loss(line, np.array([flow]), np.array([1e-6]))[0][0, 0]) for flow in FLOWS]
    fit = fit_observed(FLOWS, np.array(made))
    assert fit.exponent == pytest.approx(2.0, abs=1e-6)
    assert fit.static_head_m == pytest.approx(18.0, abs=1e-6)
    assert fit.coefficient == pytest.approx(8.0 / (2.0 * G * (np.pi * 0.25 / 4.0) ** 2), rel=1e-6)


@pytest.mark.parametrize("ratio", [0.2, 1.0, 3.0, 8.0])
def test_another_liquid_follows_blasius_law_in_a_smooth_pipe(ratio: float) -> None:
    """Blasius through the `fluids` library: f = 0.3164/Re^0.25, so the loss goes with Q^1.75 and viscosity^0.25."""
    bore, length, viscosity = 0.5, 3000.0, 5e-6

    def made(nu: float) -> np.ndarray:
        velocity = FLOWS / (np.pi * bore**2 / 4.0)
        factor = np.array([Blasius(float(v) * bore / nu) for v in velocity])
        return np.asarray(14.0 + factor * length / bore * velocity**2 / (2.0 * G))

    fit = fit_observed(FLOWS, made(viscosity))
    assert fit.exponent == pytest.approx(1.75, abs=1e-6)
    predicted = 14.0 + coefficient_for(fit, ratio) * FLOWS**fit.exponent
    np.testing.assert_allclose(predicted, made(ratio * viscosity), rtol=1e-5)


def test_a_fully_rough_shore_does_not_depend_on_viscosity_and_the_same_liquid_changes_nothing() -> None:
    rough, smooth = fit_observed(FLOWS, heads(5.0, 60.0, 2.0)), fit_observed(FLOWS, heads(5.0, 60.0, 1.75))
    assert coefficient_for(rough, 10.0) == pytest.approx(rough.coefficient, rel=1e-6)
    assert coefficient_for(smooth, 1.0) == smooth.coefficient


def test_pairs_that_fall_or_are_too_few_are_refused() -> None:
    for flow, head in (([0.2, 0.4, 0.6], [20.0, 19.0, 30.0]), ([0.2, 0.4, 0.4], [20.0, 25.0, 30.0])):
        with pytest.raises(InputError) as refused:
            fit_observed(np.array(flow), np.array(head))
        assert str(refused.value) == (
            "The observed pressure does not rise with the rate; correct the pairs or take a stray one out."
        )
    with pytest.raises(InputError) as refused:
        fit_observed(np.array([0.5]), np.array([20.0]))
    assert str(refused.value) == "1 observed pair is given; allowed: 2 or more at different rates."


def test_inputs_stay_as_they_were() -> None:
    flow, head = FLOWS.copy(), heads(5.0, 60.0, 1.9)
    kept = head.copy()
    fit_observed(flow, head)
    np.testing.assert_array_equal(flow, FLOWS)
    np.testing.assert_array_equal(head, kept)
