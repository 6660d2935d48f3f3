"""Arrays for the operating diagram: pumps together at several speeds, the shore, and where they meet."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from compat.calc.operating_point import OperatingPoint
from compat.calc.system import ShipShore
from shared.calc.arrays import repeat_row
from shared.calc.root import Array
from terminals.calc.berth_line import heads_along
from vessels.calc.pump_group import flows_at_head

POINTS = 60


@dataclass(frozen=True)
class PumpLine:
    """Head that the running pumps bring to the manifold together, over total flow, at one share of their speeds."""

    speed_fraction: float
    flow_m3_per_s: Array
    manifold_head_m: Array


@dataclass(frozen=True)
class OperatingDiagram:
    """Heads in m over the manifold; multiply by ``pascal_per_m`` for gauge pressure there."""

    pumps: tuple[PumpLine, ...]
    shore_flow_m3_per_s: Array
    shore_head_m: Array
    flow_m3_per_s: float
    head_m: float
    pascal_per_m: float


def operating_diagram(
    system: ShipShore, point: OperatingPoint, speed_fractions: tuple[float, ...] = (1.0, 0.9, 0.8)
) -> OperatingDiagram:
    """Return the diagram of a single case, its pumps at fractions of the speeds of ``point``."""
    elevation = float(system.point_elevation_m[0, 0])
    met = float(system.ashore(point.flow_m3_per_s)[0])
    most = 1.35 * max(met, 1e-3)
    flow = np.linspace(0.0, most, POINTS)
    wide = repeat_row(system, POINTS)
    pressures = wide.pressure_pa_gauge(heads_along(wide.berth, flow)[0], wide.point_elevation_m)
    weight = float(system.pressure_pa_gauge(np.ones(1), np.zeros(1))[0])
    lines = tuple(_pump_line(system, point, fraction, elevation) for fraction in speed_fractions)
    shore = pressures[:, 0] / weight
    here, _ = system.point_pressures(point.flow_m3_per_s)
    return OperatingDiagram(lines, flow, shore, met, float(here[0, 0]) / weight, weight)


def _pump_line(system: ShipShore, point: OperatingPoint, fraction: float, elevation: float) -> PumpLine:
    """Sum the pumps' flows over a row of junction heads, then take the common line's loss off."""
    speed = point.speed_rpm * fraction
    at_rest, _, _ = system.pumps.junction_head(np.zeros_like(speed), speed)
    top = np.where(system.pumps.count > 0, at_rest, -np.inf).max()
    # Close together near no flow, where a curve is flattest and even steps of head would leave a kink.
    heads = top - (top - elevation) * np.linspace(0.0, 1.0, POINTS) ** 2
    wide = repeat_row(system, POINTS)
    speeds = np.broadcast_to(speed, (POINTS, speed.shape[-1]))
    flows = flows_at_head(wide.pumps, np.repeat(heads[:, None], speed.shape[-1], axis=1), speeds)
    total = (wide.pumps.count * flows.flow_m3_per_s).sum(-1)
    ashore = wide.ashore(total)
    return PumpLine(fraction, ashore, heads - wide.common_loss(ashore)[0] - elevation)
