"""What the shore asks of the ship's manifold: head and gauge pressure along arms and shore line at each flow."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from shared.calc.line import Pipes, head_loss, joined
from shared.calc.root import Array

_LEAST_SLOPE = 1e-9  # m per m3/s: keeps the split of arms defined at rest where only K is stated


@dataclass(frozen=True)
class BerthLine:
    """Arms side by side, then shore segments in a row, as arrays with the cases on the first axis.

    ``arms`` has shape (cases, kinds) with ``arm_count`` beside it; ``segments`` has (cases, segments).
    ``end_head_m`` is the head at the far end: tank surface plus gas pressure, or elevation plus back-pressure.
    """

    arms: Pipes
    arm_count: Array
    segments: Pipes
    end_head_m: Array
    viscosity_m2_per_s: Array

    @cached_property
    def in_row(self) -> tuple[Pipes, Array]:
        """Arms (where all are of one kind) and segments as one row, and each one's share of the flow."""
        share = np.concatenate([1.0 / self.arm_count, np.ones_like(self.segments.length_m)], axis=-1)
        return joined(self.arms, self.segments), share


def arm_flows(line: BerthLine, flow_m3_per_s: Array) -> tuple[Array, Array]:
    """Return the flow through one arm of each kind in m3/s, and its slope with the flow of the whole berth."""
    if line.arm_count.shape[-1] == 1:
        return flow_m3_per_s[..., None] / line.arm_count, 1.0 / line.arm_count
    each, _, slope = _split(line, flow_m3_per_s)
    own_slope = np.maximum(head_loss(line.arms, each, line.viscosity_m2_per_s[..., None])[1], _LEAST_SLOPE)
    return each, np.where(line.arm_count > 0, slope[..., None] / own_slope, 0.0)


def _split(line: BerthLine, flow: Array) -> tuple[Array, Array, Array]:
    """Share a flow so that every arm loses the same head; linearised and repeated (Todini & Pilati 1988)."""
    present = line.arm_count > 0
    count = line.arm_count
    area = np.where(present, line.arms.area_m2, 0.0)
    each = flow[..., None] * area / (count * area).sum(-1, keepdims=True)
    viscosity = line.viscosity_m2_per_s[..., None]
    for _ in range(60):
        loss, slope = head_loss(line.arms, each, viscosity)
        slope = np.maximum(slope, _LEAST_SLOPE)
        conductance = count / slope
        common = (flow - (count * each).sum(-1) + (conductance * loss).sum(-1)) / conductance.sum(-1)
        step = np.where(present, (common[..., None] - loss) / slope, 0.0)
        each = each + step
        if (np.abs(step) <= 1e-13 + 1e-12 * np.abs(each)).all():
            break
    return each, common, 1.0 / conductance.sum(-1)


def _losses(line: BerthLine, flow: Array) -> tuple[Array, Array]:
    """Return the head lost in the arms and in each segment, (cases, 1 + segments), and slopes with total flow."""
    viscosity = line.viscosity_m2_per_s[..., None]
    if line.arm_count.shape[-1] == 1:
        pipes, share = line.in_row
        loss, slope = head_loss(pipes, flow[..., None] * share, viscosity)
        return loss, slope * share
    _, arm, arm_slope = _split(line, flow)
    loss, slope = head_loss(line.segments, flow[..., None], viscosity)
    return np.concatenate([arm[..., None], loss], axis=-1), np.concatenate([arm_slope[..., None], slope], axis=-1)


def heads_along(line: BerthLine, flow_m3_per_s: Array) -> tuple[Array, Array]:
    """Return the head in m at manifold, arm end and each segment end, and its slope with flow.

    ``flow_m3_per_s`` has shape (cases,); the answers have shape (cases, 2 + segments).
    """
    losses, slopes = _losses(line, flow_m3_per_s)
    shape = (*losses.shape[:-1], losses.shape[-1] + 1)
    downstream, downstream_slope = np.zeros(shape), np.zeros(shape)
    np.cumsum(losses[..., ::-1], axis=-1, out=downstream[..., -2::-1])
    np.cumsum(slopes[..., ::-1], axis=-1, out=downstream_slope[..., -2::-1])
    return line.end_head_m[..., None] + downstream, downstream_slope
