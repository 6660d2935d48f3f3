"""The loading file: ship tanks to be filled from shore, and the steps that follow (pure: no Django)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from typing import Annotated, Any, Literal, Self

from pydantic import Field, ValidationError, model_validator

from compat.calc.stay.loading import LoadedTank, LoadingLimits, LoadingStep, load
from compat.case.report import number, table_lines
from compat.stay.facts import MOST_TANKS, Volume
from shared.calc.units import HOUR_S, MM_M
from shared.facts import Facts, OptionalText, PositiveFlow, quantity, sentences
from shared.reading import DocumentError
from vessels.facts import Key

FORMAT = "berth-accord-loading/1"
ANSWER_FORMAT = "berth-accord-loading-answer/1"
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
    shore_rate_m3_per_h: PositiveFlow
    start_rate_m3_per_h: PositiveFlow | None = None
    topping_off_rate_m3_per_h: PositiveFlow | None = None
    vent_capacity_m3_per_h: PositiveFlow | None = None
    static_accumulator: Annotated[bool, Field(strict=True)] = True


@dataclass(frozen=True)
class LoadingAnswer:
    """A loading worked out, step by step; ``questions`` say what is not known."""

    title: str
    tanks: tuple[str, ...]
    hours: float
    volume_m3: float
    steps: tuple[LoadingStep, ...]
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
                "open_tanks": list(step.open_tanks),
                "binding": step.binding,
                "ended_by": step.ended_by,
                "taken_m3": dict(zip(self.tanks, step.held_m3, strict=True)),
            }

    def document(self) -> dict[str, Any]:
        """Return the loading as a JSON document, in the units that documents are written in."""
        steps = list(self.steps_in_hours)
        kept = asdict(self) | {"steps": steps, "tanks": list(self.tanks)}
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
    """Work a loading out; raise InputError for a tank given twice."""
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
        shore_m3_per_s=float(file.shore_rate_m3_per_h) / HOUR_S,
        start_m3_per_s=_per_s(file.start_rate_m3_per_h),
        vent_capacity_m3_per_s=_per_s(file.vent_capacity_m3_per_h),
        topping_m3_per_s=_per_s(file.topping_off_rate_m3_per_h),
        static_accumulator=file.static_accumulator,
    )
    steps = load(tanks, limits)
    asked = [
        (file.vent_capacity_m3_per_h, "The capacity of vents or vapour return is not stated: it bounds nothing here."),
        (file.topping_off_rate_m3_per_h, "No topping-off rate is stated: the last tank is filled at the bulk rate."),
        (file.start_rate_m3_per_h, "No start rate is agreed: only the velocity in the inlets bounds the start."),
    ]
    return LoadingAnswer(
        title=file.title,
        tanks=tuple(tank.key for tank in file.tanks),
        hours=steps[-1].ends_s / HOUR_S,
        volume_m3=sum(step.volume_m3 for step in steps),
        steps=steps,
        questions=tuple(sentence for value, sentence in asked if value is None),
    )


def _per_s(flow_m3_per_h: float | None) -> float | None:
    return None if flow_m3_per_h is None else float(flow_m3_per_h) / HOUR_S


def loading_report(answer: LoadingAnswer) -> str:
    """Return a loading as text."""
    rows: list[Sequence[str]] = [("Stage", "from h", "to h", "m³/h", "open tanks", "binds", "ends when")]
    rows += [
        (
            step.stage,
            f"{step.begins_s / HOUR_S:.2f}",
            f"{step.ends_s / HOUR_S:.2f}",
            number(step.rate_m3_per_s * HOUR_S, "", 0),
            " ".join(step.open_tanks),
            step.binding,
            step.ended_by,
        )
        for step in answer.steps
    ]
    title = answer.title or "Untitled loading"
    lines = [title, "=" * len(title), f"{answer.volume_m3:,.0f} m³ in {answer.hours:.2f} h", ""]
    lines += table_lines([tuple(row) for row in rows])
    if answer.questions:
        lines += ["", "Not stated", *(f"  - {question}" for question in answer.questions)]
    return "\n".join([*lines, "", "Cautions", *(f"  - {caution}" for caution in answer.cautions)]) + "\n"
