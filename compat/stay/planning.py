"""From stay files to what is stepped through: base rows, tanks drawn together, stages (pure: no Django)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from compat.calc.stay.moments import Circuit
from compat.calc.stay.plan import (
    Ballast,
    Draw,
    Group,
    Parcel,
    Receiver,
    Stage,
    Stay,
    Stop,
    Washing,
    Water,
)
from compat.case.case_arrays import CaseArrays, arrays_of
from compat.case.case_file import CaseFile, PumpState
from compat.case.flange_ratings import with_flange_ratings
from compat.stay.facts import CargoTank, DrawFacts, ParcelFacts, ReceivingTank
from compat.stay.file import StayFile
from shared.calc.root import Array
from shared.calc.tank_table import TankTable
from shared.calc.units import HOUR_S
from shared.cargo_facts import liquid_of
from shared.pipe_arrays import area_m2

TONNE_KG = 1000.0


@dataclass(frozen=True)
class HeldTank:
    """A cargo tank with its table read once: elevations over the keel, what is in it, and where pumps come off."""

    facts: CargoTank
    table: TankTable
    elevation_m: Array
    volume_m3: Array
    start_m3: float
    off_m3: float
    off_elevation_m: float

    def volume(self, elevation_m: Array) -> Array:
        """Return what is left when the surface is drawn down to elevations; never over the start, nor below the end."""
        held = np.interp(elevation_m, self.elevation_m, self.volume_m3)
        return np.clip(held, min(self.off_m3, self.start_m3), self.start_m3)

    def elevation(self, volume_m3: Array | float) -> Array:
        """Return the surface's elevation over the keel."""
        return np.asarray(np.interp(volume_m3, self.volume_m3, self.elevation_m))


@dataclass(frozen=True)
class Planned:
    """Stay files ready to be stepped through, with what their results are read with."""

    files: tuple[StayFile, ...]
    circuit: Circuit
    arrays: CaseArrays
    stays: tuple[Stay, ...]
    tanks: tuple[dict[str, HeldTank], ...]


def planned(files: Sequence[StayFile]) -> Planned:
    """Return stay files as base rows and plans; raise InputError where a liquid can't be worked out."""
    cases: list[CaseFile] = []
    first_row: list[int] = []
    for file in files:
        first_row.append(len(cases))
        for parcel in file.all_parcels():
            cases.append(_bulk_case(file, parcel))
            cases.extend(_stripping_case(file, parcel))
    arrays = arrays_of([with_flange_ratings(case) for case in cases])
    arrays = _with_stated_speeds(arrays, cases)
    surfaces = arrays.pumps.array(lambda _, kind: kind.state.tank_surface_elevation_m)
    circuit = Circuit(
        system=arrays.system,
        rule=arrays.rule,
        limits=arrays.limits,
        surface_m=surfaces,
        keel_m=np.array([case.keel_elevation_m for case in cases]),
        shore_m=np.array([_shore_level(case) for case in cases]),
    )
    tanks = tuple({tank.key: held_tank(tank, file.water.trim_m) for tank in file.cargo_tanks} for file in files)
    stays = tuple(_stay(file, held, arrays, row) for file, held, row in zip(files, tanks, first_row, strict=True))
    return Planned(tuple(files), circuit, arrays, stays, tanks)


def held_tank(tank: CargoTank, trim_m: float | None) -> HeldTank:
    """Return a tank with its table over the keel."""
    table = tank.as_table()
    elevation = table.level_m + tank.zero_elevation_m
    off = table.level_m[0] if tank.pumps_off_below_m is None else tank.pumps_off_below_m
    off = float(np.clip(off, table.level_m[0], table.level_m[-1]))
    start = tank.volume_now(trim_m)
    return HeldTank(
        tank, table, elevation, table.volume_m3, start, float(table.volume(off)), off + tank.zero_elevation_m
    )


def groups_of(file: StayFile, parcel: ParcelFacts) -> list[tuple[DrawFacts, list[list[str]]]]:
    """Return the draws that take from a parcel, each with the tanks that it draws down together, in order."""
    found = []
    for draw in file.all_draws():
        keys = [key for key in draw.tanks if key in parcel.tanks]
        if keys:
            found.append((draw, [keys] if draw.order == "even" else [[key] for key in keys]))
    return found


def _bulk_case(file: StayFile, parcel: ParcelFacts) -> CaseFile:
    """Return the case with the parcel's liquid; its levels only number the pumps that draw together."""
    states = {state.pump: state for state in file.case.operation.pumps}
    placed = [
        states[key].model_copy(update={"tank_surface_elevation_m": float(number)})
        for number, draw in enumerate(file.all_draws())
        for key in draw.pumps
    ]
    return _case_with(file, parcel, placed)


