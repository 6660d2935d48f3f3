"""Puts the checklist of an accord into what its pages show; nothing is decided here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from compat.accord.accord_items import before_signing_of, duties_of
from compat.accord.answering import latest_answers
from compat.accord.checklist.item import Item, Phase, Side
from compat.accord.models import Accord, ChecklistAnswer
from compat.accord.plan_view import moment_words
from compat.accord.progress import SideProgress, is_owed, progress_of
from compat.accord.states import State


@dataclass(frozen=True)
class ItemCell:
    """One side's place beside an item."""

    side: Side
    answers: bool
    given: ChecklistAnswer | None
    values: tuple[tuple[str, str], ...]
    may_answer: bool
    quick_yes: bool
    owed: bool


@dataclass(frozen=True)
class ItemRow:
    """One checklist item as a row of the page."""

    item: Item
    cells: tuple[ItemCell, ...]

    @property
    def anchor(self) -> str:
        """Return the name under which the page finds this row."""
        return self.item.key.replace(".", "-")

    @property
    def mine(self) -> ItemCell | None:
        """Return the place that the person may fill, or None."""
        return next((cell for cell in self.cells if cell.may_answer), None)


@dataclass(frozen=True)
class Checklist:
    """The checklist of an accord, by phase, with each side's progress."""

    phases: tuple[tuple[Phase, tuple[ItemRow, ...]], ...]
    duties: tuple[tuple[Phase, tuple[Item, ...]], ...]
    progress: tuple[SideProgress, ...]


def checklist_of(accord: Accord, side: Side | None, *, only_open: bool = False) -> Checklist:
    """Return the checklist; ``side`` is the one that the person acts for, ``only_open`` leaves what waits for it."""
    items = before_signing_of(accord)
    answers = latest_answers(accord)
    acts = side if accord.state == State.ON_TABLE else None
    rows = [item_row(item, answers, acts) for item in items]
    if only_open:
        rows = [row for row in rows if row.mine is not None and row.mine.owed]
    later = duties_of(accord)
    return Checklist(
        phases=tuple(
            (phase, tuple(row for row in rows if row.item.phase is phase))
            for phase in Phase
            if any(row.item.phase is phase for row in rows)
        ),
        duties=tuple(
            (phase, tuple(item for item in later if item.phase is phase))
            for phase in Phase
            if any(item.phase is phase for item in later)
        ),
        progress=tuple(progress_of(items, answers, one) for one in Side),
    )


def item_row(item: Item, answers: Mapping[tuple[str, Side], ChecklistAnswer], acts: Side | None) -> ItemRow:
    """Return one item as a row; ``acts`` is the side that the person may answer for now."""
    return ItemRow(item, tuple(_cell(item, side, answers.get((item.key, side)), acts) for side in Side))


def _cell(item: Item, side: Side, given: ChecklistAnswer | None, acts: Side | None) -> ItemCell:
    answers = side in item.answered_by
    may_answer = answers and side is acts
    needs_values = any(value.required for value in item.asked)
    return ItemCell(
        side,
        answers,
        given,
        _values_told(item, given),
        may_answer,
        may_answer and not needs_values,
        answers and is_owed(item, given),
    )


def _values_told(item: Item, given: ChecklistAnswer | None) -> tuple[tuple[str, str], ...]:
    if given is None:
        return ()
    told: list[tuple[str, Any]] = []
    for value in item.asked:
        if value.key in given.values:
            unit = "" if value.unit in {"", "count"} else f" {value.unit}"
            text = given.values[value.key]
            told.append((value.label, moment_words(text) if value.kind == "moment" else f"{text}{unit}"))
    return tuple(told)
