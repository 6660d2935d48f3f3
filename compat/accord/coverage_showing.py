"""Shows paragraph by paragraph how an accord meets 33 CFR 156.120 and 156.150; nothing is decided here."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from compat.accord.accord_items import items_of
from compat.accord.answering import latest_answers
from compat.accord.checklist import items_covering_156_120, items_covering_156_150
from compat.accord.checklist.coverage import CFR_156_120, CFR_156_150, MET_BY_THE_PLAN
from compat.accord.checklist.item import Item
from compat.accord.models import Accord, AnswerChoice
from compat.accord.progress import Answers, is_owed


class Met(StrEnum):
    """How one paragraph stands in one accord."""

    ANSWERED = "answered"
    NO = "answered “no”"
    WAITS = "waits for an answer"
    LATER = "kept under the plan"
    IN_PLAN = "in the plan itself"
    LEFT_OUT = "not for this transfer"


MARKS = {Met.ANSWERED: "✓", Met.NO: "✕", Met.WAITS: "?", Met.LATER: "→", Met.IN_PLAN: "✓", Met.LEFT_OUT: "–"}
_GRAVEST_FIRST = (Met.NO, Met.WAITS, Met.ANSWERED, Met.LATER, Met.LEFT_OUT)


@dataclass(frozen=True)
class CoveringItem:
    """One item that meets a paragraph, and how it stands."""

    item: Item
    met: Met
    who: tuple[str, ...]

    @property
    def anchor(self) -> str:
        """Return the name under which the checklist page finds the item."""
        return self.item.key.replace(".", "-")


@dataclass(frozen=True)
class ParagraphRow:
    """One paragraph of the rule, what it is about, and what meets it here."""

    paragraph: str
    subject: str
    met: Met
    items: tuple[CoveringItem, ...]
    in_plan: str

    @property
    def mark(self) -> str:
        """Return the sign that stands before the words."""
        return MARKS[self.met]


@dataclass(frozen=True)
class Section:
    """One section of the rule with all its paragraphs."""

    name: str
    rows: tuple[ParagraphRow, ...]

    @property
    def counts(self) -> tuple[tuple[Met, int], ...]:
        """Return how many paragraphs stand in which way, for those that there are."""
        found = [row.met for row in self.rows]
        return tuple((met, found.count(met)) for met in Met if met in found)


def coverage_of(accord: Accord) -> tuple[Section, Section]:
    """Return both sections with how each paragraph stands in this accord."""
    applying = {item.key for item in items_of(accord)}
    answers = latest_answers(accord)
    of_120 = [_row(name, CFR_156_120, items_covering_156_120(name), applying, answers) for name in CFR_156_120]
    of_150 = [_row(name, CFR_156_150, items_covering_156_150(name), applying, answers) for name in CFR_156_150]
    return Section("33 CFR 156.120", tuple(of_120)), Section("33 CFR 156.150", tuple(of_150))


def _row(
    name: str, subjects: Mapping[str, str], items: Sequence[Item], applying: set[str], answers: Answers
) -> ParagraphRow:
    covering = tuple(_covering(item, applying, answers) for item in items)
    part = MET_BY_THE_PLAN.get(name) if subjects is CFR_156_150 else None
    met = Met.IN_PLAN if part else _gravest(one.met for one in covering)
    return ParagraphRow(name, subjects[name], met, covering, part.where if part else "")


def _gravest(found: Iterable[Met]) -> Met:
    return min(found, key=_GRAVEST_FIRST.index)


def _covering(item: Item, applying: set[str], answers: Answers) -> CoveringItem:
    if item.key not in applying:
        return CoveringItem(item, Met.LEFT_OUT, (f"applies {item.applies_words()}",))
    if not item.phase.before_signing:
        return CoveringItem(item, Met.LATER, (item.phase.value.lower(),))
    given = {side: answers.get((item.key, side)) for side in item.answered_by}
    who = tuple(
        f"{side}: {'waits' if answer is None or is_owed(item, answer) else f'{answer.answer}, {answer.by}'}"
        for side, answer in given.items()
    )
    if any(is_owed(item, answer) for answer in given.values()):
        return CoveringItem(item, Met.WAITS, who)
    refused = any(answer is not None and answer.answer == AnswerChoice.NO for answer in given.values())
    return CoveringItem(item, Met.NO if refused else Met.ANSWERED, who)
