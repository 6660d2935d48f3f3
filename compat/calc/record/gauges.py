"""What every gauge should read at given pump speeds, with each pump on its own, and how that moves with the speeds.

Rows are readings side by side; channels stand in one order everywhere: flow, manifold pressure, suction pressure of
each pump, discharge pressure of each pump.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from compat.calc.operating_point import point_at_speeds
from compat.calc.system import ShipShore
from shared.calc.arrays import map_arrays, take
from shared.calc.line import Pipes, joined
from shared.calc.root import Array
from shared.calc.units import GRAVITY_M_PER_S2
from terminals.calc.berth_line import changed_line
from vessels.calc.pump import pump_head

_SPEED_STEP = 1e-4  # of the speed: small against a curve, large against rounding
_VALVE_BORE_M = 0.3  # any bore: the loss is stated as a coefficient of flow, and turned into a K of this bore


@dataclass(frozen=True)
class Gauges:
    """Readings of (rows,) or (rows, pumps); NaN where something was not read or does not run."""

    flow_m3_per_s: Array
    manifold_pa_gauge: Array
    suction_pa_gauge: Array
    discharge_pa_gauge: Array

    def channels(self) -> Array:
        """Return the readings side by side: (rows, 2 + 2 pumps)."""
        single = np.stack([self.flow_m3_per_s, self.manifold_pa_gauge], -1)
        return np.concatenate([single, self.suction_pa_gauge, self.discharge_pa_gauge], -1)


@dataclass(frozen=True)
class Change:
    """How rows depart from what is stated.

    ``head_kept`` (rows, pumps): share of the curve's head; ``resistance`` (rows,): factor on losses ashore;
    ``static_head_m`` (rows,): added ashore; ``ship_loss`` (rows,) and ``pump_loss`` (rows, pumps): head lost in
    m per (m3/s)^2 in the ship's common line and in each pump's discharge line, besides the stated losses.
    """

    head_kept: Array
    resistance: Array
    static_head_m: Array
    ship_loss: Array
    pump_loss: Array

    @classmethod
    def none(cls, rows: int, pumps: int) -> Change:
        """Return rows as they are stated."""
        each = (rows, pumps)
        return cls(np.ones(each), np.ones(rows), np.zeros(rows), np.zeros(rows), np.zeros(each))


def pumps_apart(system: ShipShore, kind_of_pump: Array) -> ShipShore:
    """Return a system in which each pump is a kind of its own.

    ``kind_of_pump`` says which it was: (pumps,) for all rows alike, or (rows, pumps).
    """
    rows = np.arange(system.pumps.count.shape[0])[:, None]
    place = np.broadcast_to(kind_of_pump.astype(int), (rows.size, kind_of_pump.shape[-1]))
    pumps = map_arrays(lambda array: array[rows, place], system.pumps)
    return replace(system, pumps=replace(pumps, count=np.ones_like(pumps.count)))


def changed_system(system: ShipShore, change: Change) -> ShipShore:
    """Return the system with pumps, ship's lines and shore changed row by row."""
    pumps = system.pumps
    kept = change.head_kept
    pieces = pumps.curves.head.pieces.copy()
    pieces[..., 1:] *= kept[..., None, None, None]
    head = replace(pumps.curves.head, pieces=pieces)
    curves = replace(pumps.curves, head=head, drop=pumps.curves.drop * kept[..., None])
    if change.pump_loss.any():
        pumps = replace(pumps, discharge=joined(pumps.discharge, _valve(change.pump_loss)))
    common = system.common_line
    if change.ship_loss.any():
        common = joined(common, _valve(change.ship_loss))
    berth = changed_line(system.berth, change.resistance, change.static_head_m)
    return replace(system, pumps=replace(pumps, curves=curves), common_line=common, berth=berth)


def _valve(loss: Array) -> Pipes:
    """Return a run of no length that loses ``loss`` times the square of its flow."""
    area = np.pi * _VALVE_BORE_M**2 / 4.0
    factor = loss[..., None] * 2.0 * GRAVITY_M_PER_S2 * area**2
    return Pipes(np.zeros_like(factor), np.full_like(factor, _VALVE_BORE_M), np.zeros_like(factor), factor)


def gauges_at(system: ShipShore, speed_rpm: Array) -> Gauges:
    """Return what gauges read at speeds (rows, pumps); a pump with speed 0 stands still and shows NaN."""
    runs = speed_rpm > 0
    safe = np.where(runs, speed_rpm, 1.0)
    running = replace(system, pumps=replace(system.pumps, count=system.pumps.count * runs))
    point = point_at_speeds(running, safe)
    pumps, flow = system.pumps, point.pump_flow_m3_per_s
    suction_head = pumps.tank_head_m - pumps.suction_loss(flow)[0]
    head = pump_head(pumps.curves, flow, safe)[0]
    pressures = system.point_pressures(point.flow_m3_per_s)[0]
    suction = system.pressure_pa_gauge(suction_head, pumps.elevation_m)
    discharge = system.pressure_pa_gauge(suction_head + head, pumps.elevation_m)
    return Gauges(
        system.ashore(point.flow_m3_per_s),
        pressures[..., 0],
        np.where(runs, suction, np.nan),
        np.where(runs, discharge, np.nan),
    )


def by_speed(system: ShipShore, speed_rpm: Array) -> Array:
    """Return the slope of each channel with each pump's speed in SI per rpm: (rows, channels, pumps)."""
    rows, pumps = speed_rpm.shape
    step = np.maximum(speed_rpm, 1.0) * _SPEED_STEP
    row = np.repeat(np.arange(rows), pumps)
    moved = speed_rpm[row].copy()
    which = np.tile(np.arange(pumps), rows)
    place = np.arange(rows * pumps)
    moved[place, which] += np.where(speed_rpm > 0, step, 0.0).reshape(-1)
    here = gauges_at(system, speed_rpm).channels()
    there = gauges_at(take(system, row), moved).channels().reshape(rows, pumps, -1)
    slope = (there - here[:, None, :]) / step[..., None]
    return np.moveaxis(np.where(np.isfinite(slope), slope, 0.0), 1, 2)
