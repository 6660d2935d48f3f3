"""What keeps a stay from being settled, each with its hour; and what is not known (pure: no Django)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from compat.calc.stay.plan import Stay
from compat.calc.stay.track import Track, matrix_at, part_at
from compat.stay.file import StayFile
from compat.stay.gauges import Seen
from compat.stay.parts import Problem
from compat.stay.planning import Planned, line_content_m3
from compat.stay.planning import to_leave_m3 as to_leave
from compat.stay.tanks import trim_follows, trims_along
from shared.calc.root import Array
from shared.calc.units import HOUR_S

_CLOSE_S = 300.0  # times at which the water is looked at; the hour of a crossing is found between two of them
_WORTH_M3 = 1.0


def water_along(stay: Stay, track: Track, times_s: Array) -> tuple[Array, Array, Array]:
    """Return keel and water level over the berth's zero and the draught in m at times."""
    weight = np.zeros(times_s.size)
    stretches = [track.stretch_at(float(time)) for time in times_s]
    for stretch in dict.fromkeys(map(id, stretches)):
        here = np.array([id(one) == stretch for one in stretches])
        found = next(one for one in stretches if id(one) == stretch)
        weight[here] = matrix_at(found, part_at(found, times_s[here])) @ found.ashore_kg
    water = stay.water
    return water.keel(times_s, weight), water.level(times_s), water.draught(times_s, weight)


def deeper_by(trim_m: float | None) -> float:
    """Return by how many m the deeper end lies below the mean draught; nothing where the trim is not known."""
    return 0.0 if trim_m is None else abs(trim_m) / 2.0


def problems_of(plan: Planned, index: int, track: Track, seen: Sequence[Seen]) -> list[Problem]:
    """Return everything that keeps the plan from being settled, in order of time."""
    file, stay = plan.files[index], plan.stays[index]
    to_leave_m3 = to_leave(file, plan.tanks[index])
    found = [*_broken_off(track, to_leave_m3), *_stops(file, track), *_tide(stay, track), *_washing(file, seen)]
    if track.stretches:
        found += [*_water(plan, index, track, seen), *_lost(track, stay)]
    return sorted(found, key=lambda one: one.hour)


def _broken_off(track: Track, to_leave_m3: float) -> Iterator[Problem]:
    left = to_leave_m3 - track.ashore_m3
    if track.failure is None:
        return
    hour = track.failure.time_s / HOUR_S
    reasons = {
        "receivers full": f"the receiving tanks are full with {left:,.0f} m³ still to come; name another shore tank,"
        " or take less",
        "no flow": f"nothing flows any more with {left:,.0f} m³ still to come: the pumps do not reach the shore's head"
        " within their limits; raise the speed or the agreed pressure, or ask for a lower shore tank",
        "above the pressure at rest": "the shore holds more against the manifold at rest than is allowed there;"
        " agree a higher pressure, or ask for a lower shore tank",
    }
    yield Problem(hour, f"At hour {hour:.2f} {reasons.get(track.failure.kind, track.failure.kind)}.")


def _lost(track: Track, stay: Stay) -> Iterator[Problem]:
    for stretch in track.stretches:
        if stretch.ended_by.startswith("lost"):
            number = int(stretch.ended_by.split()[1])
            draw = stay.parcels[stretch.parcel].groups[number].draws[stretch.drawn[number]]
            left = float(stretch.group_m3[-1, number]) - draw.stop_m3
            if left > _WORTH_M3:
                hour = float(stretch.time_s[-1]) / HOUR_S
                yield Problem(
                    hour,
                    f"At hour {hour:.2f} the pumps of draw {number + 1} give less than their least flow and are taken"
                    f" off with {left:,.0f} m³ above the level at which stripping takes over; raise pumps_off_below_m,"
                    " or plan a lower rate at the end.",
                )


