"""Ship and berth apart as arrays, so that each is made once and any ship is then put to any berth (pure: no Django).

A pair made of both sides equals the arrays of its own case to the last digit; a test compares them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from functools import cache
from typing import Any

import numpy as np

from compat.calc.achievable import FlowLimits
from compat.calc.balance import SpeedRule
from compat.calc.stepped import DriveSteps
from compat.calc.system import ShipShore
from compat.case.berth_arrays import (
    arm_flow_caps,
    berth_line,
    booster_caps,
    point_elevations,
    pressure_caps,
    segment_fed,
)
from compat.case.binding_arrays import BerthAllowed, ShipAllowed
from compat.case.case_arrays import Searched
from compat.case.case_file import FORMAT, AgreedFacts, CaseFile, OperationFacts, PumpState, check_operation
from compat.case.flange_ratings import with_flange_ratings
from compat.case.pump_arrays import (
    drive_steps,
    power_data,
    pump_flow_caps,
    pump_group,
    pump_rows,
    ship_line_caps,
    speed_rule,
    suction_limits,
)
from shared.calc.arrays import map_arrays, take
from shared.calc.gas_and_static import discharge_allowed_by_inert_gas
from shared.calc.line import Pipes
from shared.calc.root import Array
from shared.calc.units import BAR_PA, GRAVITY_M_PER_S2, HOUR_S, MM2_PER_S
from shared.cargo_facts import CargoFacts, Liquid, liquid_of
from shared.facts import PipeSegment
from shared.pipe_arrays import area_m2, pipes_of
from terminals.calc.berth_line import BerthLine
from terminals.facts import BerthFacts
from vessels.calc.power import PowerData
from vessels.calc.pump_group import PumpGroup
from vessels.calc.suction import SuctionLimits
from vessels.facts import ShipFacts

Shape = tuple[Any, ...]


@dataclass(frozen=True)
class ShipSide:
    """Ships as arrays, one row each, as if their keels stood at the berth's zero."""

    pumps: PumpGroup
    surface_m: Array
    gas_m: Array
    common_line: Pipes
    manifold_m: Array
    flow_cap_m3_per_s: Array
    pump_cap_m3_per_s: Array
    rule: SpeedRule
    steps: DriveSteps
    suction: SuctionLimits
    power: PowerData
    allowed: ShipAllowed


@dataclass(frozen=True)
class BerthSide:
    """Berths as arrays, one row each, with so many arms connected; caps leave out what the ship allows."""

    line: BerthLine
    points_m: Array
    pressure_caps_pa: Array
    booster_caps_pa: Array
    arm_caps_m3_per_s: Array
    flow_cap_m3_per_s: Array
    allowed: BerthAllowed


def ship_side(ship: ShipFacts, cargo: CargoFacts, operation: OperationFacts) -> ShipSide:
    """Return one ship with a cargo; raise InputError where a correction that is asked for can't be made."""
    case = with_flange_ratings(_case(ship, _any_berth(), cargo, operation))
    liquids, density, viscosity = _liquid(cargo)
    rows = pump_rows([case], liquids)
    pumps = pump_group(rows, density, viscosity)
    weight = (density * GRAVITY_M_PER_S2)[:, None]
    suction = suction_limits(rows)
    return ShipSide(
        pumps=pumps,
        surface_m=rows.array(lambda _, kind: kind.state.tank_surface_elevation_m),
        gas_m=rows.array(lambda _, kind: kind.state.tank_gas_pressure_bar_gauge * BAR_PA) / weight,
        common_line=pipes_of([case.ship.common_line]),
        manifold_m=np.array([case.ship.manifold.elevation_m]),
        flow_cap_m3_per_s=np.array([_ship_cap(case.ship)]),
        pump_cap_m3_per_s=pump_flow_caps(rows),
        rule=speed_rule(rows),
        steps=drive_steps(rows),
        suction=suction,
        power=power_data(rows),
        allowed=ShipAllowed(
            manifold_pa=np.array([_pascal(case.ship.manifold.rating_bar_gauge)]),
            cargo_line_pa=ship_line_caps([case.ship]),
            inert_gas_m3_per_s=np.array([_inert_gas_cap(case.ship)]),
            line_m_per_s=np.array([_or_infinite(case.ship.ship_line_velocity_limit_m_per_s)]),
            common_area_m2=np.array([_areas(case.ship.common_line)]),
            own_area_m2=rows.array(lambda _, kind: _narrowest([*kind.pump.suction_line, *kind.pump.discharge_line])),
            rated_m3_per_s=rows.array(lambda _, kind: _flow(kind.pump.rated_flow_m3_per_h)),
            greatest_m3_per_s=rows.array(lambda _, kind: _flow(kind.pump.greatest_continuous_flow_m3_per_h)),
            speed_rpm=rows.array(lambda _, kind: kind.pump.greatest_speed_rpm),
        ),
    )


