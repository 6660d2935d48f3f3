"""Sampled curves: the one gatekeeper for points, and their shape-preserving interpolant."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise


def check_falling_curve(flows_m3_per_h: Sequence[float], heads_m: Sequence[float]) -> None:
    """Raise ValueError with a sentence unless flow rises and head falls from each point to the next."""
    if len(flows_m3_per_h) < 2:
        raise ValueError("a curve needs at least two points.")
    points = list(zip(flows_m3_per_h, heads_m, strict=True))
    for (flow, head), (next_flow, next_head) in pairwise(points):
        if next_flow == flow:
            raise ValueError(f"two points are given at {flow:g} m³/h; keep one of them.")
        if next_flow < flow:
            raise ValueError(f"the point at {next_flow:g} m³/h stands after {flow:g} m³/h; put the flows in rising order.")
        if next_head >= head:
            raise ValueError(
                f"head does not fall from {head:g} m at {flow:g} m³/h to {next_head:g} m at {next_flow:g} m³/h;"
                " a curve that rises with flow has no single operating point, so correct the points or start after the hump."
            )
