"""The shore side of cases as arrays in SI, and what limits it (pure: no Django)."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from compat.case.case_file import CaseFile
from shared.calc.curve import constant_pieces, pieces_through, stack_pieces
from shared.calc.root import Array
from shared.calc.units import BAR_PA, GRAVITY_M_PER_S2, HOUR_S, MM2_PER_S
from shared.pipe_arrays import area_m2, pipes_of
from terminals.calc.berth_line import BerthLine, Booster, Branches, LumpedLoss, changed_line
from terminals.calc.observed import GREATEST_EXPONENT, ObservedShore, coefficient_for, fit_observed
from terminals.facts import ArmFacts, BerthFacts


def berth_line(cases: Sequence[CaseFile], density: Array, viscosity: Array) -> BerthLine:
    """Return arms, shore line and far end of each case."""
    most = max(len(case.berth.arms) for case in cases)
    counts = [[arm.count for arm in case.berth.arms] + [0] * (most - len(case.berth.arms)) for case in cases]
    line = BerthLine(
        arms=pipes_of([_arms(case.berth) for case in cases]),
        arm_count=np.array(counts, dtype=float),
        segments=pipes_of([case.berth.shore_line for case in cases]),
        end_head_m=np.array([_end_head_m(case.berth, float(rho)) for case, rho in zip(cases, density, strict=True)]),
        viscosity_m2_per_s=viscosity,
        lumped=_lumped(cases, viscosity),
        booster=_booster(cases),
        branches=_branches(cases, density),
    )
    return _as_found(line, cases)


def _as_found(line: BerthLine, cases: Sequence[CaseFile]) -> BerthLine:
    """Return the line with what records of transfers showed of it."""
    found = [case.berth.found for case in cases]
    if not any(found):
        return line
    resistance = [100.0 if one is None or one.resistance_percent is None else one.resistance_percent for one in found]
    static = [0.0 if one is None or one.static_head_m is None else one.static_head_m for one in found]
    return changed_line(line, np.array(resistance) / 100.0, np.array(static))


def _arms(berth: BerthFacts) -> list[ArmFacts]:
    """Return the arms, lossless where observed pairs already hold their loss."""
    if berth.shore_end.observed is None:
        return berth.arms
    return [arm.model_copy(update={"length_m": 0.0, "loss_coefficient": 0.0}) for arm in berth.arms]


def observed_shore(berth: BerthFacts) -> ObservedShore | None:
    """Return the fit of a berth's observed pairs, in head over its own zero, or nothing where it has none."""
    stated = berth.shore_end.observed
    if stated is None:
        return None
    weight = stated.density_kg_per_m3 * GRAVITY_M_PER_S2
    pressure = np.array([pair.manifold_pressure_bar_gauge for pair in stated.pairs]) * BAR_PA
    flow = np.array([pair.rate_m3_per_h for pair in stated.pairs]) / HOUR_S
    return fit_observed(flow, pressure / weight + stated.manifold_elevation_m)


def _lumped(cases: Sequence[CaseFile], viscosity: Array) -> LumpedLoss | None:
    fits = [observed_shore(case.berth) for case in cases]
    if not any(fits):
        return None
    coefficients = []
    for case, fit, nu in zip(cases, fits, viscosity, strict=True):
        stated = case.berth.shore_end.observed
        if fit is None or stated is None:
            coefficients.append(0.0)
        else:
            ratio = float(nu) / (stated.kinematic_viscosity_mm2_per_s * MM2_PER_S)
            coefficients.append(coefficient_for(fit, ratio))
    return LumpedLoss(
        np.array(coefficients), np.array([GREATEST_EXPONENT if fit is None else fit.exponent for fit in fits])
    )


def _booster(cases: Sequence[CaseFile]) -> Booster | None:
    if not any(case.berth.booster for case in cases):
        return None
    feeds = np.zeros((len(cases), 1 + max(len(case.berth.shore_line) for case in cases)))
    heads = []
    for i, case in enumerate(cases):
        booster = case.berth.booster
        if booster is None:
            heads.append(constant_pieces(0.0))
            continue
        heads.append(
            pieces_through([p.flow_m3_per_h / HOUR_S for p in booster.points], [p.head_m for p in booster.points])
        )
        feeds[i, 1 + segment_fed(case.berth)] = 1.0
    return Booster(stack_pieces(heads), feeds)


def segment_fed(berth: BerthFacts) -> int:
    """Return the place in the shore line of the segment that the booster pump feeds; past its end without one."""
    if berth.booster is None:
        return len(berth.shore_line)
    return [segment.name for segment in berth.shore_line].index(berth.booster.feeds_segment)


def _branches(cases: Sequence[CaseFile], density: Array) -> Branches | None:
    tanks = [case.berth.shore_end.tanks for case in cases]
    most = max(len(row) for row in tanks)
    if not most:
        return None
    heads = np.zeros((len(cases), most))
    for i, (row, rho) in enumerate(zip(tanks, density, strict=True)):
        for j, tank in enumerate(row):
            heads[i, j] = tank.surface_elevation_m + tank.gas_pressure_bar_gauge * BAR_PA / (rho * GRAVITY_M_PER_S2)
    is_open = np.arange(most) < np.array([len(row) for row in tanks])[:, None]
    return Branches(pipes_of(tanks), heads, is_open)


def _end_head_m(berth: BerthFacts, density_kg_per_m3: float) -> float:
    weight = density_kg_per_m3 * GRAVITY_M_PER_S2
    end = berth.shore_end
    observed = observed_shore(berth)
    if observed is not None:
        return observed.static_head_m
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


def booster_caps(cases: Sequence[CaseFile]) -> Array:
    """Return the highest gauge pressure in Pa allowed behind each booster: the rating of the segment it feeds."""
    if not any(case.berth.booster for case in cases):
        return np.zeros((len(cases), 0))
    fed = [case.berth.shore_line[segment_fed(case.berth) :][:1] for case in cases]
    return np.array([[min((_pascal(segment.rating_bar_gauge) for segment in row), default=np.inf)] for row in fed])


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
