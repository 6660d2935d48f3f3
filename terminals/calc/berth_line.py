"""What the shore asks of the ship's manifold: head and gauge pressure along arms and shore line at each flow."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from shared.calc.curve import Pieces
from shared.calc.line import Pipes, head_loss, joined
from shared.calc.root import Array, Flags

_LEAST_SLOPE = 1e-9  # m per m3/s: keeps a split defined at rest where only K is stated
_MOST_STEPS = 60


@dataclass(frozen=True)
class LumpedLoss:
    """A loss at the manifold known as a whole: coefficient * flow^exponent in m, flow in m3/s; both (cases,)."""

    coefficient: Array
    exponent: Array


@dataclass(frozen=True)
class Booster:
    """A pump on the shore line: head in m over flow in m3/s, and a 1 in the column of the segment that it feeds.

    ``head`` has shape (cases,), ``feeds`` (cases, 1 + segments), arms first.
    """

    head: Pieces
    feeds: Array


@dataclass(frozen=True)
class Branches:
    """Receiving tanks open side by side at the end of the line, each at its own head through its own pipe.

    Arrays have shape (cases, tanks); ``is_open`` is false where a case has fewer tanks.
    """

    pipes: Pipes
    head_m: Array
    is_open: Flags


@dataclass(frozen=True)
class BerthLine:
    """Arms side by side, then shore segments in a row, as arrays with the cases on the first axis.

    ``arms`` has shape (cases, kinds) with ``arm_count`` beside it; ``segments`` has (cases, segments).
    ``end_head_m`` is the head at the far end: tank surface plus gas pressure, or elevation plus back-pressure;
    it counts only where no ``branches`` are open. Parts that no case has are None.
    """

    arms: Pipes
    arm_count: Array
    segments: Pipes
    end_head_m: Array
    viscosity_m2_per_s: Array
    lumped: LumpedLoss | None = None
    booster: Booster | None = None
    branches: Branches | None = None

    @cached_property
    def in_row(self) -> tuple[Pipes, Array]:
        """Arms (where all are of one kind) and segments as one row, and each one's share of the flow."""
        share = np.concatenate([1.0 / self.arm_count, np.ones_like(self.segments.length_m)], axis=-1)
        return joined(self.arms, self.segments), share


def changed_line(line: BerthLine, resistance: Array, static_head_m: Array) -> BerthLine:
    """Return a line that loses ``resistance`` (cases,) times as much head, against ``static_head_m`` (cases,) more.

    Losses go with length and K at any flow, so scaling both scales the loss exactly; a booster's head stays.
    """
    branches = line.branches
    if branches is not None:
        heads = branches.head_m + static_head_m[:, None]
        branches = replace(branches, pipes=_scaled(branches.pipes, resistance), head_m=heads)
    lumped = line.lumped
    if lumped is not None:
        lumped = replace(lumped, coefficient=lumped.coefficient * resistance)
    return replace(
        line,
        arms=_scaled(line.arms, resistance),
        segments=_scaled(line.segments, resistance),
        end_head_m=line.end_head_m + static_head_m,
        lumped=lumped,
        branches=branches,
    )


def _scaled(pipes: Pipes, factor: Array) -> Pipes:
    return replace(
        pipes,
        length_m=pipes.length_m * factor[:, None],
        loss_coefficient=pipes.loss_coefficient * factor[:, None],
    )


def arm_flows(line: BerthLine, flow_m3_per_s: Array) -> tuple[Array, Array]:
    """Return the flow through one arm of each kind in m3/s, and its slope with the flow of the whole berth."""
    if line.arm_count.shape[-1] == 1:
        return flow_m3_per_s[..., None] / line.arm_count, 1.0 / line.arm_count
    split = _split_arms(line, flow_m3_per_s)
    return split.each, split.each_slope


def branch_flows(line: BerthLine, flow_m3_per_s: Array) -> Array:
    """Return the flow into each receiving tank in m3/s, below zero out of it; (cases, 0) where there is one end."""
    if line.branches is None:
        return np.zeros((*flow_m3_per_s.shape, 0))
    return _split_branches(line, line.branches, flow_m3_per_s).each


@dataclass(frozen=True)
class _Split:
    each: Array
    each_slope: Array
    head: Array
    head_slope: Array


