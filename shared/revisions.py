"""Revisions of facts documents: the next number, never an edit; and what both sides of a collision are told."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from typing import Any, Protocol

from django.db import IntegrityError, transaction
from django.utils.formats import date_format

from shared.calc.errors import InputError
from shared.canonical import canonical_bytes, numbers_as_text, sha256_hex
from shared.changes import Change, ShowQuantity, changes
from shared.facts import Facts
from shared.models import Person

LONGEST_NOTE = 200
SHORT_HISTORY = 3


class Revision(Protocol):
    """What every revision row has."""

    number: int
    facts: Any
    note: str
    made_by: Person
    made_at: datetime


class Revisions(Protocol):
    """What the related manager of revision rows must offer, newest first."""

    def first(self) -> Any:
        """Return the newest row."""

    def create(self, **values: Any) -> Any:
        """Write one row."""

    def select_related(self, *names: str) -> Any:
        """Return the rows with what they point to."""


class ChangedMeanwhileError(InputError):
    """Somebody else saved after this person started; nothing was overwritten."""

    def __init__(self, latest: Revision) -> None:
        when = date_format(latest.made_at, "j F Y H:i")
        note = f" (“{latest.note}”)" if latest.note else ""
        super().__init__(
            f"{latest.made_by} saved revision {latest.number}{note} on {when} UTC, after you started."
            " Nothing was overwritten, and what you typed is still here."
        )
        self.latest = latest


class NothingChangedError(InputError):
    """The facts to save are the ones that are already there."""


def facts_document(facts: Facts) -> dict[str, Any]:
    """Return facts as the JSON document that is stored; what is not known is left out."""
    return facts.model_dump(mode="json", exclude_none=True)


def facts_sha256(facts: Facts) -> str:
    """Return the SHA-256 over the canonical bytes of a facts document."""
    return sha256_hex(canonical_bytes(numbers_as_text(facts_document(facts))))


def first_revision(revisions: Revisions, *, facts: Facts, note: str, by: Person, now: datetime) -> Any:
    """Write revision 1."""
    return revisions.create(number=1, facts=facts_document(facts), note=_short(note), made_by=by, made_at=now)


def next_revision(
    revisions: Revisions, *, started_from: int, facts: Facts, note: str, by: Person, now: datetime
) -> Any:
    """Write the revision after ``started_from``.

    Raises ChangedMeanwhileError if that is no longer the newest, NothingChangedError if the facts are the same.
    """
    latest = revisions.first()
    if latest.number != started_from:
        raise ChangedMeanwhileError(latest)
    if type(facts).model_validate(latest.facts) == facts:
        raise NothingChangedError(f"Nothing differs from revision {latest.number}, so no new revision was made.")
    try:
        with transaction.atomic():
            return revisions.create(
                number=started_from + 1, facts=facts_document(facts), note=_short(note), made_by=by, made_at=now
            )
    except IntegrityError as error:
        raise ChangedMeanwhileError(revisions.first()) from error


@dataclass(frozen=True)
class HistoryEntry:
    """A revision and what it changed against the one before it."""

    revision: Revision
    changes: list[Change]


def history(
    revisions: Revisions, model: type[Facts], show: ShowQuantity, *, newest: int | None = None
) -> list[HistoryEntry]:
    """Return revisions, newest first, each with what it changed; all of them or the ``newest`` few."""
    wanted = revisions.select_related("made_by").order_by("-number")
    rows: list[Revision] = list(wanted if newest is None else wanted[: newest + 1])
    facts = [model.model_validate(row.facts) for row in rows]
    found = [changes(before, after, show) for after, before in pairwise(facts)]
    entries = [HistoryEntry(row, changed) for row, changed in zip(rows, [*found, []], strict=True)]
    return entries[:newest]


def _short(note: str) -> str:
    text = note.strip()
    if len(text) > LONGEST_NOTE:
        raise InputError(f"The note has {len(text)} characters; allowed: up to {LONGEST_NOTE}. Shorten it.")
    return text
