"""The plan as a document, whose bytes are signed (pure: no Django).

It says what was agreed. Its canonical bytes are the data file: they are what both sides sign, in the PDF and apart
from it, and nothing is rebuilt to verify them.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from compat.accord.checklist import CHECKLIST_VERSION, INTERVALS_NOTE, ITEMS, item_named, items_for
from compat.accord.checklist.coverage import EDITION_READ
from compat.accord.checklist.item import Item, Side
from compat.accord.plan_changes import changes_between
from compat.accord.plan_inputs import PlanAct, PlanInputs, PlanMark, PlanParty, PlanValue
from compat.case.questions import LOCAL_RULES_FIRST
from compat.case.withholding import without_line_data
from shared.calc.errors import InputError
from shared.canonical import BYTE_RULE, canonical_bytes, numbers_as_text, sha256_hex
from shared.quantities import plain_text

PAYLOAD_TYPE = "berth-accord-plan"
SCHEMA_VERSION = "1.1"
"""Major number: another meaning, which earlier programs refuse. Minor number: something added.

1.1 added ``parts``, ``changes`` and until when the plan holds.
"""

STATEMENTS: dict[Side, str] = {
    side: (
        f"I am the person in charge for the {side}. I have looked into each item that this plan asks of my side, and"
        " marked what I found. The tests and inspections it names are complete, and my side is ready to begin this"
        " transfer within the values agreed here."
    )
    for side in Side
}
"""What a signature certifies; 33 CFR 156.150(b), (c)(5) ask for it, in words of our own."""

_WITHHELD_FROM_BERTH = ("arm_shore_end_elevation_m", "found", "shore_end", "shore_line")


def plan_payload(inputs: PlanInputs) -> dict[str, Any]:
    """Return the plan as a JSON document without floats, its times in UTC; raise InputError for marks that can't be."""
    payload = _payload(inputs)
    return {**payload, "changes": changes_between(inputs.earlier_plan, payload) if inputs.earlier_plan else []}


def _payload(inputs: PlanInputs) -> dict[str, Any]:
    case = numbers_as_text(inputs.case)
    return {
        "type": PAYLOAD_TYPE,
        "schema_version": SCHEMA_VERSION,
        "byte_rule": BYTE_RULE,
        "accord": _accord(inputs),
        "parties": {
            str(Side.SHIP): _party(inputs.ship_party),
            str(Side.TERMINAL): _party(inputs.terminal_party),
        },
        "ship": {"name": inputs.ship.name, "imo_number": inputs.ship.imo_number},
        "place": {
            "terminal": inputs.place.terminal,
            "berth": inputs.place.berth,
            "port": inputs.place.port,
            "address": inputs.place.address,
        },
        "conditions": inputs.conditions.document(),
        "values": [_value(value) for value in inputs.values],
        "case": case if inputs.line_data_shared else _case_without_line(case),
        "case_sha256": sha256_hex(canonical_bytes(case)),
        "answer": _answer(inputs),
        "diagram": numbers_as_text(inputs.diagram),
        "line_data_shared": inputs.line_data_shared,
        "parts": numbers_as_text(inputs.parts),
        "checklist": _checklist(inputs),
        "cautions": list(dict.fromkeys([LOCAL_RULES_FIRST, *inputs.answer["cautions"], *inputs.cautions])),
        "facts": [
            {"kind": facts.kind, "name": facts.name, "revision": facts.revision, "sha256": facts.sha256}
            for facts in inputs.facts
        ],
        "statements": {str(side): statement for side, statement in STATEMENTS.items()},
    }


def plan_bytes(payload: Mapping[str, Any]) -> bytes:
    """Return the canonical bytes of a payload: what is hashed, signed and kept; raise CanonicalError for floats."""
    return canonical_bytes(payload)


def utc_text(moment: datetime) -> str:
    """Write a time as RFC 3339 in UTC, whole seconds; raise InputError where it has no zone."""
    if moment.tzinfo is None:
        raise InputError(f"The time {moment.isoformat()} has no zone; a plan states times in UTC.")
    return moment.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


