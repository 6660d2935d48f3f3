"""Works a stay out: hours by stage, the hourly table, events, problems, the warranty (pure: no Django)."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import groupby

import numpy as np

from compat.calc.stay.march import POINTS, STEP_S, march
from compat.calc.stay.track import Stretch, Track
from compat.stay.checking import problems_of, questions_of_stay
from compat.stay.file import StayFile
from compat.stay.gauges import Seen, binding_words, seen_along
from compat.stay.hours import hour_rows, series_of
from compat.stay.parts import Change, StagePart, StayAnswer, Warranty
from compat.stay.planning import Planned, groups_of, planned, to_leave_m3
from shared.calc.gas_and_static import INERT_GAS_FACTOR
from shared.calc.units import HOUR_S

WARRANTY_BAR = 7.0
WARRANTY_H = 24.0
_CAUTIONS = (
    "Follow local regulations and the terminal's own procedures; where they are stricter than these figures, they win.",
    "Speeds are taken as free between their ends; a drive that is set in steps gives a little less.",
    "Ramp of the pumps, and the split of the flow among them while it lasts, are planning figures (common practice).",
    "Trim follows from the stated levers alone, and heel is left out: watch draught, trim, list and stress yourselves.",
)


def answer_stay(file: StayFile, progress: Callable[[float], None] | None = None) -> StayAnswer:
    """Work one stay out; raise InputError where a liquid or a correction can't be worked out."""
    return answer_stays([file], progress)[0]


def answer_stays(files: Sequence[StayFile], progress: Callable[[float], None] | None = None) -> list[StayAnswer]:
    """Work stays out side by side; each comes out as it would alone."""
    plan = planned(files)
    tracks = march(plan.circuit, plan.stays, STEP_S, POINTS, progress)
    return [_answer(plan, index, track) for index, track in enumerate(tracks)]


def hours_of(files: Sequence[StayFile]) -> list[tuple[float, float, bool]]:
    """Return hours, volume ashore in m3, and whether each stay comes to its end, without its tables."""
    plan = planned(files)
    tracks = march(plan.circuit, plan.stays)
    return [(track.ends_s / HOUR_S, track.ashore_m3, track.failure is None) for track in tracks]


def _answer(plan: Planned, index: int, track: Track) -> StayAnswer:
    file = plan.files[index]
    leave = to_leave_m3(file, plan.tanks[index])
    hours = np.arange(0.0, track.ends_s, HOUR_S)
    times = np.append(hours, track.ends_s)
    points = sum(stretch.time_s.size for stretch in track.stretches)
    seen = seen_along(plan, index, track, times) if track.stretches else []
    along, hourly = seen[:points], seen[points:]
    problems = problems_of(plan, index, track, along)
    stages = _stages(plan, index, along)
    fuels = [stage.fuel_t for stage in stages if stage.fuel_t is not None]
    return StayAnswer(
        title=file.title or file.case.title,
        outcome="not to be settled" if problems else "planned",
        hours=track.ends_s / HOUR_S,
        ashore_m3=track.ashore_m3,
        to_leave_m3=leave,
        allowed_h=file.allowed_h,
        stages=stages,
        hourly=tuple(hour_rows(plan, index, track, hourly, leave)),
        changes=tuple(_changes(plan, index, along)),
        problems=tuple(problems),
        warranty=_warranty(track, along),
        fuel_t=sum(fuels)
        if fuels and len(fuels) == sum(one.greatest_speed_rpm is not None for one in stages)
        else None,
        questions=(*questions_of_stay(file), *_fuel_questions(file, along)),
        cautions=_CAUTIONS,
        series=series_of(plan, index, along),
    )


def _stages(plan: Planned, index: int, along: Sequence[Seen]) -> tuple[StagePart, ...]:
    found = []
    for (name, number), group in groupby(along, key=lambda one: (one.stretch.name, one.stretch.parcel)):
        found.append(_stage(plan, index, name, number, list(group)))
    return tuple(found)


def _stage(plan: Planned, index: int, name: str, parcel: int, seen: Sequence[Seen]) -> StagePart:
    file = plan.files[index]
    first, last = seen[0], seen[-1]
    volume, lasts = last.ashore_m3 - first.ashore_m3, last.time_s - first.time_s
    speeds = np.concatenate([one.speed_rpm for one in seen])
    speeds = speeds[np.isfinite(speeds)]
    rates = [one.rate_m3_per_s * HOUR_S for one in seen]
    energy = _energy_kwh(seen) if speeds.size else None
    binding = dict.fromkeys(binding_words(plan, one.row, one.code) for one in seen if one.rate_m3_per_s > 0)
    return StagePart(
        name=name,
        parcel=file.all_parcels()[parcel].name,
        begins_h=first.time_s / HOUR_S,
        ends_h=last.time_s / HOUR_S,
        volume_m3=volume,
        mean_rate_m3_per_h=volume / lasts * HOUR_S if lasts > 0 else 0.0,
        greatest_rate_m3_per_h=max(rates),
        least_speed_rpm=float(speeds.min()) if speeds.size else None,
        greatest_speed_rpm=float(speeds.max()) if speeds.size else None,
        binding=tuple(binding),
        inert_gas_m3_per_h=INERT_GAS_FACTOR * max(rates),
        shaft_energy_kwh=energy,
        fuel_t=None if energy is None else _fuel_t(file, seen, energy),
    )


