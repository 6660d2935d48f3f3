"""The shore side of cases as arrays in SI, and what limits it (pure: no Django)."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from compat.case_file import CaseFile
from shared.calc.root import Array
from shared.calc.units import BAR_PA, GRAVITY_M_PER_S2
from shared.pipe_arrays import area_m2, pipes_of
from terminals.calc.berth_line import BerthLine
from terminals.facts import BerthFacts


def berth_line(cases: Sequence[CaseFile], density: Array, viscosity: Array) -> BerthLine:
    """Return arms, shore line and far end of each case."""
    most = max(len(case.berth.arms) for case in cases)
    counts = [[arm.count for arm in case.berth.arms] + [0] * (most - len(case.berth.arms)) for case in cases]
    return BerthLine(
        arms=pipes_of([case.berth.arms for case in cases]),
        arm_count=np.array(counts, dtype=float),
        segments=pipes_of([case.berth.shore_line for case in cases]),
        end_head_m=np.array([_end_head_m(case.berth, float(rho)) for case, rho in zip(cases, density, strict=True)]),
        viscosity_m2_per_s=viscosity,
    )


def _end_head_m(berth: BerthFacts, density_kg_per_m3: float) -> float:
    weight = density_kg_per_m3 * GRAVITY_M_PER_S2
    end = berth.shore_end
    if end.tank is not None:
        return float(end.tank.surface_elevation_m + end.tank.gas_pressure_bar_gauge * BAR_PA / weight)
    line = berth.shore_line
    elevation = line[-1].end_elevation_m if line else berth.arm_shore_end_elevation_m
    return float(elevation + (end.back_pressure_bar_gauge or 0.0) * BAR_PA / weight)


def point_elevations(cases: Sequence[CaseFile]) -> Array:
    """Return the elevation in m of manifold, arm end and segment ends, the last one repeated as padding."""
    most = max(len(case.berth.shore_line) for case in cases)
    rows = []
    for case in cases:
        row = [case.keel_elevation_m + case.ship.manifold.elevation_m, case.berth.arm_shore_end_elevation_m]
        row += [segment.end_elevation_m for segment in case.berth.shore_line]
        rows.append(row + [row[-1]] * (2 + most - len(row)))
    return np.array(rows, dtype=float)


def pressure_caps(cases: Sequence[CaseFile]) -> Array:
    """Return the highest gauge pressure in Pa allowed at each point: the least rating of what meets there."""
    points = 2 + max(len(case.berth.shore_line) for case in cases)
    return np.array([_pressure_caps(case, points) for case in cases])


def _pressure_caps(case: CaseFile, points: int) -> list[float]:
    berth = case.berth
    arms = [_pascal(arm.rating_bar_gauge) for arm in berth.arms]
    agreed, limit = case.agreed.manifold_pressure_bar_gauge, berth.manifold_pressure_limit_bar_gauge
    caps = [np.inf] * points
    own = [_pascal(limit.manifold_pressure_bar_gauge) for limit in case.own_limits]
    caps[0] = min(_pascal(agreed), _pascal(limit), _pascal(case.ship.manifold.rating_bar_gauge), *arms, *own)
    caps[1] = min(arms)
    for i, segment in enumerate(berth.shore_line):
        rating = _pascal(segment.rating_bar_gauge)
        caps[1 + i] = min(caps[1 + i], rating)
        caps[2 + i] = min(caps[2 + i], rating)
    return caps


def _pascal(rating_bar: float | None) -> float:
    return np.inf if rating_bar is None else rating_bar * BAR_PA


def arm_flow_caps(cases: Sequence[CaseFile]) -> Array:
    """Return the highest flow in m3/s through one arm of each kind by its velocity limit."""
    most = max(len(case.berth.arms) for case in cases)
    rows = []
    for case in cases:
        limits = [(arm, arm.velocity_limit_m_per_s) for arm in case.berth.arms]
        row = [np.inf if limit is None else limit * area_m2(arm) for arm, limit in limits]
        rows.append(row + [np.inf] * (most - len(row)))
    return np.array(rows)
