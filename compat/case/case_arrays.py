"""From case files to arrays in SI: the one door between stated facts and the calculation (pure: no Django)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from compat.calc.achievable import FlowLimits
from compat.calc.balance import SpeedRule
from compat.calc.stepped import DriveSteps
from compat.calc.system import ShipShore
from compat.case.berth_arrays import arm_flow_caps, berth_line, booster_caps, point_elevations, pressure_caps
from compat.case.case_file import CaseFile
from compat.case.pump_arrays import (
    PumpRows,
    drive_steps,
    power_data,
    pump_flow_caps,
    pump_group,
    pump_rows,
    ship_line_caps,
    speed_rule,
    suction_limits,
)
from shared.calc.gas_and_static import discharge_allowed_by_inert_gas
from shared.calc.root import Array
from shared.calc.units import HOUR_S, MM2_PER_S
from shared.cargo_facts import liquid_of
from shared.pipe_arrays import area_m2, pipes_of


@dataclass(frozen=True)
class Searched:
    """All that a search for the highest rate works on; ``rule`` says how free speeds move."""

    system: ShipShore
    rule: SpeedRule
    steps: DriveSteps
    limits: FlowLimits


@dataclass(frozen=True)
class CaseArrays(Searched):
    """Cases as arrays; ``stated_rpm`` counts only where speeds are stated."""

    stated_rpm: Array
    pumps: PumpRows


def arrays_of(cases: Sequence[CaseFile]) -> CaseArrays:
    """Return cases as arrays, padded to the longest; raise InputError where a correction can't be made."""
    liquids = [liquid_of(case.cargo) for case in cases]
    density = np.array([liquid.density_kg_per_m3 for liquid in liquids])
    viscosity = np.array([liquid.kinematic_viscosity_mm2_per_s for liquid in liquids]) * MM2_PER_S
    rows = pump_rows(cases, liquids)
    system = ShipShore(
        pumps=pump_group(rows, density, viscosity),
        common_line=pipes_of([case.ship.common_line for case in cases]),
        berth=berth_line(cases, density, viscosity),
        point_elevation_m=point_elevations(cases),
        density_kg_per_m3=density,
        viscosity_m2_per_s=viscosity,
    )
    limits = FlowLimits(
        flow_m3_per_s=np.array([_flow_cap(case) for case in cases]),
        pressure_pa_gauge=pressure_caps(cases),
        booster_pa_gauge=booster_caps(cases),
        ship_line_pa_gauge=ship_line_caps([case.ship for case in cases]),
        arm_flow_m3_per_s=arm_flow_caps(cases),
        pump_flow_m3_per_s=pump_flow_caps(rows),
        suction=suction_limits(rows),
        power=power_data(rows),
    )
    stated = rows.array(lambda _, kind: kind.state.speed_rpm or kind.pump.greatest_speed_rpm)
    return CaseArrays(system, speed_rule(rows), drive_steps(rows), limits, stated, rows)


def _flow_cap(case: CaseFile) -> float:
    berth, ship, agreed = case.berth, case.ship, case.agreed
    rates = [agreed.highest_rate_m3_per_h, berth.receiving_rate_m3_per_h]
    rates += [limit.rate_m3_per_h for limit in case.own_limits]
    caps = [rate / HOUR_S for rate in rates if rate is not None]
    if ship.inert_gas_delivery_m3_per_h is not None:
        caps.append(float(discharge_allowed_by_inert_gas(ship.inert_gas_delivery_m3_per_h / HOUR_S)))
    lines = [(segment, segment.velocity_limit_m_per_s) for segment in berth.shore_line]
    caps += [limit * area_m2(segment) for segment, limit in lines if limit is not None]
    if ship.ship_line_velocity_limit_m_per_s is not None:
        caps += [ship.ship_line_velocity_limit_m_per_s * area_m2(segment) for segment in ship.common_line]
    return min(caps, default=np.inf)
