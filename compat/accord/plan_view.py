"""A plan's payload as the words and figures that are printed (pure: no Django). Nothing comes from live rows."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

from compat.accord.checklist.conditions import TransferConditions
from compat.accord.checklist.coverage import CFR_156_120
from compat.accord.checklist.item import Side
from compat.accord.plan_file import PlanFile, SignedBy
from compat.accord.plan_parts import glance_boxes, printed
from compat.case.withholding import KEPT_BY_TERMINAL
from shared.quantities import NO_BREAK_SPACE, NOT_KNOWN, converted, display, figure, plain_text

SHORT_HASH_LENGTH = 12
LONG_TITLE_LENGTH = 60
PEOPLE_ON_FIRST_PAGE = 2
HAND_ROWS = 3
"""Lines left on paper for a change of the person in charge."""

_STATES = {
    "binding": "sets the rate",
    "exceeded": "EXCEEDED",
    "not decided": "not decided",
    "kept": "kept",
}
_STATE_ORDER = list(_STATES)
_KGF = f"{NO_BREAK_SPACE}kgf/\u2060cm²"
"""The unit without a place to break its line: a word joiner stands behind the stroke."""
_IN_WORDS = ("text", "choice")
_ANSWERS = {"yes": "Yes", "no": "No", "does not apply": "Does not apply"}
Row = dict[str, Any]


def plan_view(file: PlanFile) -> Row:
    """Return everything the printed plan shows, as text ready to print."""
    payload = file.payload
    return {
        "sha256": file.sha256,
        "short_hash": file.sha256[:SHORT_HASH_LENGTH],
        "accord": _accord(payload["accord"]),
        "changes": payload.get("changes", []),
        "ship": payload["ship"],
        "place": payload["place"],
        "parties": [_party(payload["parties"][side], side) for side in Side],
        "long_title": len(payload["ship"]["name"]) + len(payload["place"]["berth"]) > LONG_TITLE_LENGTH,
        "operation": _operation(payload["conditions"]),
        "cargo": _cargo(payload["case"]["cargo"]),
        "glance": _glance(payload),
        "binding": _limits_in(payload["answer"], "binding"),
        "exceeded": _limits_in(payload["answer"], "exceeded"),
        "undecided": _limits_in(payload["answer"], "not decided"),
        "outcome": _outcome(payload["answer"]),
        "values": [_value(value) for value in payload["values"]],
        "manifold": _manifold(payload["answer"]),
        "pumps": [_pump(pump) for pump in payload["answer"]["pumps"]],
        "arms": [_arm(arm) for arm in payload["answer"]["arms"]],
        "limits": _limits(payload["answer"]["limits"]),
        "parts": list(printed(payload.get("parts", {}))),
        "questions": payload["answer"].get("questions", []),
        "conditions": TransferConditions.from_document(payload["conditions"]).words(),
        "phases": list(_phases(payload, before_signing=True)),
        "duties": list(_phases(payload, before_signing=False)),
        "left_out": _left_out(payload["checklist"]),
        "intervals": payload["checklist"]["intervals"],
        "checklist_version": payload["checklist"]["version"],
        "cfr_edition": payload["checklist"]["cfr_edition"],
        "cautions": payload["cautions"],
        "facts": payload["facts"],
        "line_data_shared": payload["line_data_shared"],
        "case_sha256": payload["case_sha256"],
        "signatures": _signatures(file),
        "hand_rows": range(HAND_ROWS),
    }


def moment_words(text: str) -> str:
    """Write an RFC 3339 time as people read it, in UTC."""
    at = datetime.fromisoformat(text).astimezone(UTC)
    return f"{at.day} {at:%B %Y, %H:%M} UTC"


def _shown(text: str | int | None, unit: str, note: str = "") -> str:
    return display(None if text is None else Decimal(text), unit, note=note)


def _figure(text: str | int | None, unit: str, shown_unit: str | None = None) -> str:
    if text is None:
        return NOT_KNOWN
    wanted = shown_unit or unit
    return figure(converted(Decimal(text), unit, wanted), wanted)


def _accord(accord: Mapping[str, Any]) -> Row:
    return {
        **accord,
        "prepared_at": moment_words(accord["prepared_at"]),
        "planned_start": moment_words(accord["planned_start"]),
        "holds_until": moment_words(accord["holds_until"]) if accord.get("holds_until") else "",
    }


def _party(party: Mapping[str, Any], side: Side) -> Row:
    people = party["people"]
    first, more = people[:PEOPLE_ON_FIRST_PAGE], people[PEOPLE_ON_FIRST_PAGE:]
    return {"side": str(side), **party, "first_people": first, "more_people": len(more)}


def _operation(conditions: Mapping[str, Any]) -> str:
    return {"discharge": "Discharge", "load": "Loading"}.get(conditions["operation"] or "", "Transfer")


def _cargo(cargo: Mapping[str, Any]) -> Row:
    return {
        "name": cargo["name"],
        "facts": [
            ("Quantity", _shown(cargo.get("quantity_m3"), "m³")),
            ("Density", _shown(cargo.get("density_kg_per_m3"), "kg/m³")),
            ("Viscosity", _shown(cargo.get("kinematic_viscosity_mm2_per_s"), "mm²/s")),
            ("Temperature", _shown(cargo.get("temperature_c"), "°C")),
            ("Vapour pressure", _shown(cargo.get("vapour_pressure_kpa_abs"), "kPa", "abs")),
        ],
    }


def _glance(payload: Mapping[str, Any]) -> list[Row]:
    """Return the figures of the first page: what was agreed, then what it means."""
    boxes = [
        {
            "label": value["label"],
            "figure": _shown(value["value"], value["unit"]),
            "beside": f"gauge; {_figure(value['value'], 'bar', 'kgf/cm²')}{_KGF}" if value["gauge"] else "agreed",
        }
        for value in payload["values"]
        if value.get("at_a_glance", True)
    ]
    answer = payload["answer"]
    rate = _shown(answer["total_flow_m3_per_h"], "m³/h")
    worked_out = {"label": "Achievable rate", "figure": rate, "beside": "worked out"}
    return [*boxes, worked_out, _speeds(answer), *glance_boxes(payload.get("parts", {}))]


def _speeds(answer: Mapping[str, Any]) -> Row:
    running = [pump for pump in answer["pumps"] if pump["running"]]
    speeds = sorted((pump["speed_rpm"] for pump in running), key=Decimal)
    shown = list(dict.fromkeys(_figure(speed, "rpm") for speed in speeds))
    names = ", ".join(pump["pump"] for pump in running)
    return {
        "label": "Pump speed" if len(shown) == 1 else "Pump speeds, lowest to highest",
        "figure": f"{shown[0]} rpm" if len(shown) == 1 else f"{shown[0]} to {shown[-1]}",
        "beside": f"{len(running)} running: {names}",
    }


def _limits_in(answer: Mapping[str, Any], state: str) -> list[Row]:
    return [_limit(limit) for limit in answer["limits"] if limit["state"] == state]


def _outcome(answer: Mapping[str, Any]) -> str:
    return "" if answer["outcome"] == "found" else str(answer["reason"])


def _value(value: Mapping[str, Any]) -> Row:
    return {
        "label": value["label"],
        "group": value.get("group", ""),
        "in_words": value.get("kind") in _IN_WORDS,
        "value": _agreed_words(value),
        "proposed": _act(value["proposed"]),
        "accepted": _act(value["accepted"]),
    }


def _agreed_words(value: Mapping[str, Any]) -> str:
    if value.get("kind") in _IN_WORDS:
        return str(value["value"])
    if value["gauge"] or value["unit"] == "1":
        return _shown(value["value"], value["unit"], "gauge" if value["gauge"] else "")
    stated = plain_text(Decimal(value["value"]))  # what two sides agreed bears no more decimals than they gave it
    places = len(stated.partition(".")[2])
    return NO_BREAK_SPACE.join([figure(Decimal(stated), value["unit"], places), value["unit"]])


def _act(act: Mapping[str, str]) -> Row:
    return {**act, "at": moment_words(act["at"])}


def _pressure(text: str | None) -> Row:
    return {"bar": _figure(text, "bar"), "kgf": _figure(text, "bar", "kgf/cm²")}


def _manifold(answer: Mapping[str, Any]) -> Row:
    return {
        "running": _pressure(answer["manifold_pressure_bar_gauge"]),
        "at_rest": _pressure(answer["manifold_pressure_at_rest_bar_gauge"]),
    }


def _pump(pump: Mapping[str, Any]) -> Row:
    return {
        "name": pump["name"],
        "running": pump["running"],
        "speed": _figure(pump["speed_rpm"], "rpm"),
        "flow": _figure(pump["flow_m3_per_h"], "m³/h"),
        "head": _figure(pump["head_m"], "m"),
        "suction": _pressure(pump["suction_pressure_bar_gauge"]),
        "discharge": _pressure(pump["discharge_pressure_bar_gauge"]),
        "beyond_curve": pump["beyond_curve"],
    }


def _arm(arm: Mapping[str, Any]) -> Row:
    return {
        "name": arm["name"],
        "count": arm["count"],
        "flow": _shown(arm["flow_each_m3_per_h"], "m³/h"),
        "velocity": _shown(arm["velocity_m_per_s"], "m/s"),
    }


def _limits(limits: list[Mapping[str, Any]]) -> list[Row]:
    """Return the limits, those that matter most first and otherwise as they were worked out."""
    return [_limit(limit) for limit in sorted(limits, key=lambda limit: _STATE_ORDER.index(limit["state"]))]


def _limit(limit: Mapping[str, Any]) -> Row:
    kept = limit["source"] == KEPT_BY_TERMINAL
    value, allowed = ("–" if kept else _shown(limit[key], limit["unit"]) for key in ("value", "allowed"))
    return {
        "label": limit["label"],
        "owner": limit["owner"],
        "source": limit["source"],
        "state": limit["state"],
        "state_words": _STATES[limit["state"]],
        "value": value,
        "allowed": allowed,
        "margin": _shown(limit["margin"], limit["unit"]) if limit["margin"] is not None else "–",
        "ask": limit["ask"],
    }


def _phases(payload: Mapping[str, Any], *, before_signing: bool) -> Iterator[Row]:
    agreed = {value["key"]: _value(value)["value"] for value in payload["values"]}
    items = [item for item in payload["checklist"]["items"] if item["before_signing"] is before_signing]
    for name in dict.fromkeys(item["phase"] for item in items):
        yield {"name": name, "items": [_item(item, agreed) for item in items if item["phase"] == name]}


def _item(item: Mapping[str, Any], agreed: Mapping[str, str]) -> Row:
    settled = [f"{value['label']}: {agreed[value['key']]}" for value in item["values"] if value["key"] in agreed]
    marks = {mark["side"]: mark for mark in item["marks"]}
    return {
        "statement": item["statement"],
        "basis": item["basis"],
        "severity": item["severity"].partition(":")[0],
        "repeat": item["repeat"],
        "guidance": item["guidance"],
        "settled": settled,
        "asked": [_asked_words(value) for value in item["values"] if value["kind"] != "agreed"],
        "cells": [_cell(item, marks.get(str(side)), side) for side in Side],
    }


def _asked_words(value: Mapping[str, Any]) -> str:
    unit = "" if value["unit"] in {"", "count"} else f" [{value['unit']}]"
    return f"{value['label']}{unit}"


def _cell(item: Mapping[str, Any], mark: Mapping[str, Any] | None, side: Side) -> Row:
    """Return one side's place beside an item: its mark, a blank to fill, or nothing where it does not answer."""
    if str(side) not in item["answered_by"]:
        return {"kind": "other side"}
    if mark is None:
        return {"kind": "blank"}
    return {
        "kind": "marked",
        "answer": _ANSWERS[mark["answer"]],
        "person": mark["person"],
        "at": moment_words(mark["at"]),
        "remark": mark["remark"],
        "carried_from_plan": mark["carried_from_plan"],
        "values": list(_mark_values(item, mark)),
    }


