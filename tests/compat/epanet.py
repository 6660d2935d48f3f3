"""A case as a network for EPANET 2.2, driven through wntr, to be compared with our own answer.

Written from the case file and not from our arrays: EPANET brings its own friction, its own affinity
laws, its own sharing of flows between pumps and between arms, and its own solver.

Three things are brought into line, because they are differences of constants and not of physics:
EPANET counts with g = 32.2 ft/s2 in its friction and with 0.02517 in its minor losses, so that lengths and
loss coefficients are handed to it scaled to standard gravity; its viscosity is relative to 1.1e-5 ft2/s; and
its pump curve is straight between points, so that it is given some hundreds of points of the stated curve.
"""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import wntr
from scipy.interpolate import PchipInterpolator

from compat.case.case_file import CaseFile
from shared.facts import PipeSegment
from vessels.facts import PumpFacts

GRAVITY = 9.80665
FOOT_M = 0.3048
HOUR_S = 3600.0
_LENGTH_SCALE = 32.2 * FOOT_M / GRAVITY
_MINOR_LOSS_SCALE = 8.0 / (math.pi**2 * (GRAVITY / FOOT_M)) / 0.02517
_VISCOSITY_1_M2_PER_S = 1.1e-5 * FOOT_M**2
_CURVE_POINTS = 400


@dataclass(frozen=True)
class NetworkAnswer:
    """What EPANET says: flows in m3/h and gauge pressures in bar, by the names of the case."""

    total_flow_m3_per_h: float
    pump_flow_m3_per_h: dict[str, float]
    arm_flow_m3_per_h: dict[str, float]
    suction_bar_gauge: dict[str, float]
    discharge_bar_gauge: dict[str, float]
    profile_bar_gauge: list[float]
    tank_flow_m3_per_h: dict[str, float]


def stated_head_m(pump: PumpFacts, flow_m3_per_h: np.ndarray) -> np.ndarray:
    """Return the head of a pump at its one tested speed, from the stated curve alone."""
    curve = pump.curves[0]
    if curve.coefficients is not None:
        c = curve.coefficients
        return np.asarray(c.shut_off_head_m - c.drop_at_1_m3_per_h_m * flow_m3_per_h**c.exponent)
    points = curve.points or []
    flows, heads = [p.flow_m3_per_h for p in points], [p.head_m for p in points]
    return np.asarray(PchipInterpolator(flows, heads)(flow_m3_per_h))


def _greatest_flow(pump: PumpFacts) -> float:
    curve = pump.curves[0]
    if curve.coefficients is not None:
        c = curve.coefficients
        return float((0.999 * c.shut_off_head_m / c.drop_at_1_m3_per_h_m) ** (1.0 / c.exponent))
    return (curve.points or [])[-1].flow_m3_per_h


