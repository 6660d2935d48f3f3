"""A whole record as one document without floats: what is frozen, signed, printed and exported."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from compat.accord.accord_items import items_of
from compat.accord.checklist.item import Side
from compat.accord.models import Accord, Plan
from compat.accord.plan_document import utc_text
from compat.accord.plan_file import RECORD, read_plan
from compat.case.questions import LOCAL_RULES_FIRST
from compat.record.chain import chain_of, current_accord, planned
from compat.record.counting import counted
from compat.record.exceptions import exceptions_of
from compat.record.models import Check, LogEvent, Reading, TransferRecord, Watch
from compat.record.performance_view import Told, verdict
from compat.record.readings import fields_for
from compat.record.timesheet import Sheet
from shared.canonical import BYTE_RULE, numbers_as_text
from shared.quantities import plain_text
from shared.trail import trail_head

_VALUE = ("key", "label", "unit", "gauge", "value", "kind", "at_a_glance")
STATEMENTS: dict[Side, str] = {
    side: (
        f"I am the person in charge for the {side}. This record was kept during the transfer; what my side wrote into"
        " it is what was read and done, and the transfer is completed (33 CFR 156.150(c)(6), (d), in words of our own)."
    )
    for side in Side
}


def record_payload(record: TransferRecord, *, now: datetime) -> dict[str, Any]:
    """Return the record with everything that was written into it, corrected lines included, times in UTC."""
    accords = chain_of(record.accord)
    first, last = accords[0], current_accord(record)
    plans = list(Plan.objects.filter(accord__in=accords).order_by("number").defer("signatures", "pdf"))
    signed = read_plan(bytes(plans[-1].payload)).payload
    position, head = trail_head()
    events = list(record.events.select_related("by").order_by("at", "id"))
    sheet, found = counted(record)
    return {
        "type": RECORD.type,
        "schema_version": RECORD.schema_version,
        "byte_rule": BYTE_RULE,
        "accord": {
            "id": str(first.public_id),
            "reference": first.reference,
            "prepared_at": utc_text(now),
            "trail": {"position": position, "sha256": head},
        },
        "parties": {str(side): {"organisation": first.party(side).name} for side in Side},
        "ship": signed["ship"],
        "place": signed["place"],
        "conditions": signed["conditions"],
        "cargo": first.cargo_name,
        "plans": [_plan(plan) for plan in plans],
        "agreed": [{key: value[key] for key in _VALUE} for value in signed["values"]],
        "started_at": _moment(record.started_at),
        "ended_at": _moment(record.ended_at),
        "arrangement": numbers_as_text(record.arranged().model_dump(mode="json")),
        "arrangement_accepted": {"by": str(record.accepted_by or ""), "at": _moment(record.accepted_at)},
        "fields": _fields(accords),
        "items": _items(last),
        "readings": [_reading(one) for one in record.readings.select_related("by", "answer__by").order_by("id")],
        "checks": [_check(check) for check in record.checks.select_related("by").order_by("id")],
        "events": [_event(event) for event in events],
        "watches": [_watch(watch) for watch in record.watches.all()],
        "hours": [{"stage": one.name, "hours": f"{one.hours:.2f}"} for one in sheet.stages if one.hours is not None],
        "not_on_sheet": [str(kind) for kind in sheet.missing],
        "stops": _stops(sheet),
        "performance": numbers_as_text(_performance(found)),
        "exceptions": [
            {"kind": one.kind, "at": utc_text(one.at), "said": one.said, "closed": one.closed}
            for one in exceptions_of(record, now)
        ],
        "cautions": [LOCAL_RULES_FIRST],
        "statements": {str(side): statement for side, statement in STATEMENTS.items()},
    }


def _plan(plan: Plan) -> dict[str, Any]:
    return {"number": plan.number, "sha256": plan.sha256, "signed_last_at": utc_text(plan.signed_last_at)}


def _fields(accords: Sequence[Accord]) -> dict[str, dict[str, str]]:
    """Return words and unit of everything that could be read under these plans."""
    found: dict[str, dict[str, str]] = {}
    for accord in accords:
        case, _ = planned(accord)
        for side in Side:
            for field in fields_for(case, side):
                found[field.key] = {"label": field.label, "unit": field.reading.unit}
    return found


def _items(accord: Accord) -> list[dict[str, Any]]:
    return [
        {
            "key": item.key,
            "statement": item.statement,
            "phase": str(item.phase),
            "severity": str(item.severity),
            "basis": item.basis(),
            "answered_by": [str(side) for side in item.answered_by],
        }
        for item in items_of(accord)
        if item.repeat or not item.phase.before_signing
    ]


def _stops(sheet: Sheet) -> list[dict[str, Any]]:
    return [
        {"begins": utc_text(one.begins), "ends": _moment(one.ends), "caused_by": one.caused_by, "reason": one.reason}
        for one in sheet.stops
    ]


def _performance(found: Told | None) -> dict[str, Any] | None:
    """Return what was counted against the plan and the usual warranty, to six significant figures."""
    if found is None:
        return None
    hours = {
        "pumping_h": found.counted.pumping_hours,
        "allowed_h": found.counted.allowed_hours,
        "bulk_h": found.counted.bulk_hours,
        "unread_h": found.counted.unread_hours,
        "at_pressure_h": found.counted.hours_at_pressure,
        "held_back_h": found.counted.excused_hours,
        "short_h": found.counted.short_hours,
        "stopped_by_terminal_h": found.stopped_by_terminal_h,
        "stopped_by_ship_h": found.stopped_by_ship_h,
        "warranty_h": found.asked.hours,
        "warranty_bar_gauge": found.asked.pressure_bar_gauge,
        "mean_bar_gauge": found.mean_bar_gauge,
        "agreed_bar_gauge": found.agreed_bar_gauge,
        "discharged_m3": found.discharged_m3,
        "mean_rate_m3_per_h": found.mean_rate_m3_per_h,
        "planned_rate_m3_per_h": found.planned_rate_m3_per_h,
        "planned_h": found.planned_hours,
    }
    rounded = {key: None if value is None else float(f"{value:.6g}") for key, value in hours.items()}
    return {**rounded, "verdict": verdict(found)}


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
        "signature": b64encode(bytes(watch.signature)).decode("ascii"),
        "certificate_sha256": watch.certificate_sha256,
    }
