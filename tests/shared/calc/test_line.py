"""Head lost in pipes against worked examples, closed forms and the `fluids` library."""

from __future__ import annotations

import math

import numpy as np
import pytest
from fluids.friction import friction_factor as fluids_friction_factor
from hypothesis import assume, given
from hypothesis import strategies as st

from shared.calc.line import Pipes, head_loss, reynolds_number, velocity_m_per_s
from tests.reference_tables import reference_numbers, reference_rows

G = 9.80665


def one_pipe(length_m: float, bore_m: float, roughness_m: float = 0.0, loss_coefficient: float = 0.0) -> Pipes:
    """Return a single run of pipe."""
    return Pipes(*(np.array([value]) for value in (length_m, bore_m, roughness_m, loss_coefficient)))


@pytest.mark.parametrize("row", reference_rows("pipe_head_losses"), ids=lambda row: row["case"])
def test_worked_examples(row: dict[str, str]) -> None:
    pipe = one_pipe(
        float(row["length_m"]), float(row["bore_m"]), float(row["roughness_m"]), float(row["loss_coefficient"])
    )
    loss, _ = head_loss(pipe, np.array([float(row["flow_m3_per_s"])]), np.array([float(row["viscosity_m2_per_s"])]))
    pressure = (loss[0] + float(row["rise_m"])) * float(row["density_kg_per_m3"]) * G
    assert pressure == pytest.approx(float(row["pressure_loss_pa"]), rel=float(row["relative_tolerance"]))


@pytest.mark.parametrize("row", reference_numbers("flow_at_velocity"), ids=lambda row: f"{row['bore_mm']:.0f} mm")
def test_flow_at_the_velocity_limits_of_hoses(row: dict[str, float]) -> None:
    for velocity, column in ((12.0, "flow_at_12_m_per_s_m3_per_h"), (15.0, "flow_at_15_m_per_s_m3_per_h")):
        pipe = one_pipe(1.0, row["bore_mm"] / 1000.0)
        assert velocity * pipe.area_m2[0] * 3600.0 == pytest.approx(row[column], rel=0.006)
        assert velocity_m_per_s(pipe, np.array([row[column] / 3600.0]))[0] == pytest.approx(velocity, rel=0.006)


@given(st.floats(1e-9, 0.05), st.floats(0.05, 1.2), st.floats(1e-5, 5e-3))
def test_laminar_loss_is_hagen_poiseuilles(flow: float, bore: float, viscosity: float) -> None:
    """Hagen-Poiseuille: dp = 128 mu L Q / (pi D^4), so h = 128 nu L Q / (pi g D^4)."""
    assume(4.0 * flow / (math.pi * bore * viscosity) < 2000.0)
    loss, slope = head_loss(one_pipe(300.0, bore, 1e-4), np.array([flow]), np.array([viscosity]))
    exact = 128.0 * viscosity * 300.0 / (math.pi * G * bore**4)
    assert loss[0] == pytest.approx(exact * flow, rel=1e-12)
    assert slope[0] == pytest.approx(exact, rel=1e-12)


def test_turbulent_loss_is_darcy_weisbach_with_the_factor_of_the_fluids_library() -> None:
    random = np.random.default_rng(31)
    for _ in range(60):
        bore, speed = random.uniform(0.1, 1.2), random.uniform(0.5, 8.0)
        viscosity, roughness = 10 ** random.uniform(-6.5, -4.5), random.uniform(1e-5, 5e-4)
        loss_coefficient = random.uniform(0.0, 20.0)
        flow = speed * math.pi * bore**2 / 4.0
        reynolds = speed * bore / viscosity
        if reynolds < 4000.0:
            continue
        factor = fluids_friction_factor(Re=reynolds, eD=roughness / bore, Method="Colebrook")
        expected = (factor * 750.0 / bore + loss_coefficient) * speed**2 / (2.0 * G)
        pipe = one_pipe(750.0, bore, roughness, loss_coefficient)
        assert head_loss(pipe, np.array([flow]), np.array([viscosity]))[0][0] == pytest.approx(expected, rel=1e-6)
        assert reynolds_number(pipe, np.array([-flow]), np.array([viscosity]))[0] == pytest.approx(reynolds, rel=1e-12)


