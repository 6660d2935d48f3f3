"""What an item of the checklist is (pure: no Django)."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Literal

from compat.accord.checklist.conditions import ALWAYS, Condition


class Side(StrEnum):
    """One of the two parties of an accord."""

    SHIP = "ship"
    TERMINAL = "terminal"

    @property
    def other(self) -> Side:
        """The side across the table."""
        return Side.TERMINAL if self is Side.SHIP else Side.SHIP


SHIP = (Side.SHIP,)
TERMINAL = (Side.TERMINAL,)
BOTH = (Side.SHIP, Side.TERMINAL)


class Phase(StrEnum):
    """When an item is answered; the value is the heading shown to people."""

    BEFORE_ARRIVAL = "Before arrival"
    AFTER_MOORING = "After mooring"
    MEETING = "At the pre-transfer meeting"
    WALK_ROUND = "On the joint walk-round"
    TRANSFER = "While oil flows"
    COMPLETION = "On completion"

    @property
    def before_signing(self) -> bool:
        """Tell whether its items are answered before the plan is signed; the others are duties under it."""
        return self not in (Phase.TRANSFER, Phase.COMPLETION)


class Severity(StrEnum):
    """How binding an item is, and on what ground."""

    LAW = "must: a rule asks for it where that rule applies"
    PLAN = "must: the figures of this plan are not valid without it"
    PRACTICE = "must: good practice; a terminal may lower it"
    OWN = "must: the terminal's own rule"
    ADVICE = "advice: may stay open with a remark"

    @property
    def must(self) -> bool:
        """Tell whether the plan may be signed (or closed) only with this item answered."""
        return self is not Severity.ADVICE


@dataclass(frozen=True)
class Source:
    """Where an item comes from, and whether its text was read for this catalogue or recalled."""

    reference: str
    basis: Literal["read", "from memory", "our own"] = "read"

    def words(self) -> str:
        """Return the reference, marked where it still has to be checked."""
        return self.reference if self.basis == "read" else f"{self.reference} ({self.basis})"


def recalled(reference: str) -> Source:
    """Return a source that was recalled and not seen."""
    return Source(reference, "from memory")


PLAN_NEED = Source("this plan's calculation", "our own")


@dataclass(frozen=True)
class Repeat:
    """When an item is checked again; intervals in minutes are proposals that a terminal may tighten."""

    every_min: int | None = None
    closer_every_min: int | None = None
    closer_while: str = ""
    each_watch: bool = False
    on: str = ""

    def words(self) -> str:
        """Return the repetition in words, such as “every hour; after rain”."""
        parts = []
        if self.every_min:
            parts.append(f"every {_interval(self.every_min)}")
        if self.closer_every_min:
            parts.append(f"every {_interval(self.closer_every_min)} {self.closer_while}")
        if self.each_watch:
            parts.append("each watch")
        if self.on:
            parts.append(self.on)
        return "; ".join(parts)


def _interval(minutes: int) -> str:
    if minutes % 60:
        return f"{minutes} min"
    return "hour" if minutes == 60 else f"{minutes // 60} h"


HOURLY = Repeat(every_min=60)
EACH_WATCH = Repeat(each_watch=True)

ValueKind = Literal["number", "text", "date", "moment", "yes or no", "agreed"]


@dataclass(frozen=True)
class AskedValue:
    """A value to record with an answer; kind “agreed” is settled in the accord and only printed here."""

    key: str
    label: str
    kind: ValueKind
    unit: str = ""
    least: Decimal | None = None
    greatest: Decimal | None = None
    required: bool = False

    def label_with_unit(self) -> str:
        """Return the label with its unit in brackets, as a form or a table head shows it."""
        return f"{self.label} [{self.unit}]" if self.unit else self.label


def number(key: str, label: str, unit: str, least: str, greatest: str, *, required: bool = False) -> AskedValue:
    """Return a number to be asked for, with the range in which it is believed."""
    return AskedValue(key, label, "number", unit, Decimal(least), Decimal(greatest), required)


def text(key: str, label: str, *, required: bool = False) -> AskedValue:
    """Return a short text to be asked for."""
    return AskedValue(key, label, "text", required=required)


def date(key: str, label: str, *, required: bool = False) -> AskedValue:
    """Return a day to be asked for."""
    return AskedValue(key, label, "date", required=required)


def moment(key: str, label: str, *, required: bool = False) -> AskedValue:
    """Return a date and time with zone to be asked for."""
    return AskedValue(key, label, "moment", required=required)


def yes_or_no(key: str, label: str, *, required: bool = False) -> AskedValue:
    """Return a yes or no to be asked for."""
    return AskedValue(key, label, "yes or no", required=required)


def agreed(key: str, label: str, unit: str) -> AskedValue:
    """Return a value that the two sides settle in the accord, by the key it has there."""
    return AskedValue(key, label, "agreed", unit)


@dataclass(frozen=True)
class Item:
    """One thing to be true before, during or after a transfer; known by its key and its sentence."""

    key: str
    phase: Phase
    statement: str
    answered_by: tuple[Side, ...]
    severity: Severity
    values: tuple[AskedValue, ...] = ()
    repeat: Repeat | None = None
    applies_when: Condition = ALWAYS
    sources: tuple[Source, ...] = ()
    cfr_156_120: tuple[str, ...] = ()
    cfr_156_150: tuple[str, ...] = ()
    guidance: str = ""

    @property
    def asked(self) -> tuple[AskedValue, ...]:
        """Return the values that the answer itself must carry."""
        return tuple(value for value in self.values if value.kind != "agreed")

    @property
    def again_when_amended(self) -> bool:
        """Tell whether an amendment needs a new answer.

        A person in charge signs the declaration of 33 CFR 156.150 for what they found themselves, so its items, and
        those of 156.120 that are seen on the joint walk-round, are not carried over from an earlier plan.
        """
        seen = self.phase is Phase.WALK_ROUND and bool(self.cfr_156_120)
        return self.phase.before_signing and (seen or bool(self.cfr_156_150))

    def answered_by_words(self) -> str:
        """Return who answers, in words."""
        return "both sides" if len(self.answered_by) == 2 else self.answered_by[0].value

    def applies_words(self) -> str:
        """Return when the item applies, in words."""
        words = self.applies_when.words()
        return words if words == "always" else f"when {words}"

    def basis(self) -> str:
        """Return every source of the item as it is printed beside it."""
        parts = [_paragraphs("33 CFR 156.120", self.cfr_156_120), _paragraphs("33 CFR 156.150", self.cfr_156_150)]
        parts += [source.words() for source in self.sources]
        return "; ".join(part for part in parts if part)


def _paragraphs(section: str, paragraphs: tuple[str, ...]) -> str:
    return section + ", ".join(paragraphs) if paragraphs else ""
