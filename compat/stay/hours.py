"""The hourly table of a stay and the curves of its pictures (pure: no Django)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from compat.calc.stay.track import Track
from compat.stay.checking import deeper_by, water_along
from compat.stay.gauges import Seen, binding_words
from compat.stay.parts import HourRow, PumpHour, Series
from compat.stay.planning import Planned
from compat.stay.tanks import rounded, tank_hours, tank_level, tank_volumes, trim_by
from shared.calc.units import HOUR_S


def hour_rows(plan: Planned, index: int, track: Track, seen: Sequence[Seen], leave_m3: float) -> Iterator[HourRow]:
    """Yield what the crew should see at each moment."""
    if not seen:
        return
    file, stay = plan.files[index], plan.stays[index]
    keel, level, draught = water_along(stay, track, np.array([one.time_s for one in seen]))
    depth, ship = file.case.berth.size.depth_below_zero_m, file.case.ship
    for one, keel_m, level_m, draught_m in zip(seen, keel.tolist(), level.tolist(), draught.tolist(), strict=True):
        volumes = tank_volumes(plan, index, one)
        trim = trim_by(plan, index, one.time_s, volumes)
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
            tanks=tank_hours(plan, index, volumes, trim),
            receiver=receiver[0],
            receiver_m3=receiver[1],
            receiver_surface_m=receiver[2],
            water_level_m=_known(level_m),
            draught_m=_known(draught_m),
            trim_m=trim,
            freeboard_m=None if deck is None or not np.isfinite(draught_m) else float(deck) - draught_m,
            manifold_elevation_m=keel_m + ship.manifold.elevation_m,
            under_keel_m=None if depth is None else keel_m + depth - deeper_by(trim),
            air_clearance_m=None if highest is None or allowed is None else float(allowed) - keel_m - float(highest),
        )


def _stated(value: float | None) -> float | None:
    return None if value is None else float(value)


def _left_over(value: float) -> float:
    return max(rounded(value), 0.0)


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


def _receiver(plan: Planned, index: int, seen: Seen) -> tuple[str, float | None, float | None]:
    file = plan.files[index]
    keys = file.all_parcels()[seen.stretch.parcel].shore_tanks
    if not keys:
        return "", None, None
    key = keys[seen.stretch.receiver]
    facts = next(tank for tank in file.shore_tanks if tank.key == key)
    surface = float(facts.as_table().level(seen.receiver_m3)) + facts.zero_elevation_m
    return key, seen.receiver_m3, surface


def series_of(plan: Planned, index: int, along: Sequence[Seen]) -> Series:
    """Return the curves of the pictures at the points of all stretches."""
    stay = plan.stays[index]
    times, gone = np.array([one.time_s for one in along]), np.array([one.ashore_kg for one in along])
    keel, level = stay.water.keel(times, gone).tolist(), stay.water.level(times).tolist()
    manifold = plan.files[index].case.ship.manifold.elevation_m
    held, volumes = plan.tanks[index], [tank_volumes(plan, index, one) for one in along]
    levels = {
        tank.key: tuple(tank_level(held[tank.key], row[tank.key]) for row in volumes)
        for tank in plan.files[index].cargo_tanks
    }
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
