"""The loading file: ship tanks to be filled from shore, and the steps that follow (pure: no Django)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from typing import Annotated, Any, Literal, Self

import numpy as np
from pydantic import Field, ValidationError, model_validator

from compat.calc.stay.loading import NO_MORE, LoadedTank, LoadingLimits, LoadingStep, load
from compat.case.report import number, table_lines
from compat.stay.facts import MOST_TANKS, Volume
from compat.stay.parts import Problem
from compat.stay.shore_source import ShoreSourceFacts, supply_of
from shared.calc.units import HOUR_S, MM_M
from shared.facts import Facts, OptionalText, PositiveFlow, quantity, sentences
from shared.reading import DocumentError
from vessels.facts import Key

FORMAT = "berth-accord-loading/1"
ANSWER_FORMAT = "berth-accord-loading-answer/1"
_SEEN = 0.999  # of the rate at its begin: a step that ends lower has a rate that falls
_CAUTIONS = (
    "Follow local regulations and the terminal's own procedures; where they are stricter than these figures, they win.",
    "Warn the shore in time before each stop and each change of rate: what is in the line comes on board after it.",
    "Filling velocities and venting are those of the stated bores and capacities: read levels and pressures.",
)


class LoadingTankFacts(Facts):
    """A tank to be loaded; it is stopped at ``stop_percent`` of its capacity, less what is in it."""

    key: Key
    inlet_bore_mm: quantity("mm", 50, 1000, "Bore of the smallest section of the tank's branch")
    capacity_m3: quantity("m³", 1, 300_000, "Volume of the full tank")
    volume_m3: Volume = 0.0
    stop_percent: quantity("%", 10, 98.5, "Where loading of the tank stops; 98.5 % is the greatest (33 CFR 155.775)")
    covers_inlet_m3: Volume
    topping_off_m3: Volume = 0.0

    @model_validator(mode="after")
    def _room_left(self) -> Self:
        room = self.room_m3
        if room <= 0 or self.topping_off_m3 > room:
            raise ValueError(
                f"tank {self.key}: {room:,.0f} m³ are left up to its stop; allowed: above 0 m³, and topping_off_m3"
                " within it."
            )
        return self

    @property
    def room_m3(self) -> float:
        """What goes into the tank up to its stop."""
        return float(self.capacity_m3) * float(self.stop_percent) / 100.0 - float(self.volume_m3)


class LoadingFile(Facts):
    """A loading from shore; what is not stated bounds nothing, and is asked for."""

    format: Literal["berth-accord-loading/1"]
    title: OptionalText = ""
    tanks: Annotated[list[LoadingTankFacts], Field(min_length=1, max_length=MOST_TANKS)]
    shore_rate_m3_per_h: PositiveFlow | None = None
    shore_source: ShoreSourceFacts | None = None
    start_rate_m3_per_h: PositiveFlow | None = None
    topping_off_rate_m3_per_h: PositiveFlow | None = None
    vent_capacity_m3_per_h: PositiveFlow | None = None
    static_accumulator: Annotated[bool, Field(strict=True)] = True

    @model_validator(mode="after")
    def _something_flows(self) -> Self:
        if self.shore_rate_m3_per_h is None and self.shore_source is None:
            raise ValueError("state shore_rate_m3_per_h, or shore_source with its tank and line, or both.")
        return self


@dataclass(frozen=True)
class LoadingHour:
    """What the crew should see at an hour: the rate, what is loaded and to go, and what is in each tank, in m³."""

    hour: float
    stage: str
    rate_m3_per_h: float
    loaded_m3: float
    to_go_m3: float
    tanks_m3: tuple[float, ...]


@dataclass(frozen=True)
class LoadingAnswer:
    """A loading worked out, step by step; ``problems`` keep it from its end, ``questions`` say what is not known."""

    title: str
    tanks: tuple[str, ...]
    stops_m3: tuple[float, ...]
    hours: float
    volume_m3: float
    to_load_m3: float
    steps: tuple[LoadingStep, ...]
    hourly: tuple[LoadingHour, ...]
    problems: tuple[Problem, ...]
    questions: tuple[str, ...]

    @property
    def cautions(self) -> tuple[str, ...]:
        """What goes with every loading."""
        return _CAUTIONS

    @property
    def steps_in_hours(self) -> Iterator[dict[str, Any]]:
        """Yield the steps in hours and m³/h, with what each tank has taken up to their ends."""
        for step in self.steps:
            yield {
                "stage": step.stage,
                "begins_h": step.begins_s / HOUR_S,
                "ends_h": step.ends_s / HOUR_S,
                "rate_m3_per_h": step.rate_m3_per_s * HOUR_S,
                "rate_at_end_m3_per_h": step.rate_at_m3_per_s[-1] * HOUR_S,
                "falls": step.rate_at_m3_per_s[-1] < step.rate_m3_per_s * _SEEN,
                "open_tanks": list(step.open_tanks),
                "binding": step.binding,
                "ended_by": step.ended_by,
                "taken_m3": dict(zip(self.tanks, step.held_m3, strict=True)),
            }

    def document(self) -> dict[str, Any]:
        """Return the loading as a JSON document, in the units that documents are written in."""
        steps = [{key: part for key, part in step.items() if key != "falls"} for step in self.steps_in_hours]
        hourly = [{**asdict(row), "tanks_m3": dict(zip(self.tanks, row.tanks_m3, strict=True))} for row in self.hourly]
        stops = dict(zip(self.tanks, self.stops_m3, strict=True))
        kept = asdict(self) | {"steps": steps, "tanks": list(self.tanks), "stops_m3": stops, "hourly": hourly}
        kept |= {"problems": [asdict(one) for one in self.problems]}
        kept |= {"questions": list(self.questions), "cautions": list(self.cautions)}
        return {"format": ANSWER_FORMAT, **kept}


def check_loading(document: Any, name: str) -> LoadingFile:
    """Check a decoded loading document; raise DocumentError with every problem found."""
    try:
        return LoadingFile.model_validate(document)
    except ValidationError as error:
        raise DocumentError([f"{name}: {sentence}" for _, sentence in sentences(error)]) from None


def loading_schema() -> dict[str, Any]:
    """Return the JSON Schema of the loading file."""
    schema = LoadingFile.model_json_schema()
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema["title"] = "Berth Accord loading file"
    return schema


def answer_loading(file: LoadingFile) -> LoadingAnswer:
    """Work a loading out; raise InputError for a tank given twice, or where nothing flows from the start."""
    tanks = [
        LoadedTank(
            tank.key,
            float(tank.inlet_bore_mm) * MM_M,
            tank.room_m3,
            max(float(tank.covers_inlet_m3) - float(tank.volume_m3), 0.0),
            float(tank.topping_off_m3),
        )
        for tank in file.tanks
    ]
    limits = LoadingLimits(
        shore_m3_per_s=_per_s(file.shore_rate_m3_per_h),
        start_m3_per_s=_per_s(file.start_rate_m3_per_h),
        vent_capacity_m3_per_s=_per_s(file.vent_capacity_m3_per_h),
        topping_m3_per_s=_per_s(file.topping_off_rate_m3_per_h),
        static_accumulator=file.static_accumulator,
    )
    to_load = sum(tank.room_m3 for tank in file.tanks)
    steps = load(tanks, limits, None if file.shore_source is None else supply_of(file.shore_source, to_load))
    loaded, hours = steps[-1].loaded_m3[-1], steps[-1].ends_s / HOUR_S
    return LoadingAnswer(
        title=file.title,
        tanks=tuple(tank.key for tank in file.tanks),
        stops_m3=tuple(float(tank.volume_m3) + tank.room_m3 for tank in file.tanks),
        hours=hours,
        volume_m3=loaded,
        to_load_m3=to_load,
        steps=steps,
        hourly=tuple(_hours(file, steps, to_load)),
        problems=tuple(_problems(file, steps, to_load - loaded)),
        questions=(*_questions(file), *_beyond_the_curve(file, steps)),
    )


def _questions(file: LoadingFile) -> Iterator[str]:
    asked = [
        (file.vent_capacity_m3_per_h, "The capacity of vents or vapour return is not stated: it bounds nothing here."),
        (file.topping_off_rate_m3_per_h, "No topping-off rate is stated: tanks are topped off at the bulk rate."),
        (file.start_rate_m3_per_h, "No start rate is agreed: only the velocity in the inlets bounds the start."),
    ]
    yield from (sentence for value, sentence in asked if value is None)
    straight = [tank.key for tank in file.tanks if not tank.topping_off_m3]
    if straight:
        yield (
            f"No volume to be topped off is stated for {', '.join(straight)}: filled to the stop at the bulk rate,"
            " without slowing down."
        )


def _beyond_the_curve(file: LoadingFile, steps: Sequence[LoadingStep]) -> Iterator[str]:
    source = file.shore_source
    if source is None or not source.pump_points:
        return
    last = float(source.pump_points[-1].flow_m3_per_h)
    most = max(max(step.rate_at_m3_per_s) for step in steps) * HOUR_S
    if most > last:
        yield (
            f"The shore's pumps give up to {most:,.0f} m³/h; the curve is stated up to {last:,.0f} m³/h. Beyond it the"
            " rate is a guess: add those points to pump_points."
        )


def _problems(file: LoadingFile, steps: Sequence[LoadingStep], left_m3: float) -> Iterator[Problem]:
    if steps[-1].ended_by != NO_MORE or file.shore_source is None:
        return
    hour = steps[-1].ends_s / HOUR_S
    tank = file.shore_source.tank
    held = tank.volume_now(None) - float(tank.as_table().volume_m3[0])
    if steps[-1].loaded_m3[-1] >= held * (1.0 - 1e-6):
        why = f"shore tank {tank.key} is empty: it held {held:,.0f} m³"
        what = "name a fuller shore tank, or load less"
    else:
        why = f"{file.shore_source.name} is no flow any more against the level in the ship's tanks"
        what = "run shore pumps, or name a higher or fuller shore tank"
    yield Problem(hour, f"At hour {hour:.2f} {why}, and {left_m3:,.0f} m³ are still to come; {what}.")


def _hours(file: LoadingFile, steps: Sequence[LoadingStep], to_load_m3: float) -> Iterator[LoadingHour]:
    """Yield the full hours, and the end; within a step each tank takes its part of what is loaded."""
    end = steps[-1].ends_s
    begun = np.array([float(tank.volume_m3) for tank in file.tanks])
    held = [np.zeros(len(file.tanks)), *(np.array(step.held_m3) for step in steps)]
    at = 0
    for time in [*np.arange(0.0, end, HOUR_S).tolist(), end]:
        while at + 1 < len(steps) and steps[at].ends_s <= time:
            at += 1
        step = steps[at]
        loaded = float(np.interp(time, step.time_s, step.loaded_m3))
        part = (loaded - step.loaded_m3[0]) / step.volume_m3
        in_tanks = begun + held[at] + part * (held[at + 1] - held[at])
        rate = float(np.interp(time, step.time_s, step.rate_at_m3_per_s)) * HOUR_S
        yield LoadingHour(
            time / HOUR_S, step.stage, rate, loaded, max(to_load_m3 - loaded, 0.0), tuple(in_tanks.tolist())
        )


def _per_s(flow_m3_per_h: float | None) -> float | None:
    return None if flow_m3_per_h is None else float(flow_m3_per_h) / HOUR_S


def loading_report(answer: LoadingAnswer) -> str:
    """Return a loading as text: its steps, the hours with what is in each tank, what is not stated."""
    rows: list[Sequence[str]] = [("Stage", "from h", "to h", "m³/h", "open tanks", "binds", "ends when")]
    rows += [
        (
            step.stage,
            f"{step.begins_s / HOUR_S:.2f}",
            f"{step.ends_s / HOUR_S:.2f}",
            _rates(step),
            " ".join(step.open_tanks),
            step.binding,
            step.ended_by,
        )
        for step in answer.steps
    ]
    hours: list[Sequence[str]] = [("Hour", "stage", "m³/h", "loaded m³", "to go m³", *answer.tanks)]
    hours += [
        (
            f"{row.hour:.2f}",
            row.stage,
            *(f"{value:,.0f}" for value in (row.rate_m3_per_h, row.loaded_m3, row.to_go_m3, *row.tanks_m3)),
        )
        for row in answer.hourly
    ]
    title = answer.title or "Untitled loading"
    lines = [title, "=" * len(title)]
    lines += [f"{answer.volume_m3:,.0f} of {answer.to_load_m3:,.0f} m³ in {answer.hours:.2f} h", ""]
    lines += [f"Not to be ended: {problem.sentence}" for problem in answer.problems]
    lines += [*table_lines([tuple(row) for row in rows]), "", "Volume in each tank each hour, in m³"]
    lines += table_lines([tuple(row) for row in hours])
    if answer.questions:
        lines += ["", "Not stated", *(f"  - {question}" for question in answer.questions)]
    return "\n".join([*lines, "", "Cautions", *(f"  - {caution}" for caution in answer.cautions)]) + "\n"


def _rates(step: LoadingStep) -> str:
    ends = (number(rate * HOUR_S, "", 0) for rate in (step.rate_at_m3_per_s[0], step.rate_at_m3_per_s[-1]))
    return " to ".join(dict.fromkeys(ends))
