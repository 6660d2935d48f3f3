"""How far an accord is: which answers are still owed, by whom, and what keeps it from being settled."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from compat.accord.accord_items import before_signing_of
from compat.accord.answering import latest_answers
from compat.accord.bargaining import Standing, agreed_values, standing
from compat.accord.checklist.conditions import TransferConditions
from compat.accord.checklist.item import Item, Side
from compat.accord.engine import settle_refusals
from compat.accord.models import Accord, AnswerChoice, ChecklistAnswer
from compat.accord.staying import work_out_stay
from compat.accord.value_kinds import Given
from compat.accord.values import values_for

Answers = Mapping[tuple[str, Side], ChecklistAnswer]


@dataclass(frozen=True)
class SideProgress:
    """What one side has answered of the items that are its own."""

    side: Side
    answered: int
    asked: int
    owed: tuple[Item, ...]
    refused: tuple[Item, ...]

    @property
    def done(self) -> bool:
        """Tell whether nothing of this side keeps the accord from being settled."""
        return not self.owed and not self.refused


def progress_of(items: list[Item], answers: Answers, side: Side) -> SideProgress:
    """Return one side's progress; owed are required items that wait for an answer, refused those answered “no”."""
    own = [item for item in items if side in item.answered_by]
    given = {item.key: answers.get((item.key, side)) for item in own}
    return SideProgress(
        side=side,
        answered=sum(not is_owed(item, given[item.key]) for item in own),
        asked=len(own),
        owed=tuple(item for item in own if item.severity.must and is_owed(item, given[item.key])),
        refused=tuple(item for item in own if item.severity.must and _is_no(given[item.key])),
    )


def is_owed(item: Item, answer: ChecklistAnswer | None) -> bool:
    """Tell whether an item waits for an answer: there is none, or one carried over that has to be given again."""
    return answer is None or (item.again_when_amended and answer.carried_from_plan is not None)


def _is_no(answer: ChecklistAnswer | None) -> bool:
    return answer is not None and answer.answer == AnswerChoice.NO


def what_keeps_from_settling(accord: Accord) -> list[str]:
    """Return a sentence for each thing that is still to be done before the accord can be settled."""
    stand = standing(accord)
    items = before_signing_of(accord)
    answers = latest_answers(accord)
    found = _open_values(stand, accord.transfer_conditions())
    if not found:
        agreed = agreed_values(stand)
        found = settle_refusals(accord.case, agreed, accord.transfer_conditions())
        found += _unsolved_stay(accord, agreed)
    for side in Side:
        found += _open_items(progress_of(items, answers, side))
    return found


def _unsolved_stay(accord: Accord, values: Mapping[str, Given]) -> list[str]:
    if accord.stay is None:
        return []
    shared = accord.berth_revision.berth.line_data_shared
    worked = work_out_stay(accord.case, accord.stay, values, line_shared=shared)
    return [f"The stay can't be settled: {sentence}" for sentence in worked.unsolved]


def _open_values(stand: Mapping[str, Standing], conditions: TransferConditions) -> list[str]:
    found = []
    agreed = agreed_values(stand)
    for definition in values_for(conditions):
        where = stand.get(definition.key, Standing(None, None))
        if where.open is not None:
            found.append(
                f"{definition.label}: {definition.shown(where.open.given)} of the {where.open.side} is not accepted."
            )
        elif where.agreed is None and definition.asked_with(agreed):
            found.append(f"{definition.label}: nothing is agreed.")
    return found


def _open_items(progress: SideProgress) -> list[str]:
    found = []
    if progress.owed:
        count = len(progress.owed)
        found.append(f"The {progress.side} has {count} required {'item' if count == 1 else 'items'} left to answer.")
    if progress.refused:
        told = "; ".join(f"“{item.statement}”" for item in progress.refused)
        found.append(f"The {progress.side} answered “no” to what is required: {told}")
    return found