def test_fittings_alone_lose_k_velocity_heads() -> None:
    loss, slope = head_loss(one_pipe(0.0, 0.3, 1e-4, 2.5), np.array([0.2]), np.array([1e-5]))
    speed = 0.2 / (math.pi * 0.09 / 4.0)
    assert loss[0] == pytest.approx(2.5 * speed**2 / (2.0 * G), rel=1e-12)
    assert slope[0] == pytest.approx(2.0 * loss[0] / 0.2, rel=1e-12)


def test_at_rest_nothing_is_lost_and_the_slope_is_the_laminar_one() -> None:
    loss, slope = head_loss(one_pipe(1000.0, 0.4, 1e-4, 5.0), np.zeros(1), np.array([1e-5]))
    assert loss[0] == 0.0
    assert slope[0] == pytest.approx(128.0 * 1e-5 * 1000.0 / (math.pi * G * 0.4**4), rel=1e-12)


@given(st.floats(0.0, 5.0), st.floats(1e-7, 5e-3), st.floats(0.0, 50.0))
def test_reverse_flow_loses_the_same_backward(flow: float, viscosity: float, loss_coefficient: float) -> None:
    pipe = one_pipe(800.0, 0.5, 1e-4, loss_coefficient)
    forward, forward_slope = head_loss(pipe, np.array([flow]), np.array([viscosity]))
    backward, backward_slope = head_loss(pipe, np.array([-flow]), np.array([viscosity]))
    assert backward[0] == -forward[0]
    assert backward_slope[0] == forward_slope[0]


@given(st.floats(-5.0, 5.0), st.floats(1e-6, 1.0), st.floats(1e-7, 5e-3))
def test_loss_rises_with_flow_through_rest_and_the_transition(flow: float, more: float, viscosity: float) -> None:
    pipe = one_pipe(800.0, 0.5, 1e-4, 3.0)
    losses = [head_loss(pipe, np.array([q]), np.array([viscosity]))[0][0] for q in (flow, flow + more)]
    assert losses[1] > losses[0]


@given(st.floats(0.001, 5.0), st.floats(1e-7, 5e-3))
def test_stated_slope_is_the_slope(flow: float, viscosity: float) -> None:
    pipe = one_pipe(800.0, 0.5, 1e-4, 3.0)
    step = 1e-5 * flow
    low, middle, high = (
        head_loss(pipe, np.array([q]), np.array([viscosity])) for q in (flow - step, flow, flow + step)
    )
    assert middle[1][0] == pytest.approx((high[0][0] - low[0][0]) / (2.0 * step), rel=1e-3)


def test_pipes_in_arrays_lose_what_each_loses_alone_and_stay_as_they_were() -> None:
    random = np.random.default_rng(7)
    shape = (4, 3)
    pipes = Pipes(
        random.uniform(10, 2000, shape), random.uniform(0.2, 0.8, shape), random.uniform(0, 3e-4, shape),
        random.uniform(0, 10, shape),
    )  # fmt: skip
    flow, viscosity = random.uniform(-0.5, 0.5, (4, 1)), np.array([[1e-6], [1e-5], [1e-4], [1e-3]])
    kept = flow.copy(), viscosity.copy(), pipes.bore_m.copy()
    together, slopes = head_loss(pipes, flow, viscosity)
    for i, j in np.ndindex(shape):
        single = one_pipe(
            *(float(a[i, j]) for a in (pipes.length_m, pipes.bore_m, pipes.roughness_m, pipes.loss_coefficient))
        )
        loss, slope = head_loss(single, flow[i], viscosity[i])
        # logarithms of whole arrays and of single numbers may differ in the last digit
        assert together[i, j] == pytest.approx(loss[0], rel=1e-14)
        assert slopes[i, j] == pytest.approx(slope[0], rel=1e-13)
    for array, before in zip((flow, viscosity, pipes.bore_m), kept, strict=True):
        np.testing.assert_array_equal(array, before)
