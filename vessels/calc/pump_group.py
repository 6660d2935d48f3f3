"""Pumps side by side, each from its own tank through its own lines to the common junction."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from shared.calc.line import Pipes, head_loss, joined
from shared.calc.root import Array, Root, ValueAndSlope, find_falling_root
from vessels.calc.pump import PumpCurves, greatest_tested_flow, pump_head

HEAD_TOLERANCE_M = 1e-9


@dataclass(frozen=True)
class PumpGroup:
    """Pumps as arrays of shape (cases, kinds): pumps alike in all respects are one kind with a ``count``.

    ``tank_head_m`` is the tank's surface elevation plus its gas gauge pressure as head of the liquid.
    A kind with count 0 does not exist. ``suction`` and ``discharge`` have one more axis, along the line.
    Non-return valves let no liquid back: a pump that can't reach the junction's head stands at no flow.
    """

    curves: PumpCurves
    count: Array
    tank_head_m: Array
    elevation_m: Array
    suction: Pipes
    discharge: Pipes
    viscosity_m2_per_s: Array

    def suction_loss(self, flow: Array) -> tuple[Array, Array]:
        """Return the head lost between each tank and its pump in m, and its slope with flow."""
        return self._loss(self.suction, flow)

    def junction_head(self, flow: Array, speed_rpm: Array) -> tuple[Array, Array, Array]:
        """Return the head that each pump brings to the junction at its own flow, and slopes by flow and speed."""
        head, by_flow, by_speed = pump_head(self.curves, flow, speed_rpm)
        loss, loss_slope = self._loss(self._lines, flow)
        return self.tank_head_m + head - loss, by_flow - loss_slope, by_speed

    @cached_property
    def _lines(self) -> Pipes:
        return joined(self.suction, self.discharge)

    def _loss(self, pipes: Pipes, flow: Array) -> tuple[Array, Array]:
        if pipes.length_m.shape[-1] == 0:
            return np.zeros_like(flow), np.zeros_like(flow)
        loss, slope = head_loss(pipes, flow[..., None], self.viscosity_m2_per_s[..., None])
        return loss.sum(-1), slope.sum(-1)


@dataclass(frozen=True)
class FlowsAtHead:
    """Flow of each pump against a junction head, and its slopes with that head and with speed."""

    flow_m3_per_s: Array
    by_head: Array
    by_speed: Array
    root: Root


def flows_at_head(
    group: PumpGroup, junction_head_m: Array, speed_rpm: Array, start: Array | None = None
) -> FlowsAtHead:
    """Return the flow in m3/s that each pump delivers at its speed into a junction at a given head.

    ``junction_head_m`` and ``speed_rpm`` have the group's shape. The bracket runs from no flow to where
    even the straight continuation of the curve no longer reaches the head.
    """

    def surplus(flow: Array) -> tuple[Array, Array]:
        head, slope, _ = group.junction_head(flow, speed_rpm)
        return head - junction_head_m, slope

    most = _flow_beyond(surplus, 1.2 * greatest_tested_flow(group.curves, speed_rpm))
    at_rest, _ = surplus(np.zeros_like(most))
    shut = (at_rest <= 0.0) | (group.count == 0)
    root = find_falling_root(
        surplus, np.zeros_like(most), np.where(shut, 0.0, most), start=start, tolerance=HEAD_TOLERANCE_M
    )
    flow = np.where(shut, 0.0, root.value)
    _, by_flow, by_speed = group.junction_head(flow, speed_rpm)
    slope = np.where(shut, -np.inf, np.minimum(by_flow, -1e-12))
    residual = np.where(shut, 0.0, root.residual)
    settled = Root(flow, residual, root.converged | shut, root.iterations)
    return FlowsAtHead(flow, 1.0 / slope, np.where(shut, 0.0, -by_speed / slope), settled)


def _flow_beyond(surplus: ValueAndSlope, first: Array) -> Array:
    most = np.array(first)
    for _ in range(60):
        value, _ = surplus(most)
        if (value <= 0).all():
            break
        most = np.where(value > 0, 2.0 * most, most)
    return most
