"""What departed from what was agreed during one transfer, and how each of it was closed."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from compat.accord.accord_items import items_of
from compat.accord.checklist.item import Side
from compat.accord.models import AnswerChoice, Plan
from compat.record.chain import chain_of, current_accord
from compat.record.comparing import departed
from compat.record.due import READING_ITEM, Due
from compat.record.models import Check, TransferRecord
from compat.record.states import State
from compat.record.taking import standing_readings
from compat.record.timesheet import sheet_of
from compat.record.what_is_due import due_at

SIGNED_WITHIN = timedelta(hours=24)
ONE_GO = timedelta(minutes=20)
_FORM = "%d %b %H:%M UTC"
NOT_CLOSED = ""
NAMED = 2


@dataclass(frozen=True)
class Departure:
    """One departure: its kind, what happened, and how it was closed (empty: it is open)."""

    kind: str
    at: datetime
    said: str
    closed: str = NOT_CLOSED


def exceptions_of(record: TransferRecord, now: datetime) -> list[Departure]:
    """Return every departure of a record in order of time."""
    found = [
        *_drifts(record),
        *_late(record),
        *_missed(record, now),
        *_noes(record),
        *_stops(record),
        *_gaps(record, now),
    ]
    found += [*_corrections(record), *_doubts(record), *_amendments(record), *_signatures(record, now)]
    return sorted(found, key=lambda one: one.at)


def _drifts(record: TransferRecord) -> Iterator[Departure]:
    for reading in standing_readings(record).filter(drifted=True).select_related("answer__by"):
        answer = getattr(reading, "answer", None)
        closed = (
            f"{answer.get_what_display().capitalize()} by {answer.by}, {answer.side}: {answer.said}" if answer else ""
        )
        yield Departure(
            "drift",
            reading.at,
            f"The {reading.side}'s reading drifted: {', '.join(departed(reading.comparison))}.",
            closed,
        )


def _late(record: TransferRecord) -> Iterator[Departure]:
    """Yield what one side answered late, one departure for all that it came to answer in one go."""
    late: dict[str, list[Check]] = defaultdict(list)
    for check in record.checks.filter(late_min__gt=0).order_by("at", "id"):
        late[check.side].append(check)
    statements = _statements(record) if late else {}
    for side, checks in late.items():
        for together in _in_one_go(checks):
            most = max(check.late_min for check in together)
            keys = list(dict.fromkeys(check.item_key for check in together))
            said = f"Answered late by the {side}, by {most} min at most: {_named(keys, statements)}"
            yield Departure("overdue check", together[0].at, said, "Answered late.")


def _in_one_go(checks: Sequence[Check]) -> Iterator[list[Check]]:
    found: list[Check] = []
    for check in checks:
        if found and check.at - found[-1].at > ONE_GO:
            yield found
            found = []
        found.append(check)
    if found:
        yield found


def _missed(record: TransferRecord, now: datetime) -> Iterator[Departure]:
    """Yield what stands overdue, or stood so when flow ended; readings are told as times without readings."""
    at = record.ended_at or now
    overdue: dict[Side, list[Due]] = defaultdict(list)
    for one in due_at(record, current_accord(record), at):
        if one.overdue and one.item.key != READING_ITEM:
            overdue[one.side].append(one)
    for side, missed in overdue.items():
        most = max(one.minutes for one in missed)
        when = "when flow ended" if record.ended_at else "now"
        named = _named([one.item.key for one in missed], {one.item.key: one.item.statement for one in missed})
        said = f"Overdue for the {side} {when}, by {most} min at most: {named}"
        yield Departure("overdue check", min(one.due for one in missed), said, NOT_CLOSED)


def _named(keys: Sequence[str], statements: Mapping[str, str]) -> str:
    """Name an item by its sentence; of several the first ones, by how each begins."""
    if len(keys) == 1:
        return statements.get(keys[0], keys[0])
    begins = [re.split(r"[.;:]", statements.get(key, key), maxsplit=1)[0] for key in keys]
    more = len(keys) - NAMED
    shown = "; ".join(begins[:NAMED])
    return f"{len(keys)} items. {shown}{f'; and {more} more' if more > 0 else ''}."


def _statements(record: TransferRecord) -> dict[str, str]:
    """Return the sentences of the items of the plan in force by their keys."""
    return {item.key: item.statement for item in items_of(current_accord(record))}


def _noes(record: TransferRecord) -> Iterator[Departure]:
    checks = list(record.checks.select_related("by").order_by("id"))
    noes = any(check.answer == AnswerChoice.NO for check in checks)
    statements = _statements(record) if noes else {}
    for place, check in enumerate(checks):
        if check.answer != AnswerChoice.NO:
            continue
        later = [one for one in checks[place + 1 :] if (one.item_key, one.side) == (check.item_key, check.side)]
        yes = next((one for one in later if one.answer == AnswerChoice.YES), None)
        closed = f"Answered yes by {yes.by} at {yes.at.strftime(_FORM)}." if yes else ""
        yield Departure(
            "item not true",
            check.at,
            f"{statements.get(check.item_key, check.item_key)} The {check.side} said no: {check.remark}",
            closed,
        )


def _stops(record: TransferRecord) -> Iterator[Departure]:
    lines = list(record.events.filter(corrected_by=None).order_by("at", "id"))
    for stop in sheet_of(lines).stops:
        hours = "" if stop.hours is None else f"Ended after {stop.hours:.1f} h; both sides said go, or flow had ended."
        caused = f" (caused by {stop.caused_by})" if stop.caused_by else ""
        yield Departure("stop", stop.begins, f"Flow was stopped{caused}: {stop.reason}", hours)


def _gaps(record: TransferRecord, now: datetime) -> Iterator[Departure]:
    """Yield times of flow without readings that are longer than twice the agreed interval."""
    if record.started_at is None:
        return
    limit = timedelta(minutes=2.0 * record.arranged().reading_every_min)
    end = record.ended_at or now
    for side in ("ship", "terminal"):
        times = standing_readings(record).filter(side=side, at__gte=record.started_at).values_list("at", flat=True)
        before = record.started_at
        for at in [*times, end]:
            if at - before > limit:
                hours = (at - before).total_seconds() / 3600.0
                yield Departure("no readings", before, f"The {side} took no reading for {hours:.1f} h.", "")
            before = max(at, before)


def _corrections(record: TransferRecord) -> Iterator[Departure]:
    for reading in record.readings.exclude(corrects=None).select_related("by"):
        said = f"The {reading.side}'s reading of {reading.at.strftime(_FORM)} was corrected."
        yield Departure("correction", reading.entered_at, said, f"{reading.by}: {reading.correction_reason}")


def _doubts(record: TransferRecord) -> Iterator[Departure]:
    for reading in standing_readings(record).exclude(doubts=[]).select_related("by"):
        yield Departure("asked about", reading.at, " ".join(reading.doubts), f"Confirmed by {reading.by}.")


def _amendments(record: TransferRecord) -> Iterator[Departure]:
    if record.started_at is None:
        return
    for accord in chain_of(record.accord):
        during = accord.opened_at >= record.started_at and accord.opened_at <= (record.ended_at or accord.opened_at)
        if accord.amends_id is not None and during:
            said = f"Plan {accord.plan_number} amended the plan during the transfer: {accord.amendment_reason}"
            yield Departure("amended during transfer", accord.opened_at, said, f"The amendment is {accord.state}.")


def _signatures(record: TransferRecord, now: datetime) -> Iterator[Departure]:
    plan = Plan.objects.filter(accord=record.accord).values_list("signed_last_at", flat=True).first()
    if plan is not None and record.started_at is not None and plan > record.started_at:
        yield Departure("late signature", plan, "The plan was signed after flow had started.", "Signed by both.")
    if record.ended_at is None:
        return
    limit = record.ended_at + SIGNED_WITHIN
    if record.closed_at is not None and record.closed_at > limit:
        yield Departure("late signature", limit, "The record was signed more than 24 h after flow ended.", "Signed.")
    elif record.state != State.CLOSED and now > limit:
        yield Departure("late signature", limit, "The record is not signed 24 h after flow ended.", "")