def _stripping_case(file: StayFile, parcel: ParcelFacts) -> list[CaseFile]:
    """Return the case in which the stripping pump runs alone, where there is one."""
    stripping = file.stages.stripping
    if stripping is None or stripping.pump is None:
        return []
    pump = next(pump for pump in file.case.ship.pumps if pump.key == stripping.pump)
    stated = next((state for state in file.case.operation.pumps if state.pump == pump.key), None)
    state = PumpState(
        pump=pump.key,
        running=True,
        speed_rpm=stated.speed_rpm if stated and stated.speed_rpm else pump.greatest_speed_rpm,
        tank_surface_elevation_m=_lowest_level(file),
        tank_gas_pressure_bar_gauge=file.case.operation.pumps[0].tank_gas_pressure_bar_gauge,
    )
    return [_case_with(file, parcel, [state])]


def _case_with(file: StayFile, parcel: ParcelFacts, states: list[PumpState]) -> CaseFile:
    operation = file.case.operation.model_copy(update={"pumps": states})
    return file.case.model_copy(update={"operation": operation, "cargo": parcel.cargo or file.case.cargo})


def _lowest_level(file: StayFile) -> float:
    """Return the surface over the keel from which stripping draws: the mean level at which the pumps come off."""
    levels = [held_tank(tank, file.water.trim_m).off_elevation_m for tank in file.cargo_tanks]
    return float(np.mean(levels))


def _with_stated_speeds(arrays: CaseArrays, cases: Sequence[CaseFile]) -> CaseArrays:
    """Return arrays in which pumps with stated speeds run at them and nothing else; limits are then met by valves."""
    stated = np.array([case.operation.speed == "as stated" for case in cases])
    if not stated.any():
        return arrays
    rule, here = arrays.rule, stated[:, None]
    held = type(rule)(
        np.where(here, arrays.stated_rpm, rule.scale),
        np.where(here, arrays.stated_rpm, rule.least_rpm),
        np.where(here, arrays.stated_rpm, rule.greatest_rpm),
    )
    return CaseArrays(arrays.system, held, arrays.steps, arrays.limits, arrays.stated_rpm, arrays.pumps)


def _shore_level(case: CaseFile) -> float:
    tank = case.berth.shore_end.tank
    return 0.0 if tank is None else tank.surface_elevation_m


def _stay(file: StayFile, tanks: dict[str, HeldTank], arrays: CaseArrays, row: int) -> Stay:
    parcels = file.all_parcels()
    between = file.stages.between_parcels_h or 0.0
    rows = 1 if file.stages.stripping is None or file.stages.stripping.pump is None else 2
    return Stay(
        parcels=tuple(
            _parcel(file, parcel, tanks, arrays, row + rows * number, last=number == len(parcels) - 1)
            for number, parcel in enumerate(parcels)
        ),
        water=_water(file),
        stops=(*_stops(file), *_changes_of_line_up(file, tanks, between)),
        washing=tuple(
            Washing(
                one.begins_h * HOUR_S, (float(one.begins_h) + float(one.lasts_h)) * HOUR_S, one.flow_m3_per_h / HOUR_S
            )
            for one in file.stages.washing
        ),
    )


def _parcel(
    file: StayFile, parcel: ParcelFacts, tanks: dict[str, HeldTank], arrays: CaseArrays, row: int, *, last: bool
) -> Parcel:
    kinds = arrays.pumps.kinds[row]
    groups = []
    for draw, tanks_in_order in groups_of(file, parcel):
        flags = np.zeros(arrays.pumps.most, dtype=bool)
        flags[: len(kinds)] = [bool(set(kind.keys) & set(draw.pumps)) for kind in kinds]
        least = [kind.pump.least_continuous_flow_m3_per_h for kind in kinds if set(kind.keys) & set(draw.pumps)]
        floor = max((one / HOUR_S for one in least if one is not None), default=0.0)
        draws = tuple(_draw([tanks[key] for key in keys]) for keys in tanks_in_order)
        groups.append(Group(flags, draws, floor))
    density = liquid_of(parcel.cargo or file.case.cargo).density_kg_per_m3
    held = [tanks[key] for key in parcel.tanks]
    stages = _stages(file, held, arrays, row, last=last)
    return Parcel(row, density, tuple(groups), _receivers(file, parcel), stages)


def _draw(tanks: Sequence[HeldTank]) -> Draw:
    """Return tanks drawn down to one surface: the highest first, until all are even."""
    low = min(tank.off_elevation_m for tank in tanks)
    high = max(float(tank.elevation(tank.start_m3)) for tank in tanks)
    marks = [tank.elevation_m for tank in tanks]
    marks += [np.array([tank.off_elevation_m, float(tank.elevation(tank.start_m3))]) for tank in tanks]
    surface = np.unique(np.concatenate(marks))
    surface = surface[(surface >= low) & (surface <= max(high, low))]
    volume = np.sum([tank.volume(surface) for tank in tanks], axis=0)
    kept = np.concatenate([[True], np.diff(volume) > 1e-9])
    surface, volume = surface[kept], volume[kept]
    return Draw(volume, surface, float(volume[-1]), float(volume[0]))


