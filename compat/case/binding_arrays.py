"""Which limit binds, for many pairs at once: the same rule as for the rows of one case (pure: no Django).

Columns stand in the order in which the rows of one case are made, so that a tie falls the same way; a test compares
both.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from compat.calc.operating_point import OperatingPoint
from compat.calc.system import ShipShore
from shared.calc.root import Array
from terminals.calc.berth_line import arm_flows
from vessels.calc.power import PowerData, shaft_power_w
from vessels.calc.pump import pump_head
from vessels.calc.suction import SuctionLimits, npsh_available_m, npsh_required_m

KINDS = (
    "agreed-manifold-pressure",
    "berth-manifold-pressure",
    "ship-manifold-rating",
    "arm-rating",
    "arm-velocity",
    "shore-rating",
    "shore-velocity",
    "receiving-rate",
    "inert-gas",
    "ship-line-velocity",
    "rated-flow",
    "greatest-flow",
    "speed",
    "power",
    "npsh",
    "ship-line-rating",
)
NONE = -1
PLACES = 64
"""A binding limit is one number: its place in KINDS times PLACES, and which arm, segment or kind of pump it is."""
_CLOSE = 1e-6  # as in the rows of one case
_LAST = 10.0  # a pump's greatest speed comes last: one of fixed speed always runs at it


@dataclass(frozen=True)
class ShipAllowed:
    """What the ship allows, infinite where it is not stated; areas are infinite where there is no pipe.

    ``line_m_per_s`` and ``inert_gas_m3_per_s`` are (pairs,), ``common_area_m2`` (pairs, runs), ``cargo_line_pa``
    (pairs, 1), or (pairs, 0) where no ship states it; the others (pairs, kinds of pump), with ``own_area_m2`` the
    narrowest run of the pump's own lines.
    """

    manifold_pa: Array
    cargo_line_pa: Array
    inert_gas_m3_per_s: Array
    line_m_per_s: Array
    common_area_m2: Array
    own_area_m2: Array
    rated_m3_per_s: Array
    greatest_m3_per_s: Array
    speed_rpm: Array


@dataclass(frozen=True)
class BerthAllowed:
    """What the berth allows, infinite where it is not stated; arms (pairs, kinds), segments (pairs, segments).

    ``fed`` is 1 at the segment that a booster pump feeds.
    """

    agreed_pa: Array
    manifold_pa: Array
    receiving_m3_per_s: Array
    arm_pa: Array
    arm_m_per_s: Array
    segment_pa: Array
    segment_m_per_s: Array
    segment_area_m2: Array
    fed: Array


def binding_code(
    system: ShipShore,
    point: OperatingPoint,
    ship: ShipAllowed,
    berth: BerthAllowed,
    suction: SuctionLimits,
    power: PowerData,
) -> np.ndarray:
    """Return which limit has no margin left at each point, as a number, or NONE; (pairs,)."""
    codes: list[int] = []
    columns: list[Array] = []

    def add(kind: str, index: int, value: Array, allowed: Array) -> None:
        codes.append(KINDS.index(kind) * PLACES + index)
        with np.errstate(invalid="ignore", divide="ignore"):
            relative = (allowed - value) / np.abs(allowed)
        columns.append(np.where(np.isfinite(relative), relative, np.inf))

    _add_shore(add, system, point, ship, berth)
    flow = point.flow_m3_per_s
    add("receiving-rate", 0, flow, berth.receiving_m3_per_s)
    add("inert-gas", 0, flow, ship.inert_gas_m3_per_s)
    narrowest = np.concatenate([flow[..., None] / ship.common_area_m2, point.pump_flow_m3_per_s / ship.own_area_m2], -1)
    add("ship-line-velocity", 0, narrowest.max(-1), ship.line_m_per_s)
    _add_pumps(add, system, point, ship, suction, power)
    stacked = np.stack(columns, -1)
    last = np.array([_LAST if code // PLACES == KINDS.index("speed") else 0.0 for code in codes])
    score = np.where(np.abs(stacked) <= _CLOSE, stacked + last, np.inf)
    place = score.argmin(-1)
    found = np.isfinite(np.take_along_axis(score, place[..., None], -1)[..., 0])
    return np.where(found, np.array(codes)[place], NONE)


def kind_of(code: int) -> tuple[str, int]:
    """Return the kind of a binding limit, and which arm, segment or kind of pump it belongs to."""
    return KINDS[code // PLACES], code % PLACES


def _add_shore(add, system: ShipShore, point: OperatingPoint, ship: ShipAllowed, berth: BerthAllowed) -> None:  # type: ignore[no-untyped-def]
    flow = point.flow_m3_per_s
    pressure = system.point_pressures(flow)[0]
    boosted = system.booster_pressure(flow)[0]
    add("agreed-manifold-pressure", 0, pressure[..., 0], berth.agreed_pa)
    add("berth-manifold-pressure", 0, pressure[..., 0], berth.manifold_pa)
    add("ship-manifold-rating", 0, pressure[..., 0], ship.manifold_pa)
    if ship.cargo_line_pa.shape[-1]:
        add("ship-line-rating", 0, system.ship_line_pressure(flow)[0][..., 0], ship.cargo_line_pa[..., 0])
    velocity = arm_flows(system.berth, flow)[0] / system.berth.arms.area_m2
    at_arms = np.maximum(pressure[..., 0], pressure[..., 1])
    for arm in range(velocity.shape[-1]):
        add("arm-rating", arm, at_arms, berth.arm_pa[..., arm])
        add("arm-velocity", arm, velocity[..., arm], berth.arm_m_per_s[..., arm])
    for segment in range(berth.segment_pa.shape[-1]):
        highest = np.maximum(pressure[..., 1 + segment], pressure[..., 2 + segment])
        if boosted.shape[-1]:
            highest = np.where(berth.fed[..., segment] > 0, np.maximum(highest, boosted[..., 0]), highest)
        add("shore-rating", segment, highest, berth.segment_pa[..., segment])
        add("shore-velocity", segment, flow / berth.segment_area_m2[..., segment], berth.segment_m_per_s[..., segment])


def _add_pumps(  # type: ignore[no-untyped-def]
    add, system: ShipShore, point: OperatingPoint, ship: ShipAllowed, suction: SuctionLimits, power: PowerData
) -> None:
    flow, speed = point.pump_flow_m3_per_s, point.speed_rpm
    head = pump_head(system.pumps.curves, flow, speed)[0]
    shaft = shaft_power_w(power, flow, head, speed, system.density_kg_per_m3[..., None])
    available = np.where(suction.known, npsh_available_m(system.pumps, suction, flow), np.nan)
    required = np.where(suction.known, npsh_required_m(suction, flow, speed), np.nan)
    exists = system.pumps.count > 0
    for kind in range(flow.shape[-1]):
        here = exists[..., kind]

        def add_here(name: str, value: Array, allowed: Array, here: np.ndarray = here, kind: int = kind) -> None:
            add(name, kind, np.where(here, value[..., kind], np.nan), allowed[..., kind])

        add_here("rated-flow", flow, ship.rated_m3_per_s)
        add_here("greatest-flow", flow, ship.greatest_m3_per_s)
        add_here("speed", speed, ship.speed_rpm)
        add_here("power", shaft, power.limit_w)
        add_here("npsh", required, available)
