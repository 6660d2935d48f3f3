"""The trail: one row for each act, each row's hash taken over its own words and the row before it."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db import connection
from django.db.models import F, Q, QuerySet, Window
from django.db.models.functions import Lag

from shared import trail_chain
from shared.calc.errors import AccordError
from shared.canonical import canonical_bytes
from shared.models import Person, TrailRow
from shared.trail_chain import BEFORE_THE_FIRST as BEFORE_THE_FIRST
from shared.trail_chain import BrokenRow, ChainRow, broken_row

BY_THE_PROGRAM = "Berth Accord"
_LOCK_NUMBER = 7_254_163  # any constant, the same for every writer of the trail

Fact = str | int | bool | None | list[Any] | dict[str, Any]


class TrailError(RuntimeError):
    """The trail was used in a way that would let an act and its row part."""


def record(
    *, act: str, by: Person | None, now: datetime, subject: str, facts: Mapping[str, Fact] | None = None
) -> TrailRow:
    """Append the row of one act, inside the act's own transaction.

    ``act`` is a stable code in the past tense, ``subject`` names what was acted on, like
    ``vessel:<uuid>``; ``by`` is None only for what the program itself does. Raises TrailError outside
    a transaction, CanonicalError for facts that hold a float.
    """
    if not connection.in_atomic_block:
        raise TrailError(f"The act {act} is not in a transaction; its trail row could outlive or miss it.")
    if now.tzinfo is None:
        raise TrailError(f"The act {act} was given a time without its zone.")
    facts_text = canonical_bytes(dict(facts or {})).decode("utf-8")
    _wait_for_turn()
    position, previous = trail_head()
    row = TrailRow(
        position=position + 1,
        at=now,
        person=name_in_trail(by) if by else BY_THE_PROGRAM,
        organisation=by.acting_for.name if by and by.acting_for else "",
        act=act,
        subject=subject,
        facts=facts_text,
        previous_sha256=previous,
    )
    row.sha256 = row_sha256(row)
    row.save(force_insert=True)
    for follower in _followers:
        follower(row, by)
    return row


ActFollower = Callable[[TrailRow, Person | None], None]
_followers: list[ActFollower] = []


def follow_acts(follower: ActFollower) -> ActFollower:
    """Register ``follower(row, by)``, called in the transaction of each act, right after its row."""
    if follower not in _followers:
        _followers.append(follower)
    return follower


def name_in_trail(by: Person) -> str:
    """Return how the trail names a person."""
    through = f", by token {by.through}" if by.through else ""
    return f"{by.full_name} ({by.username}{', guest' if by.guest_of_id else ''}{through})"


def trail_head() -> tuple[int, str]:
    """Return position and hash of the last row, (0, zeros) for an empty trail."""
    last = TrailRow.objects.order_by("-position").values_list("position", "sha256").first()
    return last or (0, BEFORE_THE_FIRST)


def row_sha256(row: TrailRow) -> str:
    """Return the hash that belongs to a row's words and to the hash before it."""
    return trail_chain.row_sha256(chain_row(row))


def chain_row(row: TrailRow) -> ChainRow:
    """Return a stored row as the chain takes it."""
    return ChainRow(*(getattr(row, name) for name in ChainRow._fields))


def chain_rows(rows: QuerySet[TrailRow]) -> Iterator[ChainRow]:
    """Yield stored rows in their order, a few thousand read at a time."""
    values = rows.order_by("position").values_list(*ChainRow._fields)
    return map(ChainRow._make, values.iterator(chunk_size=5000))


@dataclass(frozen=True)
class Witness:
    """A row of the trail as something else names it, such as a signed plan: it must still be there."""

    position: int
    sha256: str
    who: str


_witnesses: list[Callable[[], Iterable[Witness]]] = []


def trail_witness(witnesses: Callable[[], Iterable[Witness]]) -> Callable[[], Iterable[Witness]]:
    """Register a function that yields rows which the trail must hold."""
    if witnesses not in _witnesses:
        _witnesses.append(witnesses)
    return witnesses


def missing_row(witnesses: Iterable[Witness]) -> BrokenRow | None:
    """Return the first row that a witness names and the trail does not hold, else None."""
    for one in sorted(witnesses, key=lambda witness: witness.position):
        if one.position and not TrailRow.objects.filter(position=one.position, sha256=one.sha256).exists():
            return BrokenRow(
                one.position,
                f"row {one.position}, which {one.who} names, is missing or another one. Rows were lost, or the database"
                " was put back from an older copy.",
            )
    return None


def verify_trail() -> BrokenRow | None:
    """Walk the whole trail; return the first row that is missing, changed or out of order, else None.

    Rows cut off the end leave no gap behind, so rows that signed plans and other witnesses name are looked for too.
    """
    broken = broken_row(chain_rows(TrailRow.objects.all()))
    return broken or missing_row(one for witnesses in _witnesses for one in witnesses())


CLOCK_TOLERANCE = timedelta(minutes=1)
"""Acts that wait for each other may be written in another order than they began; more than this is a clock set back."""


class ClockError(AccordError):
    """This machine's clock stands before the last act in the trail."""


def check_clock(now: datetime) -> None:
    """Raise ClockError where ``now`` is well before the last act in the trail."""
    last = TrailRow.objects.order_by("-position").values_list("at", flat=True).first()
    if last is not None and now < last - CLOCK_TOLERANCE:
        raise ClockError(
            f"This machine's clock says {now:%Y-%m-%d %H:%M} UTC, but the last act in the trail was at"
            f" {last:%Y-%m-%d %H:%M} UTC. Nothing was signed; have the clock set right first."
        )


def clock_set_back() -> list[tuple[int, datetime, datetime]]:
    """Return position, time and the time of the row before for each row that is dated well before that one."""
    times = TrailRow.objects.annotate(time_before=Window(Lag("at"), order_by="position"))
    found = times.filter(time_before__gt=F("at") + CLOCK_TOLERANCE).order_by("position")
    return list(found.values_list("position", "at", "time_before"))


SubjectsFor = Callable[[Person], Iterable[str]]
_more_subjects: list[SubjectsFor] = []


def show_subjects(subjects_for: SubjectsFor) -> SubjectsFor:
    """Register a function that names subjects whose rows a person may read besides their organisation's acts."""
    if subjects_for not in _more_subjects:
        _more_subjects.append(subjects_for)
    return subjects_for


def rows_for(person: Person) -> QuerySet[TrailRow]:
    """Return the rows that a person may read, newest first."""
    rows = TrailRow.objects.order_by("-position")
    if person.is_superuser:
        return rows
    subjects = {subject for subjects_for in _more_subjects for subject in subjects_for(person)}
    seen = Q(subject__in=subjects | {person.subject})
    if person.organisation:
        seen |= Q(organisation=person.organisation.name) | Q(subject=person.organisation.subject)
    return rows.filter(seen)


def facts_of(row: TrailRow) -> dict[str, Any]:
    """Return the facts of a row as they were recorded."""
    facts: dict[str, Any] = json.loads(row.facts)
    return facts


def _wait_for_turn() -> None:
    # SQLite: every transaction here begins IMMEDIATE, so this one already holds the only write lock.
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [_LOCK_NUMBER])
