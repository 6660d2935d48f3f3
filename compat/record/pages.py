"""What the views of this room share: fetching a record, and the page that most of them lead back to."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import Any
from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from compat.accord.auditing import note_reading
from compat.accord.checklist.item import Side
from compat.accord.models import Accord
from compat.accord.pages import accord_of
from compat.accord.permissions import acting_side, may_sign, side_of
from compat.case.case_file import CaseFile
from compat.record import queries
from compat.record.chain import current_accord, planned, record_of
from compat.record.checking import closing_items
from compat.record.closing import what_keeps_from_signing
from compat.record.due import Due
from compat.record.flowing import items_at_no
from compat.record.models import Reading, TransferRecord
from compat.record.states import READING_STATES, RUNNING_STATES, Move, State, moves_open_to
from compat.record.timesheet import sheet_of
from compat.record.watching import standing_watch
from compat.record.what_is_due import due_now
from shared.http import person_of
from shared.models import Person

SHOWN_BEFORE = timedelta(minutes=30)


@dataclass(frozen=True)
class Kept:
    """A record with the accord in whose address it is shown, the plan in force, and who looks."""

    record: TransferRecord
    shown: Accord
    accord: Accord
    person: Person
    side: Side | None

    @property
    def state(self) -> State:
        """The state of the record."""
        return State(self.record.state)


def kept_of(request: HttpRequest, public_id: UUID) -> Kept:
    """Return the record under an accord that exists for this person, else answer 404."""
    shown, person = accord_of(request, public_id), person_of(request)
    record = record_of(shown)
    if record is None:
        raise Http404("This accord has no record.")
    return Kept(record, shown, current_accord(record), person, acting_side(person, record.accord))


def address_of(kept: Kept, part: str = "") -> str:
    """Return the address of the record's page, at a part of it."""
    return reverse("record", args=[kept.shown.public_id]) + (f"#{part}" if part else "")


def case_of(kept: Kept) -> CaseFile:
    """Return the plan's case with the agreed values in it."""
    return planned(kept.accord)[0]


def base_context(kept: Kept) -> dict[str, Any]:
    """Return what every page of a record needs."""
    return {
        "record": kept.record,
        "accord": kept.shown,
        "plan_accord": kept.accord,
        "side": kept.side,
        "of_side": side_of(kept.person, kept.record.accord),
        "state": kept.state,
        "takes": kept.side is not None and kept.state in READING_STATES,
    }


def record_page(request: HttpRequest, kept: Kept) -> HttpResponse:
    """Show the whole page of a record."""
    now = timezone.now()
    record = kept.record
    note_reading(by=kept.person, now=now, accord=kept.shown, what="transfer record")
    moves = moves_open_to(kept.side, kept.state) if kept.side else []
    due = due_now(record, kept.accord, now)
    drifts = queries.unanswered(record, now)
    readings = list(queries.readings_of(record)[: queries.READINGS_ON_PAGE])
    context = base_context(kept) | {
        "arrangement": record.arranged(),
        "may_accept": Move.ACCEPT in moves and record.arranged_side != kept.side,
        "may_go": Move.GO in moves and kept.side is not None and not record.go_said_by(kept.side),
        "went": [side for side in Side if record.go_said_by(side)],
        "may_stop": Move.STOP in moves,
        "may_end": Move.COMPLETE in moves,
        "may_settle": Move.SETTLE in moves,
        "may_reopen": Move.REOPEN in moves,
        "may_sign": Move.SIGN in moves and may_sign(kept.person, record.accord),
        "left_to_sign": what_keeps_from_signing(record) if kept.state is State.COMPLETED else [],
        "given": record.given.defer("cms", "signed_pdf"),
        "stands": [standing_watch(record, side, now) for side in Side],
        "may_watch": kept.side is not None and kept.state in READING_STATES and may_sign(kept.person, record.accord),
        "runs": kept.state in RUNNING_STATES,
        "due": [(side, *_pressing([one for one in due if one.side is side])) for side in Side],
        "act_now": any(one.act_now for one in drifts),
        "overdue": sum(one.overdue for one in due),
        "at_no": items_at_no(record, kept.accord),
        "drifts": drifts,
        "readings": [row_of(reading) for reading in readings],
        "reading_count": record.readings.filter(corrected_by=None).count(),
        "latest": row_of(readings[0]) if readings else None,
        "sheet": sheet_of(list(queries.events_of(record))),
        "watches": record.watches.defer("statement", "signature"),
        "closing": closing_rows(kept),
        "now": now,
    }
    return render(request, "record/record.html", context)


def _pressing(due: list[Due]) -> tuple[list[Due], list[Due]]:
    """Part what is due within half an hour from what has time."""
    soon = [one for one in due if one.left <= SHOWN_BEFORE]
    return soon, due[len(soon) :]


def closing_rows(kept: Kept) -> list[dict[str, Any]]:
    """Return the items on completion with each side's latest answer, once flow has ended."""
    if kept.record.ended_at is None:
        return []
    latest = {(one.item_key, one.side): one for one in kept.record.checks.select_related("by").order_by("id")}
    return [
        {"item": item, "cells": [(side, latest.get((item.key, side))) for side in item.answered_by]}
        for item in closing_items(kept.accord)
    ]


def row_of(reading: Reading) -> dict[str, Any]:
    """Return one reading as lists show it: what was read beside what was expected."""
    channels = {one["key"]: one for one in (reading.comparison or {}).get("channels", [])}
    return {
        "reading": reading,
        "rate": channels.get("rate_m3_per_h") or _unexpected(reading, "rate_m3_per_h"),
        "manifold": channels.get("manifold_pressure_bar_gauge") or _unexpected(reading, "manifold_pressure_bar_gauge"),
        "drifted": [one for one in channels.values() if one["drifted"]],
        "over": (reading.comparison or {}).get("over", []),
        "difference": (reading.comparison or {}).get("difference"),
        "answer": getattr(reading, "answer", None),
        "speeds": _speeds(reading),
    }


def _speeds(reading: Reading) -> str:
    """Return the speeds of the pumps that run, in few words."""
    ran = sorted(float(value) for key, value in reading.values.items() if key.startswith("speed") and float(value) > 0)
    if len(ran) < 2:
        return f"{ran[0]:,.0f}" if ran else "–"
    return f"{len(ran)} at {ran[0]:,.0f}" + (f" to {ran[-1]:,.0f}" if ran[-1] > ran[0] else "")


def _unexpected(reading: Reading, key: str) -> dict[str, Any]:
    value = reading.values.get(key)
    return {"read": None if value is None else float(value), "expected": None, "low": None, "high": None}
