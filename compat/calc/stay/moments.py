"""The rate at many moments of stays at once: levels and water move the base rows, one call solves them all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from compat.calc.achievable import FlowLimits, achievable_flow, ship_line_pressure
from compat.calc.balance import SpeedRule
from compat.calc.operating_point import OperatingPoint
from compat.calc.system import ShipShore
from shared.calc.arrays import take
from shared.calc.root import Array, Flags
from terminals.calc.berth_line import arm_flows
from vessels.calc.power import shaft_power_w
from vessels.calc.pump import pump_head
from vessels.calc.suction import suction_margin_m

_MET = 1e-5  # relative margin, or metres of NPSH, within which a limit counts as the one that binds
STAGE, RATE, SPEED, THROTTLED, NOTHING = 0, 1, 2, 3, 4
FIRST_OF_LISTS = 5  # codes of pressures, arms, booster, pump flows, suction and power follow, in this order

_ROWS_KEPT = 32
_Rows = tuple[ShipShore, SpeedRule, FlowLimits]


@dataclass(frozen=True)
class Circuit:
    """Base rows of ship and shore, and the surfaces (over the keel; at the shore over the zero) they were made for."""

    system: ShipShore
    rule: SpeedRule
    limits: FlowLimits
    surface_m: Array
    keel_m: Array
    shore_m: Array
    _taken: dict[bytes, _Rows] = field(default_factory=dict, compare=False)

    def rows(self, row: np.ndarray) -> _Rows:
        """Return base rows as they are asked for; the same ones are put together once, with what they derive."""
        key = row.tobytes()
        if key not in self._taken:
            if len(self._taken) >= _ROWS_KEPT:
                self._taken.clear()
            self._taken[key] = take(self.system, row), take(self.rule, row), take(self.limits, row)
        return self._taken[key]


@dataclass(frozen=True)
class Moments:
    """Moments of stays; ``row`` says of which base row. (moments,) but surfaces and running (moments, kinds)."""

    row: np.ndarray
    keel_m: Array
    surface_m: Array
    shore_m: Array
    running: Flags
    cap_m3_per_s: Array
    drawn_off_m3_per_s: Array


@dataclass(frozen=True)
class Rates:
    """What goes ashore at each moment, each pump's flow, and the code of the limit that binds."""

    ashore_m3_per_s: Array
    pump_m3_per_s: Array
    code: np.ndarray
    point: OperatingPoint
    static_excess_pa: Array


def joined(parts: Sequence[Moments]) -> Moments:
    """Return moments of several stays as one."""
    names = Moments.__dataclass_fields__
    return Moments(**{name: np.concatenate([getattr(part, name) for part in parts]) for name in names})


def moved(circuit: Circuit, moments: Moments) -> tuple[ShipShore, SpeedRule, FlowLimits]:
    """Return the base rows with levels, water and shore tank as they are at the moments."""
    row = moments.row
    system, rule, limits = circuit.rows(row)
    rise = moments.keel_m - circuit.keel_m[row]
    deeper = moments.surface_m - circuit.surface_m[row]
    drawn = moments.drawn_off_m3_per_s
    pumps = replace(
        system.pumps,
        count=system.pumps.count * moments.running,
        tank_head_m=system.pumps.tank_head_m + rise[:, None] + deeper,
        elevation_m=system.pumps.elevation_m + rise[:, None],
    )
    elevation = system.point_elevation_m.copy()
    elevation[:, 0] += rise
    berth = replace(system.berth, end_head_m=system.berth.end_head_m + moments.shore_m - circuit.shore_m[row])
    suction = replace(limits.suction, absolute_head_m=limits.suction.absolute_head_m + deeper)
    cap = np.minimum(limits.flow_m3_per_s, moments.cap_m3_per_s) + drawn
    system = replace(
        system,
        pumps=pumps,
        berth=berth,
        point_elevation_m=elevation,
        drawn_off_m3_per_s=drawn if drawn.any() else None,
    )
    return system, rule, replace(limits, flow_m3_per_s=cap, suction=suction)


def rates_at(circuit: Circuit, moments: Moments) -> Rates:
    """Return the highest rates within every limit at the moments."""
    system, rule, limits = moved(circuit, moments)
    found = achievable_flow(system, rule, limits)
    ashore = system.ashore(found.point.flow_m3_per_s)
    flows = found.point.pump_flow_m3_per_s * system.pumps.count
    own = circuit.limits.flow_m3_per_s[moments.row]
    code = _codes(system, rule, limits, found.point, found.setting, own < moments.cap_m3_per_s)
    return Rates(ashore, flows, code, found.point, found.static_excess_pa)


def _codes(
    system: ShipShore, rule: SpeedRule, limits: FlowLimits, point: OperatingPoint, setting: Array, own_cap: Flags
) -> np.ndarray:
    flow, pump_flow, speed = point.flow_m3_per_s, point.pump_flow_m3_per_s, point.speed_rpm
    with np.errstate(divide="ignore", invalid="ignore"):
        cap = 1.0 - flow / limits.flow_m3_per_s
        pressure = 1.0 - system.point_pressures(flow)[0] / limits.pressure_pa_gauge
        booster = 1.0 - system.booster_pressure(flow)[0] / limits.booster_pa_gauge
        own = 1.0 - ship_line_pressure(system, limits, flow)[0] / limits.ship_line_pa_gauge
        arms = 1.0 - arm_flows(system.berth, system.ashore(flow))[0] / limits.arm_flow_m3_per_s
        pumps = 1.0 - pump_flow / limits.pump_flow_m3_per_s
        suction = suction_margin_m(system.pumps, limits.suction, pump_flow, speed)
        head = pump_head(system.pumps.curves, pump_flow, speed)[0]
        watts = shaft_power_w(limits.power, pump_flow, head, speed, system.density_kg_per_m3[:, None])
        power = np.where(np.isfinite(watts), 1.0 - watts / limits.power.limit_w, np.inf)
    here = system.pumps.count > 0
    lists = [pressure, arms, booster, own, *(np.where(here, one, np.inf) for one in (pumps, suction, power))]
    margins = np.concatenate(lists, -1)
    nearest = np.round(margins, 7).argmin(-1)  # of limits met together, always the first
    met = margins.min(-1) <= _MET
    at_cap = cap <= _MET
    at_speed = setting >= rule.greatest_setting * (1.0 - _MET)
    code = np.where(at_speed, SPEED, np.where(point.throttled_head_m > 0, THROTTLED, NOTHING))
    code = np.where(met, FIRST_OF_LISTS + nearest, code)
    return np.where(at_cap, np.where(own_cap, RATE, STAGE), code)