def _accord(inputs: PlanInputs) -> dict[str, Any]:
    return {
        "id": inputs.accord_id,
        "reference": inputs.reference,
        "plan_number": inputs.plan_number,
        "amendment_reason": inputs.amendment_reason,
        "earlier_plan_sha256": sha256_hex(canonical_bytes(inputs.earlier_plan)) if inputs.earlier_plan else None,
        "prepared_at": utc_text(inputs.prepared_at),
        "planned_start": utc_text(inputs.planned_start),
        "holds_until": utc_text(inputs.holds_until) if inputs.holds_until else None,
        "trail": {"position": inputs.trail_position, "sha256": inputs.trail_sha256},
    }


def _party(party: PlanParty) -> dict[str, Any]:
    return {
        "organisation": party.organisation,
        "address": party.address,
        "people": [{"name": person.name, "title": person.title, "post": person.post} for person in party.people],
    }


def _value(value: PlanValue) -> dict[str, Any]:
    return {
        "key": value.key,
        "label": value.label,
        "unit": value.unit,
        "gauge": value.gauge,
        "value": value.value if isinstance(value.value, str) else plain_text(value.value),
        "kind": value.kind,
        "group": value.group,
        "at_a_glance": value.at_a_glance,
        "proposed": _act(value.proposed),
        "accepted": _act(value.accepted),
    }


def _act(act: PlanAct) -> dict[str, str]:
    return {
        "side": str(act.side),
        "person": act.person,
        "organisation": act.organisation,
        "at": utc_text(act.at),
    }


def _case_without_line(case: dict[str, Any]) -> dict[str, Any]:
    berth = {key: part for key, part in case["berth"].items() if key not in _WITHHELD_FROM_BERTH}
    return {**case, "berth": berth}


def _answer(inputs: PlanInputs) -> dict[str, Any]:
    shown = inputs.answer if inputs.line_data_shared else without_line_data(inputs.answer)
    answer: dict[str, Any] = numbers_as_text(shown)
    return answer


def _checklist(inputs: PlanInputs) -> dict[str, Any]:
    own = {item.key: item for item in inputs.own_items}
    marks: dict[str, list[PlanMark]] = {}
    for mark in inputs.marks:
        item = own.get(mark.item_key) or item_named(mark.item_key)
        if mark.side not in item.answered_by:
            raise InputError(f"“{mark.item_key}” carries a mark of the {mark.side}, which does not answer it.")
        marks.setdefault(mark.item_key, []).append(mark)
    applying = items_for(inputs.conditions, inputs.own_items)
    stray = marks.keys() - {item.key for item in applying}
    if stray:
        raise InputError(f"“{min(stray)}” carries a mark but does not apply to this transfer.")
    return {
        "version": CHECKLIST_VERSION,
        "terminal_version": inputs.practice_number,
        "cfr_edition": EDITION_READ,
        "intervals": INTERVALS_NOTE,
        "items": [_item(item, marks.get(item.key, [])) for item in applying],
        "left_out": [_left_out(item) for item in (*ITEMS, *inputs.own_items) if item not in applying],
    }


def _item(item: Item, marks: list[PlanMark]) -> dict[str, Any]:
    return {
        "key": item.key,
        "phase": str(item.phase),
        "before_signing": item.phase.before_signing,
        "statement": item.statement,
        "answered_by": [str(side) for side in item.answered_by],
        "severity": str(item.severity),
        "applies": item.applies_words(),
        "repeat": item.repeat.words() if item.repeat else "",
        "basis": item.basis(),
        "cfr_156_120": list(item.cfr_156_120),
        "guidance": item.guidance,
        "values": [
            {"key": value.key, "label": value.label, "unit": value.unit, "kind": value.kind} for value in item.values
        ],
        "marks": [_mark(mark) for mark in sorted(marks, key=lambda mark: list(Side).index(mark.side))],
    }


def _mark(mark: PlanMark) -> dict[str, Any]:
    return {
        "side": str(mark.side),
        "answer": str(mark.answer),
        "person": mark.person,
        "organisation": mark.organisation,
        "at": utc_text(mark.at),
        "remark": mark.remark,
        "values": dict(mark.values),
        "carried_from_plan": mark.carried_from_plan,
    }


def _left_out(item: Item) -> dict[str, Any]:
    return {"key": item.key, "applies": item.applies_words(), "cfr_156_120": list(item.cfr_156_120)}
