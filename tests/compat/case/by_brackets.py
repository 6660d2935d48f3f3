"""A case solved a second time, one number at a time: scipy's brackets, the `fluids` library's friction, no arrays.

Slow and plain. It shares no line with the project's own solver; the stated curve is read as in ``epanet``.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from fluids.friction import Colebrook
from scipy.optimize import brentq

from compat.case.case_file import CaseFile, PumpState
from shared.facts import PipeSegment
from tests.compat.epanet import stated_head_m
from vessels.facts import PumpFacts

GRAVITY = 9.80665
FrictionLaw = Callable[[float, float], float]


def turbulent_from(reynolds_number: float) -> FrictionLaw:
    """Return the law 64/Re below a Reynolds number and Colebrook's from there on."""

    def factor(reynolds: float, relative_roughness: float) -> float:
        if reynolds < reynolds_number:
            return 64.0 / reynolds
        return float(Colebrook(Re=reynolds, eD=relative_roughness))

    return factor


@dataclass(frozen=True)
class Solved:
    """Flows in m3/s by pump key, total, and the Reynolds number of every run of pipe that carries flow."""

    total_m3_per_s: float
    pump_m3_per_s: dict[str, float]
    reynolds: list[float]


class _System:
    def __init__(self, case: CaseFile, law: FrictionLaw) -> None:
        self.case, self.law = case, law
        self.viscosity = case.cargo.kinematic_viscosity_mm2_per_s * 1e-6
        self.weight = case.cargo.density_kg_per_m3 * GRAVITY

    def reynolds(self, segment: PipeSegment, flow: float) -> float:
        return 4.0 * abs(flow) / (math.pi * segment.bore_mm / 1000.0 * self.viscosity)

    def loss(self, segment: PipeSegment, flow: float) -> float:
        if flow == 0.0:
            return 0.0
        bore = segment.bore_mm / 1000.0
        speed = flow / (math.pi * bore**2 / 4.0)
        factor = self.law(self.reynolds(segment, flow), segment.roughness_mm / 1000.0 / bore)
        return (
            (factor * segment.length_m / bore + (segment.loss_coefficient or 0.0)) * speed * abs(speed) / (2 * GRAVITY)
        )

    def arm_flows(self, flow: float) -> list[float]:
        arms = self.case.berth.arms

        def flow_at(arm: PipeSegment, head: float) -> float:
            return float(brentq(lambda q: self.loss(arm, q) - head, 0.0, 2.0 * flow + 1e-9, xtol=1e-15, rtol=1e-14))

        if len(arms) == 1:
            return [flow / arms[0].count]
        most = min(self.loss(arm, flow) for arm in arms)  # with this head one arm alone would carry all
        head = brentq(
            lambda h: sum(arm.count * flow_at(arm, h) for arm in arms) - flow, 0.0, most, xtol=1e-13, rtol=1e-14
        )
        return [flow_at(arm, float(head)) for arm in arms]

    def needed(self, flow: float) -> float:
        """Head that is needed where the pumps meet."""
        line, end = self.case.berth.shore_line, self.case.berth.shore_end
        if end.tank is not None:
            head = end.tank.surface_elevation_m + end.tank.gas_pressure_bar_gauge * 1e5 / self.weight
        else:
            last = line[-1].end_elevation_m if line else self.case.berth.arm_shore_end_elevation_m
            head = last + (end.back_pressure_bar_gauge or 0.0) * 1e5 / self.weight
        arms = self.loss(self.case.berth.arms[0], self.arm_flows(flow)[0]) if flow else 0.0
        return float(head + arms + sum(self.loss(s, flow) for s in [*line, *self.case.ship.common_line]))

    def pump_flow(self, pump: PumpFacts, state: PumpState, head: float) -> float:
        assert state.speed_rpm is not None
        ratio = state.speed_rpm / pump.curves[0].speed_rpm
        tank = self.case.keel_elevation_m + state.tank_surface_elevation_m
        tank += state.tank_gas_pressure_bar_gauge * 1e5 / self.weight

        def surplus(flow: float) -> float:
            own = ratio**2 * float(stated_head_m(pump, flow * 3600.0 / ratio))  # type: ignore[arg-type]
            losses = sum(self.loss(s, flow) for s in [*pump.suction_line, *pump.discharge_line])
            return tank + own - losses - head

        if surplus(0.0) <= 0.0:
            return 0.0
        curve = pump.curves[0]
        if curve.points is not None:
            most = curve.points[-1].flow_m3_per_h
        else:
            c = curve.coefficients
            assert c is not None
            most = (c.shut_off_head_m / c.drop_at_1_m3_per_h_m) ** (1.0 / c.exponent)
        most *= ratio / 3600.0
        return most if surplus(most) > 0 else float(brentq(surplus, 0.0, most, xtol=1e-14, rtol=1e-13))


def solve(case: CaseFile, law: FrictionLaw) -> Solved:
    """Return the flows of a case at its stated speeds with a given friction law."""
    system = _System(case, law)
    pumps = {pump.key: pump for pump in case.ship.pumps}
    running = [state for state in case.operation.pumps if state.running]

    def flows(total: float) -> dict[str, float]:
        head = system.needed(total)
        return {state.pump: system.pump_flow(pumps[state.pump], state, head) for state in running}

    most = sum(flows(0.0).values())
    total = float(brentq(lambda q: sum(flows(q).values()) - q, 0.0, most, xtol=1e-13, rtol=1e-12))
    each = flows(total)
    carried = [(arm, q) for arm, q in zip(case.berth.arms, system.arm_flows(total), strict=True)]
    carried += [(segment, total) for segment in [*case.berth.shore_line, *case.ship.common_line]]
    for key, flow in each.items():
        carried += [(segment, flow) for segment in [*pumps[key].suction_line, *pumps[key].discharge_line]]
    return Solved(total, each, [system.reynolds(segment, q) for segment, q in carried if q > 0])