def rated_ship(ship: ShipFacts, cargo: CargoFacts) -> ShipFacts:
    """Return a ship with the rating that her flange has at the cargo's temperature, where none is stated."""
    return with_flange_ratings(_case(ship, _any_berth(), cargo, _any_operation(_any_ship()))).ship


def rated_berth(berth: BerthFacts, cargo: CargoFacts) -> BerthFacts:
    """Return a berth with the ratings that its flanges have at the cargo's temperature, where none is stated."""
    return with_flange_ratings(_case(_any_ship(), berth, cargo, _any_operation(_any_ship()))).berth


def check_pumps(ship: ShipFacts, cargo: CargoFacts, operation: OperationFacts) -> None:
    """Raise ValueError with a sentence where the pumps can't be run so together."""
    agreed = AgreedFacts(manifold_pressure_bar_gauge=1.0)
    check_operation(_case(ship, _any_berth(), cargo, operation).model_copy(update={"agreed": agreed}))


def pump_names(ship: ShipFacts, operation: OperationFacts) -> list[str]:
    """Return the key of the first pump of each kind, in the order of the arrays."""
    case = _case(ship, _any_berth(), _water(), operation)
    return [kind.keys[0] for kind in pump_rows([case], _liquid(_water())[0]).kinds[0]]


def berth_side(berth: BerthFacts, cargo: CargoFacts, agreed_bar: float) -> BerthSide:
    """Return one berth with a cargo and a manifold pressure to agree; its arms are those that are connected."""
    ship = _any_ship()
    case = with_flange_ratings(_case(ship, berth, cargo, _any_operation(ship)))
    _, density, viscosity = _liquid(cargo)
    cases = [case]
    segments = case.berth.shore_line
    fed = segment_fed(case.berth)
    return BerthSide(
        line=berth_line(cases, density, viscosity),
        points_m=point_elevations(cases),
        pressure_caps_pa=pressure_caps(cases),
        booster_caps_pa=booster_caps(cases),
        arm_caps_m3_per_s=arm_flow_caps(cases),
        flow_cap_m3_per_s=np.array([_berth_cap(case.berth)]),
        allowed=BerthAllowed(
            agreed_pa=np.array([agreed_bar * BAR_PA]),
            manifold_pa=np.array([_pascal(case.berth.manifold_pressure_limit_bar_gauge)]),
            receiving_m3_per_s=np.array([_flow(case.berth.receiving_rate_m3_per_h)]),
            arm_pa=np.array([[_pascal(arm.rating_bar_gauge) for arm in case.berth.arms]]),
            arm_m_per_s=np.array([[_or_infinite(arm.velocity_limit_m_per_s) for arm in case.berth.arms]]),
            segment_pa=np.array([[_pascal(one.rating_bar_gauge) for one in segments]]).reshape(1, len(segments)),
            segment_m_per_s=np.array([[_or_infinite(one.velocity_limit_m_per_s) for one in segments]]).reshape(
                1, len(segments)
            ),
            segment_area_m2=np.array([_areas(segments)]).reshape(1, len(segments)),
            fed=np.array([[float(place == fed) for place in range(len(segments))]]).reshape(1, len(segments)),
        ),
    )


def pairs_of_sides(ships: ShipSide, berths: BerthSide, keel_m: Array, cargo: CargoFacts) -> Searched:
    """Return ships and berths, row by row, as what a search works on; ``keel_m`` over the berth's zero, (pairs,)."""
    _, density, viscosity = _liquid(cargo)
    density, viscosity = np.repeat(density, keel_m.size), np.repeat(viscosity, keel_m.size)
    keel = keel_m[:, None]
    pumps = replace(
        ships.pumps,
        tank_head_m=(keel + ships.surface_m) + ships.gas_m,
        elevation_m=keel + ships.pumps.elevation_m,
    )
    points = berths.points_m.copy()
    points[:, 0] = keel_m + ships.manifold_m
    caps = berths.pressure_caps_pa.copy()
    caps[:, 0] = np.minimum(np.minimum(caps[:, 0], berths.allowed.agreed_pa), ships.allowed.manifold_pa)
    return Searched(
        system=ShipShore(pumps, ships.common_line, berths.line, points, density, viscosity),
        rule=ships.rule,
        steps=ships.steps,
        limits=FlowLimits(
            flow_m3_per_s=np.minimum(ships.flow_cap_m3_per_s, berths.flow_cap_m3_per_s),
            pressure_pa_gauge=caps,
            booster_pa_gauge=berths.booster_caps_pa,
            ship_line_pa_gauge=ships.allowed.cargo_line_pa,
            arm_flow_m3_per_s=berths.arm_caps_m3_per_s,
            pump_flow_m3_per_s=ships.pump_cap_m3_per_s,
            suction=ships.suction,
            power=ships.power,
        ),
    )