def _receivers(file: StayFile, parcel: ParcelFacts) -> tuple[Receiver, ...]:
    known = {tank.key: tank for tank in file.shore_tanks}
    receivers = [_receiver(file, known[key]) for key in parcel.shore_tanks]
    if receivers:
        return tuple(receivers)
    return (Receiver(np.zeros(1), np.array([_shore_level(file.case)]), 0.0, np.inf),)


def _receiver(file: StayFile, tank: ReceivingTank) -> Receiver:
    table: TankTable = tank.as_table()
    surface = table.level_m + tank.zero_elevation_m
    if file.case.berth.shore_end.tank is None:
        surface = np.zeros_like(surface)
    full = table.capacity_m3 if tank.full_at_m3 is None else min(tank.full_at_m3, table.capacity_m3)
    return Receiver(table.volume_m3, surface, tank.volume_now(None), full)


def line_content_m3(file: StayFile) -> float | None:
    """Return what arms and shore line hold in m3, as stated or from their bores; None where the line is not known."""
    if file.stages.line_content_m3 is not None:
        return file.stages.line_content_m3
    berth = file.case.berth
    if berth.shore_end.observed is not None or not berth.shore_line:
        return None
    arms = sum(arm.count * arm.length_m * area_m2(arm) for arm in berth.arms)
    return float(arms + sum(segment.length_m * area_m2(segment) for segment in berth.shore_line))


def _stages(
    file: StayFile, tanks: Sequence[HeldTank], arrays: CaseArrays, row: int, *, last: bool
) -> tuple[Stage, ...]:
    stages: list[Stage] = []
    start, content = file.case.agreed.start_rate_m3_per_h, line_content_m3(file)
    if start is not None:
        if content:
            stages.append(Stage("line filling", rate_m3_per_s=start / HOUR_S, volume_m3=content))
        stages.append(Stage("ramp", rate_m3_per_s=start / HOUR_S, lasts_s=file.stages.ramp_h * HOUR_S))
    stages.append(Stage("bulk"))
    rest = sum(max(min(tank.off_m3, tank.start_m3) - (tank.facts.residue_m3 or 0.0), 0.0) for tank in tanks)
    stripping = file.stages.stripping
    if stripping is not None and rest > 0:
        rate = np.inf if stripping.rate_m3_per_h is None else stripping.rate_m3_per_h / HOUR_S
        flags = None if stripping.pump is None else np.arange(arrays.pumps.most) == 0
        stages.append(Stage("stripping", rate_m3_per_s=rate, volume_m3=rest, kinds=flags, row=row + 1))
    clearing = file.stages.line_clearing_h
    if clearing and last:
        stages.append(Stage("line clearing", lasts_s=clearing * HOUR_S))
    return tuple(stages)


def _stops(file: StayFile) -> tuple[Stop, ...]:
    return tuple(
        Stop(
            one.reason,
            one.lasts_h * HOUR_S,
            None if one.begins_h is None else one.begins_h * HOUR_S,
            one.after_m3,
        )
        for one in file.stops
    )


def _changes_of_line_up(file: StayFile, tanks: dict[str, HeldTank], between_h: float) -> tuple[Stop, ...]:
    if not between_h:
        return ()
    stops: list[Stop] = []
    ashore = 0.0
    for parcel in file.all_parcels()[:-1]:
        ashore += sum(_leaves(file, tanks[key]) for key in parcel.tanks)
        stops.append(Stop(f"change of line-up after {parcel.name}", between_h * HOUR_S, after_m3=ashore))
    return tuple(stops)


def _leaves(file: StayFile, tank: HeldTank) -> float:
    """Return what is to leave a tank in m3."""
    end = min(tank.off_m3, tank.start_m3)
    if file.stages.stripping is not None:
        end = min(end, tank.facts.residue_m3 or 0.0)
    return tank.start_m3 - end


def to_leave_m3(file: StayFile, tanks: dict[str, HeldTank]) -> float:
    """Return what is planned to go ashore in m3."""
    return sum(_leaves(file, tank) for tank in tanks.values())


def _water(file: StayFile) -> Water:
    water = file.water
    tide = file.tide()
    keel = file.case.keel_elevation_m
    ballast = tuple(Ballast(one.begins_h * HOUR_S, one.ends_h * HOUR_S, one.mass_t * TONNE_KG) for one in water.ballast)
    return Water(keel, water.draught_m, tide, file.floating(), water.density_kg_per_m3 or 1025.0, ballast)
