"""What an amended plan changes against the plan before it, in words (pure: no Django).

Both are payloads as they are signed; the list stands in the later one, so that both sides sign it too.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

from compat.accord.checklist.conditions import TransferConditions
from shared.quantities import NOT_KNOWN, display, plain_text

Payload = Mapping[str, Any]
Rows = dict[str, str]
NOTHING = "–"


def changes_between(earlier: Payload, later: Payload) -> list[dict[str, str]]:
    """Return each difference with ``where``, ``before`` and ``after``; what is new or left out has a dash beside it."""
    found: list[dict[str, str]] = []
    for rows_of in (_arrangement, _values, _answer, _data, _conditions, _checklist, _cautions):
        found += _compared(rows_of(earlier), rows_of(later))
    return found


def _compared(before: Rows, after: Rows) -> Iterator[dict[str, str]]:
    for where in dict.fromkeys([*before, *after]):
        was, becomes = before.get(where, NOTHING), after.get(where, NOTHING)
        if was != becomes:
            yield {"where": where, "before": was, "after": becomes}


def _arrangement(payload: Payload) -> Rows:
    accord = payload["accord"]
    return {
        "Place": payload["place"]["address"],
        "Planned start": _moment(accord["planned_start"]),
        "Holds until": _moment(accord.get("holds_until")),
    }


def _moment(text: str | None) -> str:
    if text is None:
        return "no end stated"
    at = datetime.fromisoformat(text).astimezone(UTC)
    return f"{at.day} {at:%B %Y, %H:%M} UTC"


def _values(payload: Payload) -> Rows:
    return {value["label"]: _value_words(value) for value in payload["values"]}


def _value_words(value: Payload) -> str:
    try:
        number = plain_text(Decimal(value["value"]))
    except (ArithmeticError, TypeError):
        return str(value["value"])
    return f"{number} {value['unit']}{' gauge' if value['gauge'] else ''}".strip()


def _answer(payload: Payload) -> Rows:
    answer = payload["answer"]
    binding = [limit["label"] for limit in answer["limits"] if limit["state"] == "binding"]
    return {
        "Achievable rate": _quantity(answer["total_flow_m3_per_h"], "m³/h"),
        "Manifold pressure at that rate": _quantity(answer["manifold_pressure_bar_gauge"], "bar", "gauge"),
        "What sets the rate": "; ".join(binding) or "no limit is reached",
        **{
            f"{pump['name']}": _quantity(pump["speed_rpm"], "rpm") if pump["running"] else "stopped"
            for pump in answer["pumps"]
        },
    }


def _quantity(text: str | None, unit: str, note: str = "") -> str:
    return NOT_KNOWN if text is None else display(Decimal(text), unit, note=note)


def _data(payload: Payload) -> Rows:
    return {
        f"Data of the {facts['kind']} {facts['name']}": f"revision {facts['revision']}" for facts in payload["facts"]
    }


def _conditions(payload: Payload) -> Rows:
    return dict(TransferConditions.from_document(payload["conditions"]).words())


def _checklist(payload: Payload) -> Rows:
    found = {}
    for item in payload["checklist"]["items"]:
        for mark in item["marks"]:
            found[f"{item['statement']} ({mark['side']})"] = _mark_words(item, mark)
        if item["before_signing"] and not item["marks"]:
            found[item["statement"]] = "on the checklist, not answered"
    return found


def _mark_words(item: Payload, mark: Payload) -> str:
    labels = {value["key"]: value["label"] for value in item["values"]}
    told = [f"{labels.get(key, key)} {text}" for key, text in sorted(mark["values"].items())]
    return "; ".join(part for part in (mark["answer"], mark["remark"], *told) if part)


def _cautions(payload: Payload) -> Rows:
    return {f"Caution: {caution}": "stated" for caution in payload["cautions"]}
