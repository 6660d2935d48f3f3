"""Plain lines for the checks of surge: one or two bores between a surface and a surface."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from compat.calc.surge.ends import Joint, Reservoir, Tank
from compat.calc.surge.grid import Grid, Run, make_grid
from compat.calc.surge.march import Line, steady_state


def run(length_m: float, bore_m: float, speed: float, loss_m: float = 0.0, flow: float = 0.1, **more: Any) -> Run:
    """Return a level run with its loss at a flow."""
    area = np.pi * bore_m**2 / 4.0
    places = {"start_elevation_m": 0.0, "end_elevation_m": 0.0} | more
    return Run(str(length_m), length_m, area, speed, loss_m, flow, **places)


def line_between(
    runs: Sequence[Run],
    step_s: float,
    head_m: float,
    flow: float,
    far_loss: Sequence[float] = (0.0,),
    far_head_m: float | None = None,
    joints: Mapping[int, Joint] | None = None,
    gains_m: Mapping[int, float] | None = None,
) -> Line:
    """Return a line from a surface to a surface in its steady state; the far head is the one that balances it."""
    grid: Grid = make_grid(runs, step_s)
    steady = steady_state(grid, head_m, flow, gains_m or {})
    far = float(steady[-1]) if far_head_m is None else far_head_m
    return Line(grid, steady, np.full(grid.nodes, flow), Reservoir(head_m), Tank(far, far_loss), dict(joints or {}))
