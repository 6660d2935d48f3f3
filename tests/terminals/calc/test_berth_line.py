"""What a berth asks of the manifold: hydrostatics at rest, arms in parallel, segments in a row."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.calc.line import Pipes, head_loss
from shared.calc.units import from_si
from terminals.calc.berth_line import BerthLine, arm_flows, heads_along

G = 9.80665
SEGMENTS = [(400.0, 0.6, 1e-4, 2.0), (1500.0, 0.6, 1e-4, 2.0), (800.0, 0.5, 1e-4, 3.0)]
ARMS = [(25.0, 0.30, 5e-5, 2.5), (32.0, 0.25, 5e-5, 4.0), (60.0, 0.2, 2e-5, 1.5)]


def pipes(runs: list[tuple[float, float, float, float]]) -> Pipes:
    """Runs of one case: length m, bore m, roughness m, K."""
    return Pipes(*(column[None] for column in np.array(runs, dtype=float).reshape(-1, 4).T))


def berth(
    arms: list[tuple[float, float, float, float]] | None = None, counts: list[float] | None = None, *,
    segments: list[tuple[float, float, float, float]] = SEGMENTS, end_head_m: float = 20.0, viscosity: float = 1e-5,
) -> BerthLine:  # fmt: skip
    """One berth with its arms and line."""
    return BerthLine(
        pipes(arms or ARMS[:1]),
        np.array([counts or [2.0]]),
        pipes(segments),
        np.array([end_head_m]),
        np.array([viscosity]),
    )


def test_at_rest_every_point_has_the_head_of_the_tank() -> None:
    heads, _ = heads_along(berth(ARMS, [2.0, 1.0, 1.0], end_head_m=23.5), np.zeros(1))
    np.testing.assert_allclose(heads, 23.5, atol=1e-9)


def test_three_metres_of_fresh_water_more_ashore_are_three_tenths_of_a_kgf_per_cm2() -> None:
    """Common practice, no source."""
    rest = [heads_along(berth(end_head_m=level), np.zeros(1))[0][0, 0] for level in (20.0, 23.0)]
    assert from_si((rest[1] - rest[0]) * 1000.0 * G, "kgf/cm²") == pytest.approx(0.3, rel=1e-9)


def test_segments_add_up_from_the_tank_back_to_the_manifold() -> None:
    flow = np.array([0.9])
    heads, _ = heads_along(berth(), flow)
    losses = [head_loss(pipes([segment]), flow, np.array([1e-5]))[0][0, 0] for segment in SEGMENTS]
    arm = head_loss(pipes(ARMS[:1]), flow / 2.0, np.array([1e-5]))[0][0, 0]
    expected = 20.0 + np.cumsum([0.0, *losses[::-1], arm])[::-1]
    np.testing.assert_allclose(heads[0], expected, rtol=1e-13)


def test_alike_arms_share_alike_and_lose_what_one_loses_at_its_share() -> None:
    each, slope = arm_flows(berth(counts=[3.0]), np.array([0.9]))
    assert each[0, 0] == pytest.approx(0.3, rel=1e-15)
    assert slope[0, 0] == pytest.approx(1.0 / 3.0)


@given(st.floats(0.0, 3.0), st.sampled_from([6e-7, 1e-5, 1e-4, 5e-4, 3e-3]))
def test_unlike_arms_lose_the_same_head_and_carry_the_whole_flow(flow: float, viscosity: float) -> None:
    line = berth(ARMS, [2.0, 1.0, 1.0], viscosity=viscosity)
    each, _ = arm_flows(line, np.array([flow]))
    losses, _ = head_loss(line.arms, each, np.array([[viscosity]]))
    assert (line.arm_count * each).sum() == pytest.approx(flow, rel=1e-11, abs=1e-12)
    np.testing.assert_allclose(losses[0], losses[0, 0], rtol=1e-7, atol=1e-9)
    heads, _ = heads_along(line, np.array([flow]))
    assert heads[0, 0] - heads[0, 1] == pytest.approx(losses[0, 0], rel=1e-7, abs=1e-8)


def test_unlike_arms_of_fittings_alone_in_closed_form() -> None:
    """K v^2/2g equal in both: flows go as area over the root of K."""
    line = berth([(0.0, 0.30, 0.0, 2.5), (0.0, 0.20, 0.0, 4.0)], [1.0, 2.0])
    each, _ = arm_flows(line, np.array([0.8]))
    weight = np.array([0.30**2 / np.sqrt(2.5), 0.20**2 / np.sqrt(4.0)])
    np.testing.assert_allclose(each[0], 0.8 * weight / (weight @ [1.0, 2.0]), rtol=1e-9)


def test_splitting_one_kind_in_two_changes_nothing() -> None:
    together = heads_along(berth(counts=[3.0]), np.array([1.1]))[0]
    apart = heads_along(berth([ARMS[0], ARMS[0]], [2.0, 1.0]), np.array([1.1]))[0]
    np.testing.assert_allclose(together, apart, rtol=1e-10)


def test_arms_that_do_not_exist_carry_nothing_and_change_nothing() -> None:
    padded = berth([ARMS[0], (0.0, 1.0, 0.0, 0.0)], [2.0, 0.0])
    each, slope = arm_flows(padded, np.array([0.9]))
    assert each[0, 0] == pytest.approx(0.45, rel=1e-11)
    assert slope[0, 1] == 0.0
    plain, _ = heads_along(berth(), np.array([0.9]))
    np.testing.assert_allclose(heads_along(padded, np.array([0.9]))[0], plain, rtol=1e-10)


@given(st.floats(0.0, 2.5), st.floats(1e-4, 0.5), st.sampled_from([6e-7, 3e-5, 4e-4, 3e-3]))
def test_the_berth_asks_more_for_more_flow(flow: float, more: float, viscosity: float) -> None:
    for line in (berth(viscosity=viscosity), berth(ARMS, [2.0, 1.0, 1.0], viscosity=viscosity)):
        less, greater = (heads_along(line, np.array([q]))[0][0, 0] for q in (flow, flow + more))
        assert greater > less


@given(st.floats(0.05, 2.5), st.sampled_from([6e-7, 3e-5, 3e-3]))
def test_stated_slopes_are_the_slopes(flow: float, viscosity: float) -> None:
    for line in (berth(viscosity=viscosity), berth(ARMS, [2.0, 1.0, 1.0], viscosity=viscosity)):
        step = 1e-5
        (low, _), (_, slope), (high, _) = (heads_along(line, np.array([q])) for q in (flow - step, flow, flow + step))
        np.testing.assert_allclose(slope, (high - low) / (2.0 * step), rtol=5e-3, atol=1e-5)
        (low, _), (_, slope), (high, _) = (arm_flows(line, np.array([q])) for q in (flow - step, flow, flow + step))
        np.testing.assert_allclose(slope, (high - low) / (2.0 * step), rtol=5e-3, atol=1e-5)


def test_berths_in_one_array_ask_what_each_asks_alone_and_stay_as_they_were() -> None:
    kinds: list[dict[str, Any]] = [{"viscosity": 1e-6}, {"viscosity": 3e-3, "end_head_m": 50.0}, {"viscosity": 3e-4}]
    lines = [berth(ARMS, [2.0, 1.0, 1.0], **kind) for kind in kinds]
    flows = np.array([0.9, 0.4, 1.2])

    def stack(get: Any) -> Any:
        return np.concatenate([get(line) for line in lines])

    def stack_pipes(get: Any) -> Pipes:
        names = ("length_m", "bore_m", "roughness_m", "loss_coefficient")
        return Pipes(*(stack(lambda line, name=name: getattr(get(line), name)) for name in names))

    together = BerthLine(
        stack_pipes(lambda line: line.arms),
        stack(lambda line: line.arm_count),
        stack_pipes(lambda line: line.segments),
        stack(lambda line: line.end_head_m),
        stack(lambda line: line.viscosity_m2_per_s),
    )
    kept = flows.copy()
    heads, slopes = heads_along(together, flows)
    for i, line in enumerate(lines):
        alone, alone_slope = heads_along(line, flows[i : i + 1])
        # the split of a whole array goes on until its slowest case has settled: last digits only
        np.testing.assert_allclose(heads[i], alone[0], rtol=1e-11)
        np.testing.assert_allclose(slopes[i], alone_slope[0], rtol=1e-8)
    np.testing.assert_array_equal(flows, kept)
