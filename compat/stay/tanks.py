"""What is in the cargo tanks at a moment of a stay, and how the ship trims by it (pure: no Django)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from compat.stay.file import StayFile
from compat.stay.gauges import Seen
from compat.stay.parts import TankHour
from compat.stay.planning import TONNE_KG, HeldTank, Planned, groups_of

_ROUNDING = 1e-9
_CM_M = 0.01


def rounded(value: float) -> float:
    """Return a level or a volume, none where only the rounding of its sums is left."""
    return 0.0 if abs(value) <= _ROUNDING else value


def tank_hours(
    plan: Planned, index: int, volumes_m3: Mapping[str, float], trim_m: float | None
) -> tuple[TankHour, ...]:
    """Return what is in every cargo tank with these volumes; ullages are as they are read on a trim."""
    found = []
    for key, tank in plan.tanks[index].items():
        volume = volumes_m3[key]
        level = tank_level(tank, volume)
        height = tank.facts.reference_height_m
        ullage = None if height is None else float(height) - level + _correction(tank, trim_m)
        found.append(TankHour(key, rounded(volume), level, ullage))
    return tuple(found)


def tank_level(tank: HeldTank, volume_m3: float) -> float:
    """Return the level in m over the zero of a tank's table."""
    return rounded(float(tank.elevation(volume_m3)) - tank.facts.zero_elevation_m)


def _correction(tank: HeldTank, trim_m: float | None) -> float:
    """Return what the table adds to an observed level at a trim; nothing where it tells nothing of that trim."""
    if trim_m is None or not tank.table.trim_m.size:
        return 0.0
    if not tank.table.trim_m[0] <= trim_m <= tank.table.trim_m[-1]:
        return 0.0
    return tank.table.corrected_level(0.0, trim_m)


def tank_volumes(plan: Planned, index: int, seen: Seen) -> dict[str, float]:
    """Return the volume in m3 in every cargo tank at a moment."""
    file, tanks, stay = plan.files[index], plan.tanks[index], plan.stays[index]
    volumes: dict[str, float] = {}
    for number, parcel in enumerate(file.all_parcels()):
        for at, (_, order) in enumerate(groups_of(file, parcel)):
            draws = stay.parcels[number].groups[at].draws
            for place, keys in enumerate(order):
                if number != seen.stretch.parcel:
                    left = draws[place].start_m3 if number > seen.stretch.parcel else draws[place].stop_m3
                else:
                    left = _left(seen, at, place, len(order), draws[place].start_m3, draws[place].stop_m3)
                surface = np.array(np.interp(left, draws[place].volume_m3, draws[place].surface_m))
                volumes |= {key: float(tanks[key].volume(surface)) for key in keys}
        share = _stripped(plan, index, number, seen)
        for key in parcel.tanks:
            off = min(tanks[key].off_m3, tanks[key].start_m3)
            residue = min(tanks[key].facts.residue_m3 or 0.0, off)
            volumes[key] -= share * (off - residue)
    return volumes


def _left(seen: Seen, group: int, place: int, draws: int, start: float, stop: float) -> float:
    at = seen.stretch.drawn[group]
    if place == at or (at == draws and place == draws - 1):
        return float(seen.group_m3[group])
    return start if place > at else stop


def _stripped(plan: Planned, index: int, parcel: int, seen: Seen) -> float:
    """Return which part of what is left below the pumps has been stripped out of a parcel's tanks."""
    stages = plan.stays[index].parcels[parcel].stages
    whole = next((stage.volume_m3 for stage in stages if stage.kind == "stripping"), 0.0)
    if not whole or parcel > seen.stretch.parcel:
        return 0.0
    if parcel < seen.stretch.parcel:
        return 1.0
    kind = stages[seen.stretch.stage].kind
    if kind == "line clearing":
        return 1.0
    return seen.stripped_m3 / whole if kind == "stripping" else 0.0


def trims_along(plan: Planned, index: int, seen: Sequence[Seen]) -> list[float | None]:
    """Return the trim by the stern in m at moments, None where it is not known."""
    return [trim_by(plan, index, one.time_s, tank_volumes(plan, index, one)) for one in seen]


def trim_follows(file: StayFile) -> bool:
    """Tell whether all is stated that the trim follows from over the whole stay."""
    water = file.water
    levers = [tank.lever_m for tank in file.cargo_tanks] + [one.lever_m for one in water.ballast]
    return None not in (water.trim_m, water.trim_moment_t_m_per_cm, *levers)


def trim_by(plan: Planned, index: int, time_s: float, volumes_m3: Mapping[str, float]) -> float | None:
    """Return the trim by the stern in m: what leaves forward of the centre of flotation trims by the stern.

    None where it, the moment to change it, or a lever of a tank or of ballast is not known.
    """
    file, held = plan.files[index], plan.tanks[index]
    moment, trim = file.water.trim_moment_t_m_per_cm, file.water.trim_m
    if moment is None or trim is None or not trim_follows(file):
        return None
    gone = 0.0
    for parcel, stated in zip(plan.stays[index].parcels, file.all_parcels(), strict=True):
        for key in stated.tanks:
            lever = float(held[key].facts.lever_m or 0.0)
            gone += (held[key].start_m3 - volumes_m3[key]) * parcel.density_kg_per_m3 / TONNE_KG * lever
    for taken, ballast in zip(plan.stays[index].water.ballast, file.water.ballast, strict=True):
        part = np.clip((time_s - taken.begins_s) / (taken.ends_s - taken.begins_s), 0.0, 1.0)
        gone -= float(part) * taken.mass_kg / TONNE_KG * float(ballast.lever_m or 0.0)
    return float(float(trim) + gone / float(moment) * _CM_M)
