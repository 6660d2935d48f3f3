"""Parts of a shore beyond arms and segments: several receiving tanks, a booster pump, a loss known as a whole."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.calc.arrays import map_arrays
from shared.calc.curve import constant_pieces, pieces_through, stack_pieces
from shared.calc.line import head_loss
from terminals.calc.berth_line import (
    BerthLine,
    Booster,
    Branches,
    LumpedLoss,
    branch_flows,
    head_behind_booster,
    heads_along,
)
from tests.terminals.calc.test_berth_line import ARMS, berth, pipes

TANKS = [(200.0, 0.4, 1e-4, 3.0), (600.0, 0.3, 1e-4, 2.0), (350.0, 0.35, 1e-4, 5.0)]
POINTS = [(0.0, 60.0), (0.5, 52.0), (1.0, 35.0)]


def with_tanks(levels: list[float], runs: list[tuple[float, float, float, float]] = TANKS, **more: Any) -> BerthLine:
    """One berth that ends in several tanks."""
    branches = Branches(pipes(runs), np.array([levels]), np.ones((1, len(levels)), dtype=bool))
    return replace(berth(**more), branches=branches)


def with_booster(feeds: int, points: list[tuple[float, float]] | None = None) -> BerthLine:
    """One berth with a booster before a segment, the first being 0."""
    columns = np.zeros((1, 4))
    columns[0, 1 + feeds] = 1.0
    curve = constant_pieces(0.0) if points == [] else pieces_through(*zip(*(points or POINTS), strict=True))
    return replace(berth(), booster=Booster(stack_pieces([curve]), columns))


def heads(line: BerthLine, flow: float) -> np.ndarray:
    """Return the heads along a single berth."""
    return heads_along(line, np.array([flow]))[0][0]


# Several receiving tanks


@given(st.floats(0.0, 1.5), st.sampled_from([1e-6, 1e-4, 2e-3]), st.lists(st.floats(5.0, 30.0), min_size=3, max_size=3))
@settings(max_examples=30)
def test_tanks_share_the_flow_so_that_all_start_from_one_head(
    flow: float, viscosity: float, levels: list[float]
) -> None:
    line = with_tanks(levels, viscosity=viscosity)
    each = branch_flows(line, np.array([flow]))
    assert each.sum() == pytest.approx(flow, rel=1e-9, abs=1e-11)
    lost, _ = head_loss(pipes(TANKS), each, np.array([[viscosity]]))
    np.testing.assert_allclose(levels + lost[0], heads(line, flow)[-1], rtol=1e-7, atol=1e-7)


def test_level_tanks_of_fittings_alone_share_in_closed_form() -> None:
    """K v²/2g equal in all: flows go as area over the root of K."""
    runs = [(0.0, 0.4, 0.0, 2.5), (0.0, 0.3, 0.0, 4.0)]
    each = branch_flows(with_tanks([12.0, 12.0], runs), np.array([0.7]))[0]
    weight = np.array([0.4**2 / np.sqrt(2.5), 0.3**2 / np.sqrt(4.0)])
    np.testing.assert_allclose(each, 0.7 * weight / weight.sum(), rtol=1e-9)


def test_alike_tanks_share_alike_and_ask_what_one_asks_at_its_share() -> None:
    three = with_tanks([14.0] * 3, TANKS[:1] * 3)
    np.testing.assert_allclose(branch_flows(three, np.array([0.9])), 0.3, rtol=1e-10)
    lost = head_loss(pipes(TANKS[:1]), np.array([[0.3]]), np.array([[1e-5]]))[0][0, 0]
    assert heads(three, 0.9)[-1] == pytest.approx(14.0 + lost, rel=1e-10)


def test_at_rest_the_higher_tank_runs_back_into_the_lower_one() -> None:
    each = branch_flows(with_tanks([20.0, 8.0], TANKS[:2]), np.zeros(1))[0]
    assert each[0] < 0.0 < each[1]
    assert each.sum() == pytest.approx(0.0, abs=1e-10)


def test_a_tank_that_is_shut_takes_nothing_and_changes_nothing() -> None:
    line = with_tanks([14.0, 10.0, 99.0])
    assert line.branches is not None
    shut = replace(line, branches=replace(line.branches, is_open=np.array([[True, True, False]])))
    np.testing.assert_allclose(heads(shut, 0.8), heads(with_tanks([14.0, 10.0], TANKS[:2]), 0.8), rtol=1e-10)
    assert branch_flows(shut, np.array([0.8]))[0, 2] == 0.0


def test_berths_with_and_without_several_tanks_stand_side_by_side() -> None:
    several, single = with_tanks([14.0, 10.0], TANKS[:2]), berth(end_head_m=23.0)
    assert several.branches is not None
    none = replace(several.branches, is_open=np.zeros((1, 2), dtype=bool))
    together = map_arrays(lambda *rows: np.concatenate(rows), several, replace(single, branches=none))
    found = heads_along(together, np.array([0.8, 0.8]))[0]
    np.testing.assert_allclose(found[0], heads(several, 0.8), rtol=1e-10)
    np.testing.assert_allclose(found[1], heads(single, 0.8), rtol=1e-10)
    assert branch_flows(single, np.array([0.8])).shape == (1, 0)


# A booster on the line


def test_a_booster_of_no_head_changes_nothing() -> None:
    for feeds in (0, 1, 2):
        np.testing.assert_allclose(heads(with_booster(feeds, []), 0.9), heads(berth(), 0.9), rtol=1e-14)


@pytest.mark.parametrize("feeds", [0, 1, 2])
def test_a_booster_takes_its_head_off_everything_before_the_segment_that_it_feeds(feeds: int) -> None:
    plain, boosted = heads(berth(), 0.5), heads(with_booster(feeds), 0.5)
    expected = plain - np.where(np.arange(5) <= 1 + feeds, 52.0, 0.0)
    np.testing.assert_allclose(boosted, expected, rtol=1e-12)


@pytest.mark.parametrize("feeds", [0, 1, 2])
def test_right_behind_a_booster_stands_the_head_before_it_and_its_own(feeds: int) -> None:
    """Which is what the line would ask there without any booster."""
    line = with_booster(feeds)
    assert line.booster is not None
    behind, _ = head_behind_booster(line, line.booster, np.array([0.5]))
    assert behind[0] == pytest.approx(heads(berth(), 0.5)[1 + feeds], rel=1e-12)
    assert behind[0] == pytest.approx(heads(line, 0.5)[1 + feeds] + 52.0, rel=1e-12)


# A loss known as a whole


def test_a_lumped_loss_stands_at_the_manifold_only() -> None:
    line = replace(berth(), lumped=LumpedLoss(np.array([40.0]), np.array([1.8])))
    expected = heads(berth(), 0.7)
    expected[0] += 40.0 * 0.7**1.8
    np.testing.assert_allclose(heads(line, 0.7), expected, rtol=1e-12)
    np.testing.assert_allclose(heads(line, 0.0), heads(berth(), 0.0), atol=1e-12)


# What all of them owe


LINES = {
    "tanks": with_tanks([14.0, 10.0, 12.0]),
    "tanks behind unlike arms": with_tanks([14.0, 10.0, 12.0], arms=ARMS, counts=[2.0, 1.0, 1.0]),
    "booster": with_booster(1),
    "lumped": replace(berth(), lumped=LumpedLoss(np.array([40.0]), np.array([1.8]))),
}


@pytest.mark.parametrize("name", LINES)
@given(flow=st.floats(0.05, 0.95))
@settings(max_examples=15)
def test_stated_slopes_are_the_slopes(name: str, flow: float) -> None:
    line, step = LINES[name], 1e-5
    if min(abs(flow - point) for point, _ in POINTS) < 1e-3:  # the booster's curve bends there
        return
    (low, _), (_, slope), (high, _) = (heads_along(line, np.array([q])) for q in (flow - step, flow, flow + step))
    np.testing.assert_allclose(slope, (high - low) / (2.0 * step), rtol=5e-3, atol=1e-4)


@pytest.mark.parametrize("name", LINES)
def test_many_flows_at_once_ask_what_each_asks_alone(name: str) -> None:
    flows = np.array([0.0, 0.2, 0.55, 0.9])
    line = LINES[name]
    wide = map_arrays(lambda array: np.repeat(array, flows.size, axis=0), line)
    kept = flows.copy()
    together = heads_along(wide, flows)[0]
    for row, flow in zip(together, flows, strict=True):
        np.testing.assert_allclose(row, heads(line, float(flow)), rtol=1e-9, atol=1e-9)
    np.testing.assert_array_equal(flows, kept)
