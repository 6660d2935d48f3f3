"""A second plan beside the first: one more arm, more pressure, fewer pumps; and the hours saved (pure: no Django)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from compat.stay.file import StayFile
from compat.stay.outcome import answer_stays
from compat.stay.parts import StayAnswer

PRESSURE_STEP_BAR = 1.0
_WORTH_SAYING_H = 0.005
_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


@dataclass(frozen=True)
class Variant:
    """A plan with one thing changed; ``hours_saved`` is None where one of both can't be ended."""

    key: str
    label: str
    answer: StayAnswer
    hours_saved: float | None

    @property
    def saved_in_words(self) -> str:
        """Say what the change brings; nothing worth saying below half a hundredth of an hour."""
        saved = self.hours_saved
        if saved is None:
            return ""
        if abs(saved) < _WORTH_SAYING_H:
            return "the same"
        return f"{abs(saved):.2f} h {'saved' if saved > 0 else 'more'}"


def variant_files(file: StayFile) -> Iterator[tuple[str, str, StayFile]]:
    """Yield plans with one thing changed: key, label, plan."""
    case = file.case
    for number, arm in enumerate(case.berth.arms):
        arms = [one.model_copy(update={"count": one.count + (one is arm)}) for one in case.berth.arms]
        berth = case.berth.model_copy(update={"arms": arms})
        yield f"arm-{number + 1}", f"one more {arm.name}", _with_case(file, berth=berth)
    pressure = case.agreed.manifold_pressure_bar_gauge
    if pressure is not None:
        agreed = case.agreed.model_copy(update={"manifold_pressure_bar_gauge": pressure + PRESSURE_STEP_BAR})
        yield "pressure", "1 bar more at the manifold", _with_case(file, agreed=agreed)
    running = [key for draw in file.all_draws() for key in draw.pumps]
    for left in range(len(running) - 1, 0, -1):
        label = "one pump only" if left == 1 else f"{_NUMBERS[left]} pumps only"
        yield f"pumps-{left}", label, _with_pumps(file, running[:left])


def _with_case(file: StayFile, **changes: Any) -> StayFile:
    return file.model_copy(update={"case": file.case.model_copy(update=changes)})


def _with_pumps(file: StayFile, kept: list[str]) -> StayFile:
    """Return the plan with these pumps running; tanks that lose theirs go to the first draw."""
    states = [
        state.model_copy(update={"running": state.pump in kept}) if state.running else state
        for state in file.case.operation.pumps
    ]
    draws, orphaned = [], []
    for draw in file.all_draws():
        pumps = [key for key in draw.pumps if key in kept]
        if pumps:
            draws.append(draw.model_copy(update={"pumps": pumps}))
        else:
            orphaned += draw.tanks
    draws[0] = draws[0].model_copy(update={"tanks": [*draws[0].tanks, *orphaned]})
    operation = file.case.operation.model_copy(update={"pumps": states})
    return _with_case(file, operation=operation).model_copy(update={"draws": draws})


def answer_with_variants(file: StayFile) -> tuple[StayAnswer, tuple[Variant, ...]]:
    """Return the plan and its variants, worked out side by side."""
    changed = list(variant_files(file))
    first, *others = answer_stays([file, *(plan for _, _, plan in changed)])
    found = []
    for (key, label, _), answer in zip(changed, others, strict=True):
        whole = abs(answer.ashore_m3 - first.ashore_m3) <= 1e-6 * max(first.to_leave_m3, 1.0)
        found.append(Variant(key, label, answer, first.hours - answer.hours if whole else None))
    return first, tuple(found)


def document_with_variants(file: StayFile) -> dict[str, Any]:
    """Return the plan as a JSON document, with the hours that each change would save."""
    answer, variants = answer_with_variants(file)
    beside = [
        {"key": one.key, "label": one.label, "hours": one.answer.hours, "hours_saved": one.hours_saved}
        | {"outcome": one.answer.outcome}
        for one in variants
    ]
    return answer.document() | {"variants": beside}