def _mark_values(item: Mapping[str, Any], mark: Mapping[str, Any]) -> Iterator[str]:
    for value in item["values"]:
        text = mark["values"].get(value["key"])
        if text is None:
            continue
        shown = moment_words(text) if value["kind"] == "moment" else text
        unit = "" if value["unit"] in {"", "count"} else f" {value['unit']}"
        yield f"{value['label']}: {shown}{unit}"


def _left_out(checklist: Mapping[str, Any]) -> list[Row]:
    """Return the items left out, each with the paragraphs of 33 CFR 156.120 that no other item meets."""
    met = {name for item in checklist["items"] for name in item["cfr_156_120"]}
    rows = []
    for item in checklist["left_out"]:
        subjects = [f"{name} {CFR_156_120.get(name, '')}" for name in item["cfr_156_120"] if name not in met]
        rows.append({"key": item["key"], "applies": item["applies"], "subjects": "; ".join(subjects)})
    return rows


def _signatures(file: PlanFile) -> list[Row]:
    signed = {one.side: one for one in file.signed}
    return [_signature(file.payload, side, signed.get(side)) for side in Side]


def _signature(payload: Mapping[str, Any], side: Side, signed: SignedBy | None) -> Row:
    return {
        "side": str(side),
        "organisation": payload["parties"][side]["organisation"],
        "statement": payload["statements"][side],
        "person": signed.person if signed else "",
        "title": signed.title if signed else "",
        "signed_at": moment_words(signed.signed_at) if signed else "",
    }