class _Builder:
    """Adds the case's parts to a network, naming nodes and links after them."""

    def __init__(self, case: CaseFile) -> None:
        self.case = case
        self.weight = case.cargo.density_kg_per_m3 * GRAVITY
        self.network: Any = wntr.network.WaterNetworkModel()
        self.profile: list[str] = []
        options = self.network.options
        with warnings.catch_warnings():  # wntr warns that roughness now means a length, which is what we give
            warnings.simplefilter("ignore", UserWarning)
            options.hydraulic.headloss = "D-W"
        options.hydraulic.inpfile_units = "CMH"
        options.hydraulic.viscosity = case.cargo.kinematic_viscosity_mm2_per_s * 1e-6 / _VISCOSITY_1_M2_PER_S
        options.hydraulic.specific_gravity = case.cargo.density_kg_per_m3 / 1000.0
        # EPANET raises a smaller accuracy to 1e-5, but keeps to these two errors as stated.
        options.hydraulic.accuracy = 1e-5
        options.hydraulic.headerror = 1e-6
        options.hydraulic.flowchange = 1e-6
        options.hydraulic.trials = 400
        options.time.duration = 0

    def junction(self, name: str, elevation_m: float) -> str:
        self.network.add_junction(name, base_demand=0.0, elevation=elevation_m)
        return name

    def pipe(self, name: str, start: str, end: str, segment: PipeSegment, *, one_way: bool = False) -> None:
        self.network.add_pipe(
            name,
            start,
            end,
            length=segment.length_m * _LENGTH_SCALE,
            diameter=segment.bore_mm / 1000.0,
            roughness=segment.roughness_mm / 1000.0,
            minor_loss=(segment.loss_coefficient or 0.0) * _MINOR_LOSS_SCALE,
            check_valve=one_way,
        )

    def pump(self, pump: PumpFacts, speed_rpm: float | None) -> None:
        """Add a pump from its own tank to the junction ``together``; without a speed it stands, shut."""
        state = next(s for s in self.case.operation.pumps if s.pump == pump.key)
        elevation = self.case.keel_elevation_m + pump.elevation_m
        gas_head = state.tank_gas_pressure_bar_gauge * 1e5 / self.weight
        start = f"tank-{pump.key}"
        self.network.add_reservoir(
            start, base_head=self.case.keel_elevation_m + state.tank_surface_elevation_m + gas_head
        )
        for i, segment in enumerate(pump.suction_line):
            end = self.junction(f"suction-{pump.key}-{i}", elevation)
            self.pipe(f"suction-pipe-{pump.key}-{i}", start, end, segment)
            start = end
        lines = pump.discharge_line
        end = self.junction(f"discharge-{pump.key}", elevation) if lines else "together"
        self._pump_link(pump, start, end, speed_rpm)
        for i, segment in enumerate(lines):
            start = end
            end = "together" if i == len(lines) - 1 else self.junction(f"riser-{pump.key}-{i}", elevation)
            self.pipe(f"riser-pipe-{pump.key}-{i}", start, end, segment, one_way=i == 0)

    def _pump_link(self, pump: PumpFacts, start: str, end: str, speed_rpm: float | None) -> None:
        flows = np.linspace(0.0, _greatest_flow(pump), _CURVE_POINTS)
        curve = f"c{pump.key}"
        points = list(zip(flows / HOUR_S, stated_head_m(pump, flows), strict=True))
        self.network.add_curve(curve, "HEAD", points)
        speed = 1.0 if speed_rpm is None else speed_rpm / pump.curves[0].speed_rpm
        self.network.add_pump(
            f"pump-{pump.key}", start, end, pump_type="HEAD", pump_parameter=curve, speed=speed,
            initial_status="CLOSED" if speed_rpm is None else "OPEN",
        )  # fmt: skip

    def ship_lines(self) -> None:
        """Add the common line from ``together`` to the manifold."""
        start, manifold = "together", self.case.keel_elevation_m + self.case.ship.manifold.elevation_m
        for i, segment in enumerate(self.case.ship.common_line):
            end = self.junction(f"common-{i}", manifold)
            self.pipe(f"common-pipe-{i}", start, end, segment)
            start = end
        self.profile.append(start)

    def shore_end(self) -> None:
        """Add the node ``shore``: a reservoir, or a junction from which pipes lead to several."""
        line, end = self.case.berth.shore_line, self.case.berth.shore_end
        last_elevation = line[-1].end_elevation_m if line else self.case.berth.arm_shore_end_elevation_m
        if end.tanks:
            self.junction("shore", last_elevation)
            for i, branch in enumerate(end.tanks):
                gas_head = branch.gas_pressure_bar_gauge * 1e5 / self.weight
                self.network.add_reservoir(f"receiver-{i}", base_head=branch.surface_elevation_m + gas_head)
                self.pipe(f"branch-{i}", "shore", f"receiver-{i}", branch)
            return
        if end.tank is not None:
            head = end.tank.surface_elevation_m + end.tank.gas_pressure_bar_gauge * 1e5 / self.weight
        else:
            assert end.back_pressure_bar_gauge is not None
            head = last_elevation + end.back_pressure_bar_gauge * 1e5 / self.weight
        self.network.add_reservoir("shore", base_head=head)

    def booster(self, start: str, elevation_m: float) -> str:
        """Add the booster pump behind a node and return the node behind the booster."""
        booster = self.case.berth.booster
        assert booster is not None
        flows, heads = [p.flow_m3_per_h for p in booster.points], [p.head_m for p in booster.points]
        fine = np.linspace(flows[0], flows[-1], _CURVE_POINTS)
        self.network.add_curve(
            "booster", "HEAD", list(zip(fine / HOUR_S, PchipInterpolator(flows, heads)(fine), strict=True))
        )
        self.network.add_pump(
            "booster", start, self.junction("boosted", elevation_m), pump_type="HEAD", pump_parameter="booster"
        )
        return "boosted"

    def shore(self) -> None:
        """Add every single arm and each shore segment, up to the stated end."""
        self.shore_end()
        line = self.case.berth.shore_line
        manifold = self.profile[-1]
        jetty = self.junction("jetty", self.case.berth.arm_shore_end_elevation_m) if line else "shore"
        for i, arm in enumerate(self.case.berth.arms):
            for number in range(arm.count):
                self.pipe(f"arm-{i}-{number}", manifold, jetty, arm)
        start = jetty
        self.profile.append(start)
        for i, segment in enumerate(line):
            if self.case.berth.booster is not None and self.case.berth.booster.feeds_segment == segment.name:
                before = line[i - 1].end_elevation_m if i else self.case.berth.arm_shore_end_elevation_m
                start = self.booster(start, before)
            finish = "shore" if i == len(line) - 1 else self.junction(f"shore-{i}", segment.end_elevation_m)
            self.pipe(f"shore-pipe-{i}", start, finish, segment)
            start = finish
            self.profile.append(start)


