"""The hourly table of a stay and the curves of its pictures (pure: no Django)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from compat.calc.stay.track import Track
from compat.stay.checking import water_along
from compat.stay.gauges import Seen, binding_words
from compat.stay.parts import HourRow, PumpHour, Series, TankHour
from compat.stay.planning import Planned, groups_of
from shared.calc.units import HOUR_S

_LEAST_GAP_S = 1.0
_ROUNDING = 1e-9


def hour_rows(plan: Planned, index: int, track: Track, seen: Sequence[Seen], leave_m3: float) -> Iterator[HourRow]:
    """Yield what the crew should see at each moment."""
    if not seen:
        return
    file, stay = plan.files[index], plan.stays[index]
    keel, level, draught = water_along(stay, track, np.array([one.time_s for one in seen]))
    depth, ship = file.case.berth.size.depth_below_zero_m, file.case.ship
    for one, keel_m, level_m, draught_m in zip(seen, keel.tolist(), level.tolist(), draught.tolist(), strict=True):
        tanks = tank_hours(plan, index, one)
        receiver = _receiver(plan, index, one)
        deck, highest = file.water.freeboard_deck_m, file.water.highest_point_elevation_m
        allowed = file.water.greatest_elevation_m
        yield HourRow(
            hour=one.time_s / HOUR_S,
            stage=one.stretch.name,
            binding=binding_words(plan, one.row, one.code) if one.rate_m3_per_s > 0 else "",
            rate_m3_per_h=one.rate_m3_per_s * HOUR_S,
            ashore_m3=one.ashore_m3,
            to_go_m3=_left_over(leave_m3 - one.ashore_m3),
            manifold_pressure_bar_gauge=_known(one.manifold_bar),
            pumps=pump_hours(plan, one),
            tanks=tanks,
            receiver=receiver[0],
            receiver_m3=receiver[1],
            receiver_surface_m=receiver[2],
            water_level_m=_known(level_m),
            draught_m=_known(draught_m),
            trim_m=_trim(plan, index, tanks),
            freeboard_m=None if deck is None or not np.isfinite(draught_m) else float(deck) - draught_m,
            manifold_elevation_m=keel_m + ship.manifold.elevation_m,
            under_keel_m=None if depth is None else keel_m + depth,
            air_clearance_m=None if highest is None or allowed is None else float(allowed) - keel_m - float(highest),
        )


def _stated(value: float | None) -> float | None:
    return None if value is None else float(value)


def _left_over(value: float) -> float:
    return max(_rounded(value), 0.0)


def _rounded(value: float) -> float:
    """Return a level or a volume, none where only the rounding of its sums is left."""
    return 0.0 if abs(value) <= _ROUNDING else value


def _known(value: float) -> float | None:
    return value if np.isfinite(value) else None


def pump_hours(plan: Planned, seen: Seen) -> tuple[PumpHour, ...]:
    """Return what each pump of a moment does; pumps alike share their flow."""
    found = []
    for place, kind in enumerate(plan.arrays.pumps.kinds[seen.row]):
        runs = bool(np.isfinite(seen.speed_rpm[place]))
        found += [
            PumpHour(
                pump=key,
                speed_rpm=float(seen.speed_rpm[place]) if runs else None,
                flow_m3_per_h=float(seen.pump_m3_per_s[place]) * HOUR_S if runs else 0.0,
                suction_pressure_bar_gauge=float(seen.suction_bar[place]) if runs else None,
                discharge_pressure_bar_gauge=float(seen.discharge_bar[place]) if runs else None,
            )
            for key in kind.keys
        ]
    return tuple(found)


def tank_hours(plan: Planned, index: int, seen: Seen) -> tuple[TankHour, ...]:
    """Return what is in every cargo tank at a moment."""
    volumes = tank_volumes(plan, index, seen)
    found = []
    for key, volume in volumes.items():
        tank = plan.tanks[index][key]
        level = _rounded(float(tank.elevation(volume)) - tank.facts.zero_elevation_m)
        height = tank.facts.reference_height_m
        found.append(TankHour(key, _rounded(volume), level, None if height is None else float(height) - level))
    return tuple(found)


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


def _receiver(plan: Planned, index: int, seen: Seen) -> tuple[str, float | None, float | None]:
    file = plan.files[index]
    keys = file.all_parcels()[seen.stretch.parcel].shore_tanks
    if not keys:
        return "", None, None
    key = keys[seen.stretch.receiver]
    facts = next(tank for tank in file.shore_tanks if tank.key == key)
    surface = float(facts.as_table().level(seen.receiver_m3)) + facts.zero_elevation_m
    return key, seen.receiver_m3, surface


def _trim(plan: Planned, index: int, tanks: Sequence[TankHour]) -> float | None:
    """Return the trim by the stern in m: what leaves forward of the centre of flotation trims by the stern."""
    file = plan.files[index]
    moment, trim = file.water.trim_moment_t_m_per_cm, file.water.trim_m
    if moment is None or trim is None or any(tank.lever_m is None for tank in file.cargo_tanks):
        return None
    density = plan.stays[index].parcels[0].density_kg_per_m3 / 1000.0
    held = plan.tanks[index]
    gone = sum((held[one.tank].start_m3 - one.volume_m3) * float(held[one.tank].facts.lever_m or 0.0) for one in tanks)
    return float(trim) + gone * density / float(moment) / 100.0


def series_of(plan: Planned, index: int, along: Sequence[Seen]) -> Series:
    """Return the curves of the pictures at the points of all stretches."""
    stay = plan.stays[index]
    times, gone = np.array([one.time_s for one in along]), np.array([one.ashore_kg for one in along])
    keel, level = stay.water.keel(times, gone).tolist(), stay.water.level(times).tolist()
    manifold = plan.files[index].case.ship.manifold.elevation_m
    tanks = [{tank.tank: tank.level_m for tank in tank_hours(plan, index, one)} for one in along]
    levels = {tank.key: tuple(row[tank.key] for row in tanks) for tank in plan.files[index].cargo_tanks}
    speeds = [one.speed_rpm[np.isfinite(one.speed_rpm)] for one in along]
    return Series(
        hour=tuple(one.time_s / HOUR_S for one in along),
        rate_m3_per_h=tuple(one.rate_m3_per_s * HOUR_S for one in along),
        manifold_pressure_bar_gauge=tuple(_known(one.manifold_bar) for one in along),
        speed_rpm=tuple(float(one.max()) if one.size else None for one in speeds),
        binding=tuple(binding_words(plan, one.row, one.code) if one.rate_m3_per_s > 0 else "" for one in along),
        ashore_m3=tuple(one.ashore_m3 for one in along),
        manifold_elevation_m=tuple(one + manifold for one in keel),
        water_level_m=tuple(_known(one) for one in level),
        tank_level_m=levels,
        lowest_reach_m=_stated(plan.files[index].water.least_manifold_elevation_m),
        highest_reach_m=_stated(plan.files[index].water.greatest_manifold_elevation_m),
    )