def shape_of(record: Any) -> Shape:
    """Return the shapes of all arrays of a record past their first axis, by which rows can stand side by side."""
    if record is None:
        return (None,)
    if isinstance(record, np.ndarray):
        return (record.shape[1:],)
    if not is_dataclass(record):
        raise TypeError(f"{type(record).__name__} holds no arrays.")
    return tuple(shape_of(getattr(record, field.name)) for field in fields(record))


def stacked(records: Sequence[Any]) -> Any:
    """Return records of one shape as one record with a row for each."""
    return map_arrays(lambda *arrays: np.concatenate(arrays), *records)


def chosen(record: Any, rows: np.ndarray) -> Any:
    """Return some rows of a record."""
    return take(record, rows)


def _case(ship: ShipFacts, berth: BerthFacts, cargo: CargoFacts, operation: OperationFacts) -> CaseFile:
    """Put a case together without checking it again; each side was checked by itself."""
    return CaseFile.model_construct(
        format=FORMAT,
        title="",
        ship=ship,
        cargo=cargo,
        berth=berth,
        keel_elevation_m=0.0,
        operation=operation,
        agreed=AgreedFacts(),
        own_limits=[],
        tolerances=[],
        visit=None,
    )


def _liquid(cargo: CargoFacts) -> tuple[list[Liquid], Array, Array]:
    liquid = liquid_of(cargo)
    density = np.array([liquid.density_kg_per_m3])
    return [liquid], density, np.array([liquid.kinematic_viscosity_mm2_per_s]) * MM2_PER_S


def _ship_cap(ship: ShipFacts) -> float:
    caps = [_inert_gas_cap(ship)]
    if ship.ship_line_velocity_limit_m_per_s is not None:
        caps += [ship.ship_line_velocity_limit_m_per_s * area_m2(segment) for segment in ship.common_line]
    return min(caps)


def _inert_gas_cap(ship: ShipFacts) -> float:
    if ship.inert_gas_delivery_m3_per_h is None:
        return np.inf
    return float(discharge_allowed_by_inert_gas(ship.inert_gas_delivery_m3_per_h / HOUR_S))


def _berth_cap(berth: BerthFacts) -> float:
    lines = [(segment, segment.velocity_limit_m_per_s) for segment in berth.shore_line]
    caps = [limit * area_m2(segment) for segment, limit in lines if limit is not None]
    return float(min([_flow(berth.receiving_rate_m3_per_h), *caps]))


def _areas(line: Sequence[PipeSegment]) -> list[float]:
    return [area_m2(segment) for segment in line]


def _narrowest(line: Sequence[PipeSegment]) -> float:
    return min(_areas(line), default=np.inf)


def _pascal(rating_bar: float | None) -> float:
    return np.inf if rating_bar is None else rating_bar * BAR_PA


def _flow(flow_m3_per_h: float | None) -> float:
    return np.inf if flow_m3_per_h is None else flow_m3_per_h / HOUR_S


def _or_infinite(value: float | None) -> float:
    return float("inf") if value is None else value


@cache
def _water() -> CargoFacts:
    return CargoFacts(name="Water", density_kg_per_m3=1000.0, kinematic_viscosity_mm2_per_s=1.0)


@cache
def _any_berth() -> BerthFacts:
    """Return a berth that states nothing which could limit a ship."""
    arm = {"name": "Arm", "count": 1, "length_m": 0.0, "bore_mm": 1000.0, "roughness_mm": 0.0, "loss_coefficient": 0.0}
    end = {"back_pressure_bar_gauge": 0.0}
    return BerthFacts.model_validate({"name": "Any", "arms": [arm], "arm_shore_end_elevation_m": 0.0, "shore_end": end})


@cache
def _any_ship() -> ShipFacts:
    """Return a ship that states nothing which could limit a berth."""
    points = [{"flow_m3_per_h": 0.0, "head_m": 100.0}, {"flow_m3_per_h": 1000.0, "head_m": 90.0}]
    pump = {"key": "P", "name": "P", "curves": [{"speed_rpm": 1000.0, "points": points}], "elevation_m": 0.0}
    pump |= {"least_speed_rpm": 500.0, "greatest_speed_rpm": 1000.0}
    return ShipFacts.model_validate({"name": "Any", "pumps": [pump], "manifold": {"elevation_m": 0.0}})


def _any_operation(ship: ShipFacts) -> OperationFacts:
    state = PumpState(
        pump=ship.pumps[0].key, running=True, tank_surface_elevation_m=1.0, tank_gas_pressure_bar_gauge=0.0
    )
    return OperationFacts(speed="one common speed", pumps=[state])