def network_of(case: CaseFile, speed_rpm: dict[str, float]) -> _Builder:
    """Return the network of a case whose running pumps turn at the given speeds, by key."""
    builder = _Builder(case)
    manifold = case.keel_elevation_m + case.ship.manifold.elevation_m
    builder.junction("together", manifold)
    for pump in case.ship.pumps:
        running = any(state.pump == pump.key and state.running for state in case.operation.pumps)
        known = any(state.pump == pump.key for state in case.operation.pumps)
        if known:
            builder.pump(pump, speed_rpm[pump.key] if running else None)
    builder.ship_lines()
    builder.shore()
    return builder


def run(builder: _Builder, prefix: Path) -> Any:
    """Run EPANET on a network; its files go beside ``prefix``."""
    return wntr.sim.EpanetSimulator(builder.network).run_sim(file_prefix=str(prefix), convergence_error=True)


def solve(case: CaseFile, speed_rpm: dict[str, float], folder: Path) -> NetworkAnswer:
    """Return what EPANET makes of a case at given pump speeds."""
    builder = network_of(case, speed_rpm)
    results = run(builder, folder / "case")
    flows = results.link["flowrate"].iloc[0] * HOUR_S
    heads = results.node["head"].iloc[0]
    # EPANET prints pressures in metres of water whatever the liquid, with its specific gravity counted in.
    pressures = results.node["pressure"].iloc[0] * 1000.0 * GRAVITY / 1e5
    shore_pumps = [pump for pump in case.ship.pumps if f"pump-{pump.key}" in flows]
    arms = {arm.name: float(flows[f"arm-{i}-0"]) for i, arm in enumerate(case.berth.arms)}
    suction, discharge = {}, {}
    for pump in shore_pumps:
        link = builder.network.get_link(f"pump-{pump.key}")
        elevation = case.keel_elevation_m + pump.elevation_m
        for side, node in ((suction, link.start_node_name), (discharge, link.end_node_name)):
            # Tanks and the common junction stand at elevations of their own, so head is carried to the pump's.
            side[pump.key] = (float(heads[node]) - elevation) * builder.weight / 1e5
    profile = [
        float(pressures[node])
        if node != "shore"
        else (float(heads[node]) - _end_elevation(case)) * builder.weight / 1e5
        for node in builder.profile
    ]
    return NetworkAnswer(
        total_flow_m3_per_h=sum(float(flows[f"arm-{i}-0"]) * arm.count for i, arm in enumerate(case.berth.arms)),
        pump_flow_m3_per_h={pump.key: float(flows[f"pump-{pump.key}"]) for pump in shore_pumps},
        arm_flow_m3_per_h=arms,
        suction_bar_gauge=suction,
        discharge_bar_gauge=discharge,
        profile_bar_gauge=profile,
        tank_flow_m3_per_h={
            tank.name: float(flows[f"branch-{i}"]) for i, tank in enumerate(case.berth.shore_end.tanks)
        },
    )


def _end_elevation(case: CaseFile) -> float:
    line = case.berth.shore_line
    return line[-1].end_elevation_m if line else case.berth.arm_shore_end_elevation_m
