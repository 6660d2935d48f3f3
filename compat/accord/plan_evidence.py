"""What this installation's database still holds of a plan that somebody brings: its trail rows and its own copy."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from compat.accord.models import Plan
from compat.accord.plan_changes import changes_between
from compat.accord.plan_file import PLAN, RECORD, PlanFile, PlanFileError, read_plan
from compat.accord.verdict import Verdict
from shared.canonical import sha256_hex
from shared.models import TrailRow
from shared.trail import Witness, facts_of, missing_row, verify_trail

Told = tuple[bool, str]
"""Whether it speaks for the plan, and the sentence."""


def held_of(verdict: Verdict, data: bytes) -> Iterator[Told]:
    """Yield what the database tells about a plan whose verdict is known; ``data`` are the bytes that were brought."""
    broken = verify_trail()
    yield (
        not broken,
        f"The trail does not hold: {broken.reason}" if broken else "The trail of this installation holds.",
    )
    if verdict.file is None:
        return
    try:
        yield from [*_head(verdict.file), *_row(verdict.file, data), *_changed(verdict.file)]
    except (LookupError, TypeError):
        yield False, f"The {verdict.file.kind.word} does not name its accord and the trail, as each does."


def _head(file: PlanFile) -> Iterator[Told]:
    """Yield whether the trail still holds the row that was its last one when the file was settled."""
    head = file.payload["accord"]["trail"]
    missing = missing_row([Witness(head["position"], head["sha256"], f"this {file.kind.word}")])
    if missing:
        yield False, f"The trail here lacks what this {file.kind.word} names: {missing.reason}"
    else:
        yield True, f"The trail holds row {head['position']}, the last one when the {file.kind.word} was settled."


def _row(file: PlanFile, data: bytes) -> Iterator[Told]:
    """Yield whether the trail holds the row of these very bytes being signed by both."""
    rows = TrailRow.objects.filter(subject=f"accord:{file.payload['accord']['id']}", act=file.kind.in_force)
    found = [(row, facts_of(row)) for row in rows]
    row, facts = next(((row, facts) for row, facts in found if facts["payload_sha256"] == file.sha256), (None, {}))
    if row is None:
        yield False, f"The trail here holds no row of this {file.kind.word} {_MISSED[file.kind]}."
        return
    happened = _HAPPENED[file.kind]
    yield True, f"Row {row.position} of the trail says that it {happened} at {row.at:%Y-%m-%d %H:%M} UTC."
    if data.startswith(b"%PDF-") and facts.get("pdf_sha256") not in {None, sha256_hex(data)}:
        yield True, "This PDF is not the one of that row byte for byte: it is a marked copy, or it was changed."
    if file.kind is RECORD:
        return
    ended = TrailRow.objects.filter(subject=row.subject, act__in=_ENDS, position__gt=row.position).first()
    if ended is not None:
        yield True, f"It holds no longer: “{ended.act}” at {ended.at:%Y-%m-%d %H:%M} UTC."


_MISSED = {PLAN: "coming into force", RECORD: "being closed"}
_HAPPENED = {PLAN: "came into force", RECORD: "was closed"}
_ENDS = ("plan superseded", "plan expired", "accord withdrawn")


def _changed(file: PlanFile) -> Iterator[Told]:
    """Yield how the plan differs from the one that is kept here, where it does."""
    if file.kind is RECORD:
        return
    accord: Mapping[str, Any] = file.payload["accord"]
    kept = Plan.objects.filter(accord__public_id=accord["id"], number=accord["plan_number"]).first()
    if kept is None or kept.sha256 == file.sha256:
        return
    yield False, "It is not the plan that is kept here."
    try:
        differences = changes_between(read_plan(bytes(kept.payload)).payload, file.payload)
    except (PlanFileError, LookupError, TypeError, ValueError):
        return
    for one in differences:
        yield False, f"{one['where']}: {one['before']} in the plan kept here, {one['after']} in the one brought."