def _split(pipes: Pipes, count: Array, static: Array, viscosity: Array, flow: Array) -> _Split:
    """Share a flow among pipes side by side so that all start from one head; ``static`` is the head at their ends.

    Linearised and repeated (Todini & Pilati 1988). ``count`` is how many of each there are, 0 for none.
    """
    present = count > 0
    area = np.where(present, pipes.area_m2, 0.0)
    each = flow[..., None] * area / (count * area).sum(-1, keepdims=True)
    for _ in range(_MOST_STEPS):
        loss, slope = head_loss(pipes, each, viscosity[..., None])
        slope = np.maximum(slope, _LEAST_SLOPE)
        conductance = count / slope
        wanted = flow - (count * each).sum(-1) + (conductance * (loss + static)).sum(-1)
        head = wanted / conductance.sum(-1)
        step = np.where(present, (head[..., None] - static - loss) / slope, 0.0)
        each = each + step
        if (np.abs(step) <= 1e-13 + 1e-12 * np.abs(each)).all():
            break
    head_slope = 1.0 / conductance.sum(-1)
    return _Split(each, np.where(present, head_slope[..., None] / slope, 0.0), head, head_slope)


def _split_arms(line: BerthLine, flow: Array) -> _Split:
    return _split(line.arms, line.arm_count, np.zeros_like(line.arm_count), line.viscosity_m2_per_s, flow)


def _split_branches(line: BerthLine, branches: Branches, flow: Array) -> _Split:
    count = branches.is_open.astype(float)
    return _split(branches.pipes, count, branches.head_m, line.viscosity_m2_per_s, flow)


def _losses(line: BerthLine, flow: Array) -> tuple[Array, Array]:
    """Return the head lost in the arms and in each segment, (cases, 1 + segments), and slopes with total flow."""
    loss, slope = _pipe_losses(line, flow)
    if line.lumped is not None:
        speed = np.abs(flow)
        lumped = line.lumped.coefficient * speed ** (line.lumped.exponent - 1.0)
        loss[..., 0] += lumped * flow
        slope[..., 0] += line.lumped.exponent * lumped
    if line.booster is not None:
        head, head_slope = line.booster.head.evaluate(flow)
        loss -= line.booster.feeds * head[..., None]
        slope -= line.booster.feeds * head_slope[..., None]
    return loss, slope


def _pipe_losses(line: BerthLine, flow: Array) -> tuple[Array, Array]:
    viscosity = line.viscosity_m2_per_s[..., None]
    if line.arm_count.shape[-1] == 1:
        pipes, share = line.in_row
        loss, slope = head_loss(pipes, flow[..., None] * share, viscosity)
        return loss, slope * share
    arms = _split_arms(line, flow)
    loss, slope = head_loss(line.segments, flow[..., None], viscosity)
    return (
        np.concatenate([arms.head[..., None], loss], axis=-1),
        np.concatenate([arms.head_slope[..., None], slope], axis=-1),
    )


def _end(line: BerthLine, flow: Array) -> tuple[Array, Array]:
    if line.branches is None:
        return line.end_head_m, np.zeros_like(line.end_head_m)
    several = np.asarray(line.branches.is_open.any(-1))
    closed = Branches(line.branches.pipes, line.branches.head_m, line.branches.is_open | ~several[..., None])
    split = _split_branches(line, closed, flow)
    return np.where(several, split.head, line.end_head_m), np.where(several, split.head_slope, 0.0)


def head_behind_booster(line: BerthLine, booster: Booster, flow_m3_per_s: Array) -> tuple[Array, Array]:
    """Return the head in m right behind the booster pump, where the segment that it feeds begins, and its slope.

    Both have shape (cases,) and mean nothing for a case without a booster.
    """
    heads, slopes = heads_along(line, flow_m3_per_s)
    own, own_slope = booster.head.evaluate(flow_m3_per_s)
    return (booster.feeds * heads[..., :-1]).sum(-1) + own, (booster.feeds * slopes[..., :-1]).sum(-1) + own_slope


def heads_along(line: BerthLine, flow_m3_per_s: Array) -> tuple[Array, Array]:
    """Return the head in m at manifold, arm end and each segment end, and its slope with flow.

    ``flow_m3_per_s`` has shape (cases,); the answers have shape (cases, 2 + segments).
    """
    losses, slopes = _losses(line, flow_m3_per_s)
    end, end_slope = _end(line, flow_m3_per_s)
    shape = (*losses.shape[:-1], losses.shape[-1] + 1)
    downstream, downstream_slope = np.zeros(shape), np.zeros(shape)
    np.cumsum(losses[..., ::-1], axis=-1, out=downstream[..., -2::-1])
    np.cumsum(slopes[..., ::-1], axis=-1, out=downstream_slope[..., -2::-1])
    return end[..., None] + downstream, end_slope[..., None] + downstream_slope
