"""Eductors beside cargo pumps, driven by what the pumps give, emptying into a tank on board (pure: no Django).

An eductor driven from the pumps' common discharge can't deliver back into it, since its head is always less than
that of its drive: so the liquid that drives it leaves the pumps' flow and does not go ashore. Where only eductors
run, they are driven from elsewhere and stand among the pumps.

Nozzle and curve follow the drive head as an orifice does: flows with its square root, heads in proportion (from
memory of texts on jet pumps; the same scaling as affinity laws have with speed).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from compat.calc.operating_point import OperatingPoint
from compat.case.answer_parts import EductorReading
from compat.case.case_arrays import CaseArrays
from compat.case.case_file import CaseFile, PumpState
from compat.case.pump_arrays import driven_eductors
from shared.calc.line import head_loss
from shared.calc.root import Array, find_falling_root
from shared.calc.units import BAR_PA, GRAVITY_M_PER_S2, HOUR_S, MM2_PER_S
from shared.cargo_facts import Liquid
from shared.facts import PipeSegment
from shared.pipe_arrays import pipes_of
from vessels.facts import PumpFacts
from vessels.pump_curves import curves_of

_MOST_ROUNDS = 30
_SETTLED_M3_PER_S = 1e-9
_FLOW_TOLERANCE_M = 1e-9

Solved = TypeVar("Solved")


@dataclass(frozen=True)
class _Drives:
    """Drive liquid of the eductors of each case at its stated head, (cases, eductors); no stated head is infinite."""

    flow_m3_per_s: Array
    stated_head_m: Array
    tank_head_m: Array

    def drawn_m3_per_s(self, junction_head_m: Array) -> Array:
        """Return what leaves the pumps' flow in each case at a head where the pumps meet."""
        head = np.maximum(junction_head_m[:, None] - self.tank_head_m, 0.0)
        ratio = np.where(np.isfinite(self.stated_head_m), head / self.stated_head_m, head > 0.0)
        return np.asarray((self.flow_m3_per_s * np.sqrt(ratio)).sum(-1))


def with_drives(
    arrays: CaseArrays, solve: Callable[[CaseArrays], Solved], point_of: Callable[[Solved], OperatingPoint]
) -> tuple[CaseArrays, Solved]:
    """Return arrays with the drive liquid of eductors drawn off, and what ``solve`` makes of them.

    The drive liquid goes with the head where the pumps meet, and that head with the drive liquid: repeated until they
    agree. Every cap on the rate is one on what goes ashore.
    """
    drives = _drives(arrays)
    if drives is None:
        return arrays, solve(arrays)
    drawn, now = drives.flow_m3_per_s.sum(-1), arrays
    for _ in range(_MOST_ROUNDS):
        limits = replace(arrays.limits, flow_m3_per_s=arrays.limits.flow_m3_per_s + drawn)
        now = replace(arrays, system=replace(arrays.system, drawn_off_m3_per_s=drawn), limits=limits)
        found = solve(now)
        after = drives.drawn_m3_per_s(point_of(found).junction_head_m)
        if np.abs(after - drawn).max() <= _SETTLED_M3_PER_S:
            break
        drawn = after
    return now, found


def _drives(arrays: CaseArrays) -> _Drives | None:
    every = [driven_eductors(case) for case in arrays.pumps.cases]
    most = max(len(row) for row in every)
    if not most:
        return None
    flow, stated, tank = np.zeros((len(every), most)), np.full((len(every), most), np.inf), np.zeros((len(every), most))
    for i, (case, liquid, row) in enumerate(zip(arrays.pumps.cases, arrays.pumps.liquids, every, strict=True)):
        for j, (pump, state) in enumerate(row):
            flow[i, j] = (pump.drive_liquid_m3_per_h or 0.0) / HOUR_S
            stated[i, j] = np.inf if pump.drive_head_m is None else pump.drive_head_m
            tank[i, j] = _tank_head_m(case, state, liquid)
    return _Drives(flow, stated, tank)


def _tank_head_m(case: CaseFile, state: PumpState, liquid: Liquid) -> float:
    gas = state.tank_gas_pressure_bar_gauge * BAR_PA / (liquid.density_kg_per_m3 * GRAVITY_M_PER_S2)
    return float(case.keel_elevation_m + state.tank_surface_elevation_m + gas)


def eductor_readings(case: CaseFile, liquid: Liquid, junction_head_m: float) -> tuple[EductorReading, ...]:
    """Return what each driven eductor takes from the pumps and strips, at the head where the pumps meet."""
    return tuple(
        _reading(case, pump, state, liquid, junction_head_m - _tank_head_m(case, state, liquid))
        for pump, state in driven_eductors(case)
    )


def _reading(case: CaseFile, pump: PumpFacts, state: PumpState, liquid: Liquid, head_m: float) -> EductorReading:
    ratio = float(np.sqrt(max(head_m, 0.0) / pump.drive_head_m)) if pump.drive_head_m else float(head_m > 0.0)
    drive = None if pump.drive_liquid_m3_per_h is None else pump.drive_liquid_m3_per_h * ratio
    stripped = None
    if pump.outlet_elevation_m is not None and drive is not None:
        lift = case.keel_elevation_m + pump.outlet_elevation_m - _tank_head_m(case, state, liquid)
        stripped = _stripped_m3_per_s(pump, liquid, ratio, drive / HOUR_S, lift) * HOUR_S
    return EductorReading(pump.key, pump.name, drive, max(head_m, 0.0), stripped)


def _stripped_m3_per_s(pump: PumpFacts, liquid: Liquid, ratio: float, drive_m3_per_s: float, lift_m: float) -> float:
    """Return the flow that an eductor lifts on its curve; its riser carries the drive liquid too."""
    if ratio <= 0.0:
        return 0.0
    curve = curves_of(pump).head
    viscosity = np.array(liquid.kinematic_viscosity_mm2_per_s * MM2_PER_S)

    def lost(segments: list[PipeSegment], flow: Array) -> tuple[Array, Array]:
        loss, slope = head_loss(pipes_of([segments]), flow[:, None], viscosity)
        return loss.sum(-1), slope.sum(-1)

    def surplus(flow: Array) -> tuple[Array, Array]:
        head, slope = curve.evaluate(flow / ratio)
        suction, suction_slope = lost(pump.suction_line, flow)
        riser, riser_slope = lost(pump.discharge_line, flow + drive_m3_per_s)
        return ratio**2 * head - suction - riser - lift_m, ratio * slope - suction_slope - riser_slope

    last = ratio * float(curve.knots.max())
    nothing, most = np.zeros(1), np.array([last])
    if surplus(nothing)[0][0] <= 0.0:
        return 0.0
    if surplus(most)[0][0] >= 0.0:  # the curve is not trusted further
        return last
    return float(find_falling_root(surplus, nothing, most, tolerance=_FLOW_TOLERANCE_M).value[0])
