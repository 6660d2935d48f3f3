"""Several grades at the same time, each with pumps, manifold and shore line of its own (pure: no Django).

The lines do not meet, so each grade is a case for itself. What they share is the ship: a pump serves one
grade, and the inert gas plant fills all the tanks.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Annotated, Any, Literal, Self

from pydantic import Field, ValidationError, model_validator

from compat.case.answer import answer_cases
from compat.case.answer_parts import Answer
from compat.case.case_file import CaseError, CaseFile
from shared.calc.gas_and_static import discharge_allowed_by_inert_gas
from shared.calc.units import HOUR_S
from shared.facts import Facts, OptionalText, PositiveFlow, sentences

FORMAT = "berth-accord-grades/1"
MOST_GRADES = 6


class GradesFile(Facts):
    """Cases of one ship that run at the same time, and the inert gas that they share."""

    format: Literal["berth-accord-grades/1"]
    title: OptionalText = ""
    inert_gas_delivery_m3_per_h: PositiveFlow | None = None
    grades: Annotated[list[CaseFile], Field(min_length=2, max_length=MOST_GRADES)]

    @model_validator(mode="after")
    def _one_ship(self) -> Self:
        names = {case.ship.name for case in self.grades}
        if len(names) > 1:
            raise ValueError(f"grades name several ships, {', '.join(sorted(names))}; they are to be of one ship.")
        running = [state.pump for case in self.grades for state in case.operation.pumps if state.running]
        twice = sorted({key for key in running if running.count(key) > 1})
        if twice:
            raise ValueError(f"pump {', '.join(twice)} runs in two grades; a pump serves one grade at a time.")
        return self


@dataclass(frozen=True)
class GradesAnswer:
    """An answer for each grade, their rates together, and what inert gas allows; ``note`` says what was done."""

    answers: tuple[Answer, ...]
    total_flow_m3_per_h: float
    allowed_by_inert_gas_m3_per_h: float | None
    note: str
    cautions: tuple[str, ...] = ()

    def document(self) -> dict[str, Any]:
        """Return the answer as a JSON document."""
        return {
            "format": "berth-accord-grades-answer/1",
            "total_flow_m3_per_h": self.total_flow_m3_per_h,
            "allowed_by_inert_gas_m3_per_h": self.allowed_by_inert_gas_m3_per_h,
            "note": self.note,
            "cautions": list(self.cautions),
            "grades": [answer.document() for answer in self.answers],
        }


def check_grades(document: Any, name: str) -> GradesFile:
    """Check a decoded document of several grades; raise CaseError with every problem found."""
    try:
        return GradesFile.model_validate(document)
    except ValidationError as error:
        raise CaseError([f"{name}: {sentence}" for _, sentence in sentences(error)]) from None


def answer_grades(grades: GradesFile) -> GradesAnswer:
    """Answer all grades; where inert gas falls short of them together, every free grade is slowed in proportion."""
    return replace(_answered(grades), cautions=tuple(_shared_lines(grades)))


def _shared_lines(grades: GradesFile) -> Iterator[str]:
    """Tell of grades that are to run through one shore line, which this can't answer: each is counted alone in it."""
    for number, case in enumerate(grades.grades, start=1):
        for other, before in enumerate(grades.grades[: number - 1], start=1):
            alike = case.berth.shore_line == before.berth.shore_line and case.berth.shore_end == before.berth.shore_end
            if alike and (case.berth.name, case.berth.terminal) == (before.berth.name, before.berth.terminal):
                yield (
                    f"Grades {other} and {number} are stated through the same shore line of {case.berth.name}: two"
                    " grades need a line each, so these rates do not hold together. Give one of them the line that it"
                    " will use."
                )


def _answered(grades: GradesFile) -> GradesAnswer:
    answers = answer_cases(grades.grades)
    total = _total(answers)
    delivery = _inert_gas_delivery(grades)
    if delivery is None:
        return GradesAnswer(tuple(answers), total, None, "Ask the ship for the delivery of her inert gas plant.")
    allowed = float(discharge_allowed_by_inert_gas(delivery / HOUR_S)) * HOUR_S
    if total <= allowed:
        return GradesAnswer(tuple(answers), total, allowed, "")
    if any(case.operation.speed == "as stated" for case in grades.grades):
        note = f"Inert gas allows {allowed:,.0f} m³/h together; lower the stated speeds."
        return GradesAnswer(tuple(answers), total, allowed, note)
    slowed = answer_cases(
        [_held(case, answer, allowed / total) for case, answer in zip(grades.grades, answers, strict=True)]
    )
    note = f"Inert gas allows {allowed:,.0f} m³/h together; every grade is slowed in proportion."
    return GradesAnswer(tuple(slowed), _total(slowed), allowed, note)


def _inert_gas_delivery(grades: GradesFile) -> float | None:
    """Return the least delivery that is stated, for the grades together or for the ship in one of them."""
    stated = [grades.inert_gas_delivery_m3_per_h, *(case.ship.inert_gas_delivery_m3_per_h for case in grades.grades)]
    return min((delivery for delivery in stated if delivery is not None), default=None)


def _held(case: CaseFile, answer: Answer, share: float) -> CaseFile:
    if answer.total_flow_m3_per_h is None:
        return case
    agreed = case.agreed.model_copy(update={"highest_rate_m3_per_h": answer.total_flow_m3_per_h * share})
    return case.model_copy(update={"agreed": agreed})


def _total(answers: list[Answer]) -> float:
    return sum(answer.total_flow_m3_per_h or 0.0 for answer in answers)
