"""Puts an accord into what its pages show; nothing is decided here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from compat.accord.answering import latest_answers
from compat.accord.bargaining import Standing, agreed_values, values_on_table
from compat.accord.checklist import duties, items_before_signing
from compat.accord.checklist.item import Item, Phase, Side
from compat.accord.engine import Worked, refusals, work_out
from compat.accord.forms import ValueForm
from compat.accord.models import Accord, ChecklistAnswer, ValueProposal
from compat.accord.progress import SideProgress, progress_of
from compat.accord.queries import ValueRow, value_rows
from compat.accord.states import State
from compat.accord.values import ValueDefinition
from compat.assessing.showing import Glance, glance
from compat.case.withholding import without_line_data
from shared.models import Person


@dataclass(frozen=True)
class Meaning:
    """What certain values come to: the engine's answer in its first lines, or why there is none."""

    glance: Glance | None
    problems: tuple[str, ...]
    refusals: tuple[str, ...] = ()


@dataclass(frozen=True)
class ValueCard:
    """One value on the page: what is agreed, what lies open and means, and the form to put another on the table."""

    definition: ValueDefinition
    agreed: ValueProposal | None
    open: ValueProposal | None
    history: tuple[ValueProposal, ...]
    meaning: Meaning | None
    may_accept: bool
    may_take_back: bool
    form: ValueForm | None

    @property
    def folded(self) -> bool:
        """Tell whether the form can wait behind a word: the value is agreed and nothing was refused."""
        return self.agreed is not None and self.open is None and self.form is not None and not self.form.is_bound


@dataclass(frozen=True)
class Table:
    """The values of an accord and the answer that they come to."""

    cards: tuple[ValueCard, ...]
    worked: Worked
    meaning: Meaning
    agreed_only: Meaning | None


def table_of(
    accord: Accord, person: Person, side: Side | None, *, line_data: bool, bound: Mapping[str, ValueForm] | None = None
) -> Table:
    """Return the values as ``person`` sees them; ``side`` is the one they act for, ``bound`` are refused forms."""
    rows = value_rows(accord)
    stand = {row.definition.key: row.where for row in rows}
    on_table = values_on_table(stand)
    agreed = agreed_values(stand)
    acts = side if accord.state == State.ON_TABLE else None
    worked = _withheld(work_out(accord.case, on_table), line_data=line_data)
    return Table(
        cards=tuple(_card(accord, row, person, acts, stand, line_data, bound or {}) for row in rows),
        worked=worked,
        meaning=_meaning(accord, worked),
        agreed_only=_meaning(accord, _withheld(work_out(accord.case, agreed), line_data=line_data))
        if agreed and agreed != on_table
        else None,
    )


def meaning_of(accord: Accord, key: str, value: Decimal, stand: Mapping[str, Standing], *, line_data: bool) -> Meaning:
    """Return what one value would mean with everything else as it lies on the table."""
    others = values_on_table(stand)
    worked = _withheld(work_out(accord.case, {**others, key: value}), line_data=line_data)
    return _meaning(accord, worked, tuple(refusals(accord.case, key, value, others)))


def _meaning(accord: Accord, worked: Worked, told: tuple[str, ...] = ()) -> Meaning:
    shown = glance(accord.case_file(), worked.answer) if worked.answer else None
    return Meaning(shown, worked.problems, told)


def _withheld(worked: Worked, *, line_data: bool) -> Worked:
    if line_data or worked.answer is None:
        return worked
    return Worked(worked.values, without_line_data(worked.answer), worked.problems)


def _card(
    accord: Accord,
    row: ValueRow,
    person: Person,
    acts: Side | None,
    stand: Mapping[str, Standing],
    line_data: bool,
    bound: Mapping[str, ValueForm],
) -> ValueCard:
    definition, lying_open = row.definition, row.where.open
    meaning = None
    if lying_open is not None:
        meaning = meaning_of(accord, definition.key, lying_open.value, stand, line_data=line_data)
    others = acts is not None and lying_open is not None and lying_open.side != acts
    form = bound.get(definition.key)
    if form is None and acts is not None:
        start = lying_open or row.where.agreed
        form = ValueForm(definition=definition, person=person, start=start.value if start else None)
    return ValueCard(
        definition=definition,
        agreed=row.where.agreed,
        open=lying_open,
        history=row.history,
        meaning=meaning,
        may_accept=others and meaning is not None and not meaning.refusals,
        may_take_back=acts is not None and lying_open is not None and lying_open.side == acts,
        form=form if acts is not None else None,
    )


@dataclass(frozen=True)
class ItemCell:
    """One side's place beside an item."""

    side: Side
    answers: bool
    given: ChecklistAnswer | None
    values: tuple[tuple[str, str], ...]
    may_answer: bool
    quick_yes: bool


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
    conditions = accord.transfer_conditions()
    items = items_before_signing(conditions)
    answers = latest_answers(accord)
    acts = side if accord.state == State.ON_TABLE else None
    rows = [item_row(item, answers, acts) for item in items]
    if only_open:
        rows = [row for row in rows if row.mine is not None and row.mine.given is None]
    later = duties(conditions)
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
    return ItemCell(side, answers, given, _values_told(item, given), may_answer, may_answer and not needs_values)


def _values_told(item: Item, given: ChecklistAnswer | None) -> tuple[tuple[str, str], ...]:
    if given is None:
        return ()
    told: list[tuple[str, Any]] = []
    for value in item.asked:
        if value.key in given.values:
            unit = "" if value.unit in {"", "count"} else f" {value.unit}"
            told.append((value.label, f"{given.values[value.key]}{unit}"))
    return tuple(told)
