"""A whole record as one document without floats: what is frozen, signed, printed and exported."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from compat.accord.checklist.item import Side
from compat.accord.models import Plan
from compat.accord.plan_document import utc_text
from compat.record.chain import chain_of
from compat.record.exceptions import exceptions_of
from compat.record.models import Check, LogEvent, Reading, TransferRecord, Watch
from compat.record.timesheet import sheet_of
from shared.canonical import BYTE_RULE, numbers_as_text
from shared.quantities import plain_text

PAYLOAD_TYPE = "berth-accord-record"
SCHEMA_VERSION = "1.0"
STATEMENTS: dict[Side, str] = {
    side: (
        f"I am the person in charge for the {side}. This record was kept during the transfer; what my side wrote into"
        " it is what was read and done, and the transfer is completed (33 CFR 156.150(c)(6), (d), in words of our own)."
    )
    for side in Side
}


def record_payload(record: TransferRecord, *, now: datetime) -> dict[str, Any]:
    """Return the record with everything that was written into it, corrected lines included, times in UTC."""
    readings = list(record.readings.select_related("by", "answer__by").order_by("id"))
    checks = record.checks.select_related("by").order_by("id")
    events = list(record.events.select_related("by").order_by("at", "id"))
    accords = chain_of(record.accord)
    first = accords[0]
    return {
        "type": PAYLOAD_TYPE,
        "schema_version": SCHEMA_VERSION,
        "byte_rule": BYTE_RULE,
        "accord": {"id": str(first.public_id), "reference": first.reference},
        "ship": first.ship_name,
        "berth": first.berth_name,
        "place": first.place,
        "cargo": first.cargo_name,
        "parties": {str(side): first.party(side).name for side in Side},
        "plans": [
            {"number": plan.number, "sha256": plan.sha256, "signed_last_at": utc_text(plan.signed_last_at)}
            for plan in Plan.objects.filter(accord__in=accords).order_by("number").defer("payload", "pdf")
        ],
        "prepared_at": utc_text(now),
        "started_at": _moment(record.started_at),
        "ended_at": _moment(record.ended_at),
        "arrangement": numbers_as_text(record.arranged().model_dump(mode="json")),
        "arrangement_accepted": {"by": str(record.accepted_by or ""), "at": _moment(record.accepted_at)},
        "readings": [_reading(reading) for reading in readings],
        "checks": [_check(check) for check in checks],
        "events": [_event(event) for event in events],
        "watches": [_watch(watch) for watch in record.watches.all()],
        "hours": _hours([event for event in events if not hasattr(event, "corrected_by")]),
        "exceptions": [
            {"kind": one.kind, "said": one.said, "closed": one.closed} for one in exceptions_of(record, now)
        ],
        "statements": {str(side): statement for side, statement in STATEMENTS.items()},
    }


def _moment(moment: datetime | None) -> str | None:
    return None if moment is None else utc_text(moment)


def _reading(reading: Reading) -> dict[str, Any]:
    answer = getattr(reading, "answer", None)
    return {
        "id": str(reading.draft),
        "number": reading.pk,
        "side": reading.side,
        "at": utc_text(reading.at),
        "values": reading.values,
        "typed": reading.typed,
        "remark": reading.remark,
        "source": reading.source,
        "plan_number": reading.plan_number,
        "by": reading.by.full_name,
        "entered_at": utc_text(reading.entered_at),
        "doubts": reading.doubts,
        "comparison": numbers_as_text(reading.comparison),
        "drifted": reading.drifted,
        "answer": answer
        and {
            "what": answer.what,
            "said": answer.said,
            "side": answer.side,
            "by": answer.by.full_name,
            "at": utc_text(answer.at),
        },
        "corrects": reading.corrects_id,
        "correction_reason": reading.correction_reason,
    }


def _check(check: Check) -> dict[str, Any]:
    return {
        "item": check.item_key,
        "side": check.side,
        "answer": check.answer,
        "values": check.values,
        "remark": check.remark,
        "by": check.by.full_name,
        "at": utc_text(check.at),
        "late_min": check.late_min,
    }


def _event(event: LogEvent) -> dict[str, Any]:
    pressure = event.pressure_bar_gauge
    return {
        "number": event.pk,
        "kind": event.kind,
        "at": utc_text(event.at),
        "remark": event.remark,
        "caused_by": event.caused_by,
        "pressure_bar_gauge": None if pressure is None else plain_text(pressure),
        "side": event.side,
        "by": event.by.full_name,
        "entered_at": utc_text(event.entered_at),
        "corrects": event.corrects_id,
        "correction_reason": event.correction_reason,
    }


def _watch(watch: Watch) -> dict[str, Any]:
    return {
        "side": watch.side,
        "person": watch.person_name,
        "title": watch.person_title,
        "at": utc_text(watch.at),
        "remark": watch.remark,
        "statement": bytes(watch.statement).decode("utf-8"),
    }


def _hours(events: Iterable[LogEvent]) -> list[dict[str, str]]:
    found = sheet_of(list(events)).stages
    return [{"stage": one.name, "hours": f"{one.hours:.2f}"} for one in found if one.hours is not None]
