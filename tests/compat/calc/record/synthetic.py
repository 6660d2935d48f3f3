"""Readings made by the engine itself, with wear, resistance and gauge errors that the test knows."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from compat.calc.record.comparison import SURE, Accuracy
from compat.calc.record.fit import Known
from compat.calc.record.gauges import Change, Gauges, changed_system, gauges_at, pumps_apart
from compat.calc.system import ShipShore
from compat.case.case_arrays import arrays_of
from compat.case.case_file import check_case
from shared.calc.arrays import repeat_row
from shared.calc.root import Array
from tests.builders import case_document

ACCURACY = Accuracy(pressure_pa=0.1e5, flow_share=0.02, speed_rpm=4.0)
SPEEDS = np.array([1000.0, 1100, 1200, 1300, 1380, 1420, 1450, 1450, 1400, 1250])


def ten_hours(rows: int = 10) -> tuple[ShipShore, Array]:
    """Two pumps at varied speeds while the ship's tanks fall by 0.6 m and the shore tank rises by 0.4 m each hour."""
    system = arrays_of([check_case(case_document(), "case")]).system
    system = pumps_apart(repeat_row(system, rows), np.zeros(2))
    hour = np.arange(rows) % 10
    pumps = replace(system.pumps, tank_head_m=system.pumps.tank_head_m - 0.6 * hour[:, None])
    berth = replace(system.berth, end_head_m=system.berth.end_head_m + 0.4 * hour)
    speeds = np.stack([SPEEDS[hour], SPEEDS[hour] - 15.0], -1)
    return replace(system, pumps=pumps, berth=berth), speeds


def departed(rows: int, head_kept: tuple[float, float], resistance: float, static_m: float = 0.0) -> Change:
    """The same departure from what is stated in every row."""
    none = Change.none(rows, 2)
    return replace(
        none,
        head_kept=np.tile(np.array(head_kept), (rows, 1)),
        resistance=np.full(rows, resistance),
        static_head_m=np.full(rows, static_m),
    )


@dataclass(frozen=True)
class Noisy:
    """What people read: true speeds make the flow, read speeds and gauges are off by what is stated."""

    observed: Gauges
    speed_rpm: Array


def read_with_noise(truth: Gauges, speed: Array, chance: np.random.Generator, accuracy: Accuracy = ACCURACY) -> Noisy:
    """Return readings with normal errors of the stated accuracy."""

    def off(values: Array, sigma: Array | float) -> Array:
        return values + chance.normal(size=values.shape) * sigma

    pressure = accuracy.pressure_pa / SURE
    flow = off(truth.flow_m3_per_s, accuracy.flow_share * truth.flow_m3_per_s / SURE)
    return Noisy(
        Gauges(
            flow,
            off(truth.manifold_pa_gauge, pressure),
            off(truth.suction_pa_gauge, pressure),
            off(truth.discharge_pa_gauge, pressure),
        ),
        off(speed, accuracy.speed_rpm / SURE),
    )


def known_readings(
    chance: np.random.Generator, head_kept: tuple[float, float], resistance: float, static_m: float = 0.0
) -> Known:
    """Ten hourly readings of one transfer with a known departure."""
    system, speed = ten_hours()
    truth = gauges_at(changed_system(system, departed(10, head_kept, resistance, static_m)), speed)
    noisy = read_with_noise(truth, speed, chance)
    return Known(
        system=system,
        speed_rpm=noisy.speed_rpm,
        observed=noisy.observed,
        pump_unknown=np.tile(np.arange(2), (10, 1)),
        berth_unknown=np.zeros(10, dtype=int),
        group=np.zeros(10, dtype=int),
        accuracy=ACCURACY,
    )
