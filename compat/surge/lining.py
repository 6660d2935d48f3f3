"""From a case and its operating point to the line that surge is worked out on (pure: no Django)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from compat.calc.operating_point import OperatingPoint, point_at_speeds, speed_for_flow
from compat.calc.surge.ends import ReliefValve
from compat.calc.surge.formulae import MATERIALS, checked_wave_speed, restraint_factor, wave_speed_m_per_s
from compat.calc.surge.grid import Run, fitted_grid
from compat.calc.surge.system import Curve, LineValve, System
from compat.case.case_arrays import CaseArrays, arrays_of
from compat.case.case_file import CaseFile
from compat.case.pump_arrays import pump_kinds
from compat.surge.asking import SHIP_LINE, StatedRun, berth_surge, stated_runs, stated_valves
from compat.surge.parts import ARMS, RELIEF, Part, joined, place_of, split_at
from shared.calc.arrays import repeat_row
from shared.calc.errors import InputError
from shared.calc.line import head_loss
from shared.calc.root import Array
from shared.calc.units import ATMOSPHERE_PA, BAR_PA, GRAVITY_M_PER_S2, HOUR_S, KPA_PA, KW_W, MM_M
from shared.cargo_facts import bulk_modulus_of, liquid_of
from shared.pipe_arrays import area_m2
from terminals.calc.berth_line import heads_along
from vessels.calc.power import shaft_power_w
from vessels.calc.pump import pump_head
from vessels.calc.pump_group import flows_at_head

REACHES = 250
SEARCH_REACHES, SEARCH_ADJUSTMENT = 120, 0.06
SHORTEST_RUN_M = 5.0
_CURVE_POINTS = 160


@dataclass(frozen=True)
class SurgeLine:
    """A case as a line, and what had to be left out or joined to make it one."""

    system: System
    notes: tuple[str, ...]


class LineMaker:
    """Makes the line of a case at its answered speeds, or at a lower flow."""

    def __init__(self, case: CaseFile, speed_rpm_by_pump: Mapping[str, float]) -> None:
        self.case = case
        self.arrays: CaseArrays = arrays_of([case])
        self.density = float(self.arrays.system.density_kg_per_m3[0])
        speeds = np.array([[speed_rpm_by_pump[kind.keys[0]] for kind in pump_kinds(case)]])
        self.speeds = speeds

    def at_speeds(self, *, coarse: bool = False) -> SurgeLine:
        """Return the line at the answered speeds; a ``coarse`` one to search on."""
        return self._line(point_at_speeds(self.arrays.system, self.speeds), coarse=coarse)

    def at_flow(self, flow_m3_per_s: float, *, coarse: bool = False) -> SurgeLine:
        """Return the line at a flow, pumps slowed down and, where that is not enough, throttled."""
        found = speed_for_flow(self.arrays.system, self.arrays.rule, np.array([flow_m3_per_s]))
        return self._line(found.point, coarse=coarse)

    @cached_property
    def most_flow_m3_per_s(self) -> float:
        """Flow at the greatest speeds, limits left aside."""
        greatest = self.arrays.rule.speeds(self.arrays.rule.greatest_setting)[0]
        return float(point_at_speeds(self.arrays.system, greatest).flow_m3_per_s[0])

    def _line(self, point: OperatingPoint, *, coarse: bool) -> SurgeLine:
        flow = float(point.flow_m3_per_s[0])
        stated = self._marked(self._parts(point, flow))
        parts, notes = joined(stated, SHORTEST_RUN_M)
        relief = berth_surge(self.case).relief_valve
        if relief is not None:
            parts = split_at(parts, relief.run, relief.distance_m, SHORTEST_RUN_M)
        runs = [part.run for part in parts]
        grid = fitted_grid(runs, SEARCH_REACHES, SEARCH_ADJUSTMENT) if coarse else fitted_grid(runs, REACHES)
        start = float(point.junction_head_m[0])
        system = System(
            grid=grid,
            flow_m3_per_s=flow,
            tank_head_m=self._tank_head(point),
            start_head_m=start,
            far_head_m=float(heads_along(self.arrays.system.berth, point.flow_m3_per_s)[0][0, -1]),
            pumps=self._pumps(point, flow, start),
            valves=tuple(self._valves(parts)),
            density_kg_per_m3=self.density,
            least_head_m=np.asarray(grid.elevation_m + self._vapour_head()),
            run_down_s=self._run_down(point),
            booster=self._booster(parts),
            relief=self._relief(parts),
            allowance=(self.case.agreed.surge_allowance_percent or 0.0) / 100.0,
        )
        return SurgeLine(system, tuple(notes))

    def _parts(self, point: OperatingPoint, flow: float) -> list[Part]:
        """Return the parts of the line; arms side by side count as one."""
        berth = self.case.berth
        heads = heads_along(self.arrays.system.berth, point.flow_m3_per_s)[0][0]
        stated = stated_runs(self.case)
        ship = [run for run in stated if run.name == SHIP_LINE and run.owner == "ship"]
        found = self._ship_runs(ship, point, flow)
        manifold, end = self._elevations(0), self._elevations(1)
        arms = stated[len(ship) : len(ship) + len(berth.arms)]
        found.append(Part(self._arm_run(arms, float(heads[0] - heads[1]), flow, manifold, end), ARMS))
        gained = self._booster_head(flow)
        fed = berth.booster.feeds_segment if berth.booster else ""
        for i, run in enumerate(stated[len(ship) + len(berth.arms) :]):
            loss = float(heads[1 + i] - heads[2 + i]) + (gained if run.name == fed else 0.0)
            rating = berth.shore_line[i].rating_bar_gauge
            places = (self._elevations(1 + i), self._elevations(2 + i))
            found.append(Part(self._run(run, loss, flow, places, rating, area_m2(run.pipe)), run.name))
        return found

    def _marked(self, parts: list[Part]) -> list[Part]:
        """Say what stands at the ends of the parts."""
        names = [part.name for part in parts]
        last = {name: number for number, name in enumerate(names)}
        last |= {arm.name: last[ARMS] for arm in self.case.berth.arms}
        behind = berth_surge(self.case).shore_valve_behind
        places = {
            "ship-valve": last.get(SHIP_LINE),
            "arm-valve": last[ARMS],
            "shore-valve": last.get(behind, len(names) - 1),
        }
        at = {valve.key: places[valve.key] for valve in stated_valves(self.case)}
        if self.case.berth.booster is not None:
            at["booster"] = names.index(self.case.berth.booster.feeds_segment) - 1
        relief = berth_surge(self.case).relief_valve
        if relief is not None and relief.run in last:
            at |= {"before the relief valve": last[relief.run] - 1, "behind the relief valve": last[relief.run]}
        return [
            replace(part, ends=frozenset(key for key, place in at.items() if place == number))
            for number, part in enumerate(parts)
        ]

    def _elevations(self, place: int) -> float:
        return float(self.arrays.system.point_elevation_m[0, place])

    def _ship_runs(self, stated: list[StatedRun], point: OperatingPoint, flow: float) -> list[Part]:
        """The elevation of the ship's line is not stated: it is taken straight from the lowest pump to the manifold."""
        system = self.arrays.system
        lowest = float(np.where(system.pumps.count > 0, system.pumps.elevation_m, np.inf).min())
        top, length = self._elevations(0), sum(run.pipe.length_m for run in stated)
        losses = self._ship_losses(point)
        found, at = [], 0.0
        for run, loss in zip(stated, losses, strict=True):
            share = [lowest + (top - lowest) * part / max(length, 1e-9) for part in (at, at + run.pipe.length_m)]
            at += run.pipe.length_m
            own = self.case.ship.cargo_line_rating_bar_gauge
            rating = self.case.ship.manifold.rating_bar_gauge if own is None else own
            ends = (share[0], share[1])
            found.append(Part(self._run(run, loss, flow, ends, rating, area_m2(run.pipe)), SHIP_LINE))
        return found

    def _ship_losses(self, point: OperatingPoint) -> list[float]:
        system = self.arrays.system
        if not self.case.ship.common_line:
            return []
        loss, _ = head_loss(system.common_line, point.flow_m3_per_s[:, None], system.viscosity_m2_per_s[:, None])
        return [float(value) for value in loss[0]]

    def _run(
        self,
        run: StatedRun,
        loss: float,
        flow: float,
        places: tuple[float, float],
        rating_bar: float | None,
        area: float,
    ) -> Run:
        rating = np.inf if rating_bar is None else rating_bar * BAR_PA
        speed = self.wave_speed(run)
        return Run(run.name, run.pipe.length_m, area, speed, loss, flow, *places, rating)

    def _arm_run(self, arms: list[StatedRun], loss: float, flow: float, start: float, end: float) -> Run:
        """Arms side by side: area together; length and wave speed weighted by area where kinds differ."""
        areas = np.array([area_m2(arm.pipe) * kind.count for arm, kind in zip(arms, self.case.berth.arms, strict=True)])
        share = areas / areas.sum()
        length = float((share * [arm.pipe.length_m for arm in arms]).sum())
        speed = float((share * [self.wave_speed(arm) for arm in arms]).sum())
        ratings = [arm.rating_bar_gauge for arm in self.case.berth.arms if arm.rating_bar_gauge is not None]
        at_manifold = self.case.ship.manifold.rating_bar_gauge
        if at_manifold is not None and self.case.ship.cargo_line_rating_bar_gauge is not None:
            ratings.append(at_manifold)  # the ship's line has a rating of its own, so the manifold's stands here
        rating = min(ratings, default=np.inf) * BAR_PA
        name = " and ".join(arm.name for arm in arms)
        return Run(name, length, float(areas.sum()), speed, loss, flow, start, end, rating)

    def wave_speed(self, run: StatedRun) -> float:
        """Return the wave speed in a run: as stated, else from wall, material, restraint and bulk modulus."""
        wall = run.wall
        if wall is not None and wall.wave_speed_m_per_s is not None:
            return float(wall.wave_speed_m_per_s)
        bulk = bulk_modulus_of(self.case.cargo).value_mpa
        if wall is None or bulk is None or wall.wall_thickness_mm is None or wall.restraint is None:
            raise InputError(f"Wave speed in {run.name} is not decided; ask the {run.owner} for wall and material.")
        modulus, poisson = MATERIALS.get(wall.material or "", (0.0, 0.3))
        if wall.elastic_modulus_mpa is not None:
            modulus = wall.elastic_modulus_mpa * 1e6
        speed = wave_speed_m_per_s(
            bulk * 1e6,
            self.density,
            run.pipe.bore_mm * MM_M,
            wall.wall_thickness_mm * MM_M,
            modulus,
            restraint_factor(wall.restraint, poisson),
        )
        return float(checked_wave_speed(f"Wave speed in {run.name}", speed))

    def _pumps(self, point: OperatingPoint, flow: float, start: float) -> Curve:
        """Return the pumps' head over their tanks by total flow; throttled head goes with the square of the flow."""
        group, tank, throttled = self.arrays.system.pumps, self._tank_head(point), float(point.throttled_head_m[0])
        speed = point.speed_rpm
        rest = group.junction_head(np.zeros_like(speed), speed)[0]
        shut = float(np.where(group.count > 0, rest, -np.inf).max())
        unthrottled = start + throttled
        heads = np.linspace(shut, unthrottled - 2.0 * max(shut - unthrottled, 1.0), _CURVE_POINTS)
        wide = repeat_row(group, _CURVE_POINTS)
        speeds = np.broadcast_to(speed, (_CURVE_POINTS, speed.shape[-1]))
        each = flows_at_head(wide, np.repeat(heads[:, None], speed.shape[-1], axis=1), speeds).flow_m3_per_s
        flows = (wide.count * each).sum(-1)
        apart = np.abs(flows - flow) > 1e-6 * flow
        flows, heads = np.append(flows[apart], flow), np.append(heads[apart], unthrottled)
        order = np.argsort(flows, kind="stable")
        flows, heads = flows[order], heads[order] - throttled * (flows[order] / flow) ** 2 - tank
        rising = np.append(True, np.diff(flows) > 1e-9)
        flows, heads = flows[rising], heads[rising]
        flows[0] = 0.0
        return Curve(flows, heads)

    def _tank_head(self, point: OperatingPoint) -> float:
        """Return the head of the tanks that the pumps draw from, weighted by their flows."""
        weight = self.arrays.system.pumps.count[0] * point.pump_flow_m3_per_s[0]
        return float((weight * self.arrays.system.pumps.tank_head_m[0]).sum() / weight.sum())

    def _run_down(self, point: OperatingPoint) -> float | None:
        """Return the moments of inertia times the square of angular velocity, over shaft power; None if not known."""
        kinds = pump_kinds(self.case)
        if any(kind.pump.moment_of_inertia_kg_m2 is None for kind in kinds):
            return None
        flow, speed = point.pump_flow_m3_per_s, point.speed_rpm
        head = pump_head(self.arrays.system.pumps.curves, flow, speed)[0]
        power = shaft_power_w(self.arrays.limits.power, flow, head, speed, np.array([[self.density]]))[0]
        if not self.arrays.limits.power.known[0, : len(kinds)].all() or power.sum() < KW_W:
            return None
        turning = [
            len(kind.keys) * (kind.pump.moment_of_inertia_kg_m2 or 0.0) * (2.0 * np.pi * float(rpm) / 60.0) ** 2
            for kind, rpm in zip(kinds, speed[0], strict=False)
        ]
        counts = np.array([len(kind.keys) for kind in kinds])
        return float(sum(turning) / (counts * power[: len(kinds)]).sum())

    def _vapour_head(self) -> float:
        vapour = liquid_of(self.case.cargo).vapour_pressure_kpa_abs or 0.0
        return (vapour * KPA_PA - ATMOSPHERE_PA) / (self.density * GRAVITY_M_PER_S2)

    def _valves(self, parts: list[Part]) -> list[LineValve]:
        found = []
        for valve in stated_valves(self.case):
            at = place_of(parts, valve.key)
            if at is not None:
                found.append(LineValve(valve.key, valve.label, at, valve.facts.law))
        return found

    def _booster_head(self, flow: float) -> float:
        booster = self.arrays.system.berth.booster
        return 0.0 if booster is None else float(booster.head.evaluate(np.array([flow]))[0][0])

    def _booster(self, parts: list[Part]) -> tuple[int, Curve] | None:
        stated, booster = self.case.berth.booster, self.arrays.system.berth.booster
        at = place_of(parts, "booster")
        if stated is None or booster is None or at is None:
            return None
        last = stated.points[-1].flow_m3_per_h / HOUR_S
        flows: Array = np.linspace(0.0, last, 200)
        heads = np.array([float(booster.head.evaluate(np.array([flow]))[0][0]) for flow in flows])
        return at, Curve(flows, heads)

    def _relief(self, parts: list[Part]) -> tuple[int, ReliefValve] | None:
        relief = berth_surge(self.case).relief_valve
        at = None if relief is None else place_of(parts, RELIEF)
        if relief is None or at is None:
            return None
        weight, place = self.density * GRAVITY_M_PER_S2, parts[at].run.end_elevation_m
        opens, full = (bar * BAR_PA / weight + place for bar in (relief.opens_at_bar_gauge, relief.full_at_bar_gauge))
        return at, ReliefValve(opens, full, relief.full_flow_m3_per_h / HOUR_S)