def _energy_kwh(seen: Sequence[Seen]) -> float | None:
    """Return the work at the shafts in kWh, None where an efficiency is not known."""
    power = np.array([float(one.power_kw.sum()) for one in seen])
    if not np.isfinite(power).all():
        return None
    return float(np.trapezoid(power, [one.time_s / HOUR_S for one in seen]))


def _fuel_t(file: StayFile, seen: Sequence[Seen], energy_kwh: float) -> float | None:
    """Return the fuel for the pumps in t; None where no consumption is stated, or not for so much power."""
    if file.pump_fuel_kg_per_kwh is not None:
        return energy_kwh * float(file.pump_fuel_kg_per_kwh) / 1000.0
    curve = [(float(one.power_kw), float(one.fuel_kg_per_h)) for one in file.pump_fuel_curve]
    power = np.array([float(one.power_kw.sum()) for one in seen])
    if not curve or power.min() < curve[0][0] or power.max() > curve[-1][0]:
        return None
    kg_per_h = np.interp(power, [at for at, _ in curve], [fuel for _, fuel in curve])
    return float(np.trapezoid(kg_per_h, [one.time_s / HOUR_S for one in seen])) / 1000.0


def _fuel_questions(file: StayFile, along: Sequence[Seen]) -> list[str]:
    power = [float(one.power_kw.sum()) for one in along if np.isfinite(one.speed_rpm).any()]
    if not file.pump_fuel_curve or not power or not np.isfinite(power).all():
        return []
    least, most = float(file.pump_fuel_curve[0].power_kw), float(file.pump_fuel_curve[-1].power_kw)
    if least <= min(power) and max(power) <= most:
        return []
    sentence = (
        f"The pumps take {min(power):,.0f} to {max(power):,.0f} kW; the consumption curve is stated from {least:,.0f}"
        f" to {most:,.0f} kW. Beyond it fuel is not known: add those points to pump_fuel_curve."
    )
    return [sentence]


def _changes(plan: Planned, index: int, along: Sequence[Seen]) -> list[Change]:
    changes: list[Change] = []
    before: tuple[str, str] | None = None
    told: tuple[str, tuple[int, ...]] = ("", ())
    for _, points in groupby(along, key=lambda one: id(one.stretch)):
        seen = list(points)
        stretch, middle = seen[0].stretch, seen[len(seen) // 2]
        binding = binding_words(plan, middle.row, middle.code) if middle.rate_m3_per_s > 0 else ""
        here = (stretch.name, binding)
        hour = float(stretch.time_s[0]) / HOUR_S
        if before is None or here[0] != before[0]:
            changes.append(Change(hour, f"{stretch.name} begins" + (f"; {binding} binds" if binding else "")))
        elif here[1] != before[1] and binding:
            changes.append(Change(hour, f"{binding} takes over"))
        before = here
        ended = _ended(plan, index, stretch)
        if ended and (ended, stretch.drawn) != told:
            changes.append(Change(float(stretch.time_s[-1]) / HOUR_S, ended))
            # A stretch may end a hair's breadth above a level; the short one that follows ends there again.
            told = ended, stretch.drawn
    return changes


def _ended(plan: Planned, index: int, stretch: Stretch) -> str:
    file = plan.files[index]
    parcel = file.all_parcels()[stretch.parcel]
    if stretch.ended_by == "receiver":
        return f"receiving tank {parcel.shore_tanks[stretch.receiver]} is full"
    name, _, number = stretch.ended_by.partition(" ")
    if name not in {"group", "lost"} or not number.isdigit():
        return ""
    draw, tanks_in_order = groups_of(file, parcel)[int(number)]
    following = stretch.drawn[int(number)] + 1
    pumps = f"pump{'s' * (len(draw.pumps) > 1)} {', '.join(draw.pumps)}"
    if following < len(tanks_in_order):
        return f"{pumps} {'go' if len(draw.pumps) > 1 else 'goes'} on to {', '.join(tanks_in_order[following])}"
    return f"{pumps} taken off"


def _warranty(track: Track, along: Sequence[Seen]) -> Warranty:
    bulk = [one for one in along if one.stretch.name == "bulk" and np.isfinite(one.manifold_bar)]
    hours = at_pressure = 0.0
    for _, points in groupby(bulk, key=lambda one: id(one.stretch)):
        seen = list(points)
        times = np.linspace(seen[0].time_s, seen[-1].time_s, 400)
        pressure = np.interp(times, [one.time_s for one in seen], [one.manifold_bar for one in seen])
        lasts = (seen[-1].time_s - seen[0].time_s) / HOUR_S
        hours += lasts
        at_pressure += lasts * float((pressure >= WARRANTY_BAR - 1e-6).mean())
    return Warranty(
        hours=track.ends_s / HOUR_S,
        within_24_h=track.failure is None and track.ends_s <= WARRANTY_H * HOUR_S,
        bulk_hours=hours,
        bulk_hours_at_7_bar=at_pressure,
        least_bulk_pressure_bar_gauge=min((one.manifold_bar for one in bulk), default=None),
    )