def _stops(file: StayFile, track: Track) -> Iterator[Problem]:
    end = track.ends_s / HOUR_S
    pumping = sum(float(one.time_s[-1] - one.time_s[0]) for one in track.stretches if one.rate_m3_per_s.any()) / HOUR_S
    for stop in file.stops:
        lasts, begins = float(stop.lasts_h), stop.begins_h
        hour = float(begins) if begins is not None else min(end, track.time_at(float(stop.after_m3 or 0.0)) / HOUR_S)
        if begins is not None and float(begins) >= end:
            yield Problem(
                float(begins), f"The stop “{stop.reason}” begins at hour {begins:g}, after the end at {end:.2f} h."
            )
        elif begins is None and not np.isfinite(hour):
            yield Problem(
                end, f"The stop “{stop.reason}” waits for {stop.after_m3:g} m³ ashore, which is never reached."
            )
        elif lasts > pumping:
            yield Problem(
                hour,
                f"The stop “{stop.reason}” at hour {hour:.2f} lasts {lasts:g} h, longer than the whole discharge of"
                f" {pumping:.2f} h; correct it.",
            )


def _tide(stay: Stay, track: Track) -> Iterator[Problem]:
    tide = stay.water.tide
    if tide is None:
        return
    for time in (0.0, track.ends_s):
        if not tide.covers(time):
            first, last = tide.time_s[0] / HOUR_S, tide.time_s[-1] / HOUR_S
            yield Problem(
                time / HOUR_S,
                f"The tide is stated from hour {first:.2f} to {last:.2f}; at hour {time / HOUR_S:.2f} it is not known."
                " Add the high and low waters around it.",
            )


def _washing(file: StayFile, seen: Sequence[Seen]) -> Iterator[Problem]:
    for one in file.stages.washing:
        need = one.least_pressure_bar_gauge
        begins, ends = float(one.begins_h), float(one.begins_h) + float(one.lasts_h)
        during = [at for at in seen if at.stretch.drawn_off_m3_per_s and begins <= at.time_s / HOUR_S <= ends]
        low = next((at for at in during if need is not None and at.junction_bar < float(need)), None)
        if not during:
            yield Problem(begins, f"The washing from hour {begins:g} does not fall into bulk discharge; move it.")
        elif low is not None:
            hour = low.time_s / HOUR_S
            yield Problem(
                hour,
                f"At hour {hour:.2f} the discharge gives {low.junction_bar:.2f} bar where the washing is taken off;"
                f" its machines need {need:g} bar. Throttle at the manifold, or run another pump for them.",
            )


def _water(plan: Planned, index: int, track: Track, seen: Sequence[Seen]) -> Iterator[Problem]:
    file, stay = plan.files[index], plan.stays[index]
    times = np.linspace(0.0, track.ends_s, max(int(track.ends_s / _CLOSE_S), 2) + 1)
    keel, _, draught = water_along(stay, track, times)
    water, depth = file.water, file.case.berth.size.depth_below_zero_m
    if stay.water.floating is not None and not np.isfinite(draught).all():
        hour = float(times[~np.isfinite(draught)][0]) / HOUR_S
        yield Problem(hour, f"At hour {hour:.2f} the draught leaves the table water.draughts; add the draughts there.")
    manifold = keel + file.case.ship.manifold.elevation_m
    checks: list[tuple[str, Array, float | None, str]] = [
        (
            "the manifold is below the arms' reach",
            manifold,
            water.least_manifold_elevation_m,
            "m over the berth's zero",
        ),
        (
            "the manifold is above the arms' reach",
            -manifold,
            None if water.greatest_manifold_elevation_m is None else -float(water.greatest_manifold_elevation_m),
            "m over the berth's zero",
        ),
        (
            "there is too little water under the keel",
            keel + (depth or 0.0) - _deeper_along(plan, index, seen, times),
            water.least_under_keel_m if depth is not None else None,
            "m",
        ),
        (
            "the ship's highest point is too high",
            -(keel + float(water.highest_point_elevation_m or 0.0)),
            -float(water.greatest_elevation_m)
            if water.greatest_elevation_m is not None and water.highest_point_elevation_m is not None
            else None,
            "m over the berth's zero",
        ),
    ]
    for what, value, least, unit in checks:
        if least is not None:
            yield from _first_break(what, times, value, float(least), unit)


