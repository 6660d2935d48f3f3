"""The chain of the trail, apart from any database: rows, their hashes, and whether they follow one another (pure)."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from json.encoder import encode_basestring
from typing import NamedTuple

from shared.canonical import canonical_bytes

FORMAT = "berth-accord-trail/1"
BEFORE_THE_FIRST = "0" * 64


class ChainRow(NamedTuple):
    """One act as it stands in the trail; ``facts`` is the canonical text that was hashed."""

    position: int
    at: datetime
    person: str
    organisation: str
    act: str
    subject: str
    facts: str
    previous_sha256: str
    sha256: str


@dataclass(frozen=True)
class BrokenRow:
    """The first place where the trail no longer holds together."""

    position: int
    reason: str


def time_text(at: datetime) -> str:
    """Return a moment as it is hashed: UTC, to the microsecond."""
    return at.astimezone(UTC).isoformat(timespec="microseconds")


def hashed_words(row: ChainRow) -> dict[str, str | int]:
    """Return what a row's hash is taken over, after RFC 8785."""
    return {
        "format": FORMAT,
        "position": row.position,
        "at": time_text(row.at),
        "person": row.person,
        "organisation": row.organisation,
        "act": row.act,
        "subject": row.subject,
        "facts": row.facts,
        "previous_sha256": row.previous_sha256,
    }


def row_sha256(row: ChainRow) -> str:
    """Return the hash that belongs to a row's words and to the hash before it."""
    return hashlib.sha256(canonical_bytes(hashed_words(row))).hexdigest()


def quick_row_sha256(row: ChainRow) -> str:
    """Return the same hash in a fifth of the time: all keys are known, and all values are text or one whole number.

    RFC 8785 sorts the keys and writes text as ECMAScript does, which for these is what Python's own encoder writes.
    """
    position, at, person, organisation, act, subject, facts, previous, _ = row
    text = (
        f'{{"act":{encode_basestring(act)},"at":"{time_text(at)}","facts":{encode_basestring(facts)},'
        f'"format":"{FORMAT}","organisation":{encode_basestring(organisation)},"person":{encode_basestring(person)},'
        f'"position":{position},"previous_sha256":{encode_basestring(previous)},'
        f'"subject":{encode_basestring(subject)}}}'
    )
    return hashlib.sha256(text.encode()).hexdigest()


def broken_row(rows: Iterable[ChainRow]) -> BrokenRow | None:
    """Walk a whole trail from its first row; return the first that is missing, changed or out of order, else None."""
    previous, expected = BEFORE_THE_FIRST, 1
    for row in rows:
        if row.position != expected:
            return BrokenRow(expected, f"row {expected} is missing; the next one is {row.position}.")
        if row.previous_sha256 != previous:
            return BrokenRow(expected, f"row {expected} does not follow from the row before it.")
        if quick_row_sha256(row) != row.sha256:
            return BrokenRow(expected, f"row {expected} was changed after it was written.")
        previous, expected = row.sha256, expected + 1
    return None


@dataclass(frozen=True)
class ExtractCheck:
    """What the rows of an export show: how many, the gaps between them, and the first that does not hold."""

    rows: int
    first: int
    last: int
    last_sha256: str
    gaps: tuple[tuple[int, int], ...]
    broken: BrokenRow | None


def check_extract(rows: Iterable[ChainRow]) -> ExtractCheck:
    """Check rows taken out of a trail, in order of position; between neighbours the chain is checked as well.

    A gap, given by its first and last position, is rows that the reader of the export may not see or did not ask for:
    across it only each row's own hash can be checked.
    """
    count, first, gaps = 0, 0, list[tuple[int, int]]()
    before: ChainRow | None = None

    def found(broken: BrokenRow | None = None) -> ExtractCheck:
        last, sha256 = (before.position, before.sha256) if before else (0, BEFORE_THE_FIRST)
        return ExtractCheck(count, first, last, sha256, tuple(gaps), broken)

    for row in rows:
        if quick_row_sha256(row) != row.sha256:
            return found(BrokenRow(row.position, f"row {row.position} was changed after it was written."))
        expected, previous = (before.position + 1, before.sha256) if before else (1, BEFORE_THE_FIRST)
        if row.position < expected:
            return found(BrokenRow(row.position, f"row {row.position} stands out of order."))
        if row.position > expected and before:
            gaps.append((expected, row.position - 1))
        elif row.position == expected and row.previous_sha256 != previous:
            return found(BrokenRow(row.position, f"row {row.position} does not follow from the row before it."))
        count, first, before = count + 1, first or row.position, row
    return found()
