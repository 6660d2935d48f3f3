"""One ship at one berth as a line that can be marched: its steady state, its pumps, its valves and its limits."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from compat.calc.surge.ends import (
    Booster,
    HeadCurve,
    Joint,
    PumpEnd,
    ReliefValve,
    Tank,
    ThrottledBooster,
    Valve,
    as_steps,
)
from compat.calc.surge.grid import Grid
from compat.calc.surge.march import Line, steady_state
from compat.calc.surge.valves import ValveLaw, closing, loss_over_flow2
from shared.calc.errors import InputError
from shared.calc.root import Array
from shared.calc.units import BAR_PA, GRAVITY_M_PER_S2

_STEADY_SLACK = 1e-6


@dataclass(frozen=True)
class LineValve:
    """A valve behind run ``behind``; behind the last run it stands before the tank."""

    key: str
    label: str
    behind: int
    law: ValveLaw


@dataclass(frozen=True)
class Curve:
    """Head gained [m] at each flow [m3/s], flows rising from 0."""

    flow_m3_per_s: Array
    head_m: Array

    def head_curve(self) -> HeadCurve:
        """Return the curve as a march reads it."""
        return HeadCurve(as_steps(self.flow_m3_per_s), as_steps(self.head_m))


@dataclass(frozen=True)
class Event:
    """What happens from the time 0 on: valves (by key) shut in a time, pumps trip, or pumps start against a shut valve.

    A start raises the speed evenly from rest to full speed within ``start_s`` while the valve stays shut.
    """

    label: str
    closes: tuple[str, ...] = ()
    closing_s: float | None = None
    trip: bool = False
    starts_against: str | None = None
    start_s: float | None = None

    @property
    def lasts_s(self) -> float:
        """Return how long valve or speed move."""
        return max(self.closing_s or 0.0, self.start_s or 0.0)


@dataclass(frozen=True)
class System:
    """Pumps, line and tank in their steady state; ``pumps`` gives head over the ship's tanks.

    ``booster`` and ``relief`` stand in the joint behind a run. ``least_head_m`` holds the head at each node below
    which the liquid boils. ``allowance`` is the part by which a surge may exceed a rating. ``run_down_s`` None: the
    pumps stop at once when they trip.
    """

    grid: Grid
    flow_m3_per_s: float
    tank_head_m: float
    start_head_m: float
    far_head_m: float
    pumps: Curve
    valves: tuple[LineValve, ...]
    density_kg_per_m3: float
    least_head_m: Array
    run_down_s: float | None = None
    booster: tuple[int, Curve] | None = None
    relief: tuple[int, ReliefValve] | None = None
    allowance: float = 0.0

    @property
    def weight_pa_per_m(self) -> float:
        """Pressure of a metre of the liquid."""
        return self.density_kg_per_m3 * GRAVITY_M_PER_S2

    @cached_property
    def steady_head_m(self) -> Array:
        """Head at each node before anything happens."""
        gains = {}
        if self.booster is not None:
            behind, curve = self.booster
            gains[behind] = float(np.interp(self.flow_m3_per_s, curve.flow_m3_per_s, curve.head_m))
        return steady_state(self.grid, self.start_head_m, self.flow_m3_per_s, gains)

    @cached_property
    def allowed_head_m(self) -> Array:
        """Head at each node that the rating allows in a surge, infinite where no rating is known."""
        pressure = self.grid.rating_pa_gauge * (1.0 + self.allowance)
        return np.asarray(pressure / self.weight_pa_per_m + self.grid.elevation_m)

    def pressure_pa_gauge(self, head_m: Array, nodes: Array | slice = slice(None)) -> Array:
        """Return the gauge pressure of heads at nodes."""
        return np.asarray((head_m - self.grid.elevation_m[nodes]) * self.weight_pa_per_m)

    def check_steady(self) -> None:
        """Raise InputError with a sentence where a rating lies below the steady pressure."""
        pressure, rating = self.pressure_pa_gauge(self.steady_head_m), self.grid.rating_pa_gauge
        for run, first, last in zip(self.grid.runs, self.grid.first, self.grid.last, strict=True):
            highest = float(pressure[first : last + 1].max())
            if highest > float(rating[first]) * (1.0 + _STEADY_SLACK):
                raise InputError(
                    f"The rating of {run.name} is {run.rating_pa_gauge / BAR_PA:.2f} bar, below its steady pressure of"
                    f" {highest / BAR_PA:.2f} bar; correct the rating or lower the pressure before surge is asked for."
                )

    def line(self, event: Event, steps: int) -> Line:
        """Return the line in its steady state, with what the event does over a number of time steps."""
        times = np.asarray(np.arange(steps + 1) * self.grid.step_s, dtype=float)
        at_rest = event.starts_against is not None
        losses = {key: self._loss(key, event, times) for key in event.closes}
        if event.starts_against is not None:
            losses[event.starts_against] = [float("inf")]
        joints: dict[int, Joint] = {}
        if self.booster is not None:
            joints[self.booster[0]] = Booster(self.booster[1].head_curve())
        if self.relief is not None:
            joints[self.relief[0]] = self.relief[1]
        far = Tank(self.far_head_m)
        for valve in self.valves:
            if valve.key not in losses:
                continue
            if valve.behind == len(self.grid.runs) - 1:
                far = Tank(self.far_head_m, losses[valve.key])
            elif self.booster is not None and valve.behind == self.booster[0]:
                joints[valve.behind] = ThrottledBooster(self.booster[1].head_curve(), losses[valve.key])
            else:
                joints[valve.behind] = Valve(losses[valve.key])
        if at_rest:
            head, flow = np.full(self.grid.nodes, self.far_head_m), np.zeros(self.grid.nodes)
        else:
            head, flow = self.steady_head_m.copy(), np.full(self.grid.nodes, self.flow_m3_per_s)
        return Line(self.grid, head, flow, self._pumps(event, times), far, joints)

    def _pumps(self, event: Event, times: Array) -> PumpEnd:
        end = PumpEnd(self.tank_head_m, self.pumps.head_curve(), self.grid.step_s)
        if event.starts_against is not None:
            end.speed = as_steps(np.clip(times / max(event.start_s or 0.0, 1e-9), 0.0, 1.0))
        if event.trip:
            end.trips_at = 0
            gained = self.start_head_m - self.tank_head_m
            end.run_down_s = self.run_down_s if gained > 0.0 else None
            end.power_at_start = self.flow_m3_per_s * gained
        return end

    def _loss(self, key: str, event: Event, times: Array) -> list[float]:
        valve = next((valve for valve in self.valves if valve.key == key), None)
        if valve is None or event.closing_s is None:
            raise InputError(f"Valve “{key}” has no place or no closing time; state both.")
        area = self.grid.runs[valve.behind].area_m2
        return list(as_steps(loss_over_flow2(closing(valve.law, times, 0.0, event.closing_s), area)))