def _deeper_along(plan: Planned, index: int, seen: Sequence[Seen], times_s: Array) -> Array:
    """Return by how much the deeper end lies below the mean draught at times, straight between the moments."""
    if not trim_follows(plan.files[index]):
        return np.zeros(times_s.size)
    deeper = [deeper_by(trim) for trim in trims_along(plan, index, seen)]
    return np.interp(times_s, [one.time_s for one in seen], deeper)


def _first_break(what: str, times: Array, value: Array, least: float, unit: str) -> Iterator[Problem]:
    room = value - least
    broken = np.flatnonzero(room < -1e-9)
    if not broken.size:
        return
    first = int(broken[0])
    time = float(times[first])
    if first > 0:
        time = float(np.interp(0.0, [-room[first - 1], -room[first]], [times[first - 1], times[first]]))
    hour, worst = time / HOUR_S, float(value[broken].min())
    yield Problem(
        hour,
        f"At hour {hour:.2f} {what}: allowed {abs(least):g} {unit}, and it comes to {abs(worst):.2f} {unit} later on."
        " Take ballast, change the order of tanks, or agree a stop.",
    )


def questions_of_stay(file: StayFile) -> list[str]:
    """Return what is not known, each with what follows from that."""
    water, stages, tanks = file.water, file.stages, file.cargo_tanks
    depth, start = file.case.berth.size.depth_below_zero_m, file.case.agreed.start_rate_m3_per_h
    asked = [
        (
            start is None,
            "No start rate is agreed: line filling and ramp are left out.",
        ),
        (
            start is not None and not line_content_m3(file),
            "The content of arms and shore line is not known: line filling is left out.",
        ),
        (
            not file.shore_tanks,
            "No shore tank tables are stated: the receiving level stays as it is, and its room is not checked.",
        ),
        (
            bool(file.shore_tanks) and file.case.berth.shore_end.tank is None,
            "The shore is not stated by one tank: rising shore levels do not count, only the tanks' room.",
        ),
        (
            any(tank.pumps_off_below_m is None for tank in tanks),
            "For some tanks the level below which pumps are taken off is not known: they run until they lose suction.",
        ),
        (stages.stripping is None, "Stripping is not stated: what is left below the pumps stays on board."),
        (
            stages.stripping is not None and any(tank.residue_m3 is None for tank in tanks),
            "What stays in the tank is not known for some tanks: they are counted as stripped dry.",
        ),
        (not water.draughts, "No draughts are stated: the ship stays as deep as she is."),
        (
            bool(water.draughts) and depth is not None and not trim_follows(file),
            "Trim, its moment or a lever is not stated: water under the keel is that of the mean draught.",
        ),
        (not water.tide, "No tide is stated: the water stays as it is."),
        (
            None in (water.least_manifold_elevation_m, water.greatest_manifold_elevation_m),
            "The reach of the arms is not stated: whether they follow the ship is not decided.",
        ),
        (
            None in (water.least_under_keel_m, depth),
            "Depth or least water under the keel is not stated: under-keel water is not decided.",
        ),
        (
            None in (water.highest_point_elevation_m, water.greatest_elevation_m),
            "Highest point or free height is not stated: air draught is not decided.",
        ),
    ]
    return [*(sentence for missing, sentence in asked if missing), *_about_eductors(file)]


def _about_eductors(file: StayFile) -> Iterator[str]:
    eductors = {pump.key: pump.name for pump in file.case.ship.pumps if pump.kind == "eductor"}
    running = [state.pump for state in file.case.operation.pumps if state.running and state.pump in eductors]
    for key in running:
        yield (
            f"{eductors[key]} runs beside the pumps: what drives it is not taken off the rate over the hours. State it"
            " as a flow of stages.washing for the hours in which it runs."
        )
    stripping = file.stages.stripping
    if stripping is not None and stripping.pump in eductors and stripping.pump not in running:
        yield (
            f"{eductors[stripping.pump]} strips, driven from elsewhere: its drive liquid, which goes ashore with what"
            " it strips, is not in the rate."
        )
