"""A record's payload as the words and figures that are printed (pure: no Django). Nothing comes from live rows."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

from compat.accord.checklist.item import Phase, Side
from compat.accord.plan_file import PlanFile
from compat.accord.plan_view import SHORT_HASH_LENGTH, moment_words
from compat.record.comparing import departed
from compat.record.readings import DISCHARGED, MANIFOLD, RATE, RECEIVED
from shared.quantities import NOT_KNOWN, display

Row = dict[str, Any]
_NONE = "–"
_IN_WORDS = ("text", "choice")
_COMPLETION = str(Phase.COMPLETION)
LONG_TITLE_LENGTH = 60


@dataclass(frozen=True)
class Drawn:
    """A reading as the picture takes it."""

    at: datetime
    side: str
    values: Mapping[str, str]
    comparison: Mapping[str, Any] | None


def record_view(file: PlanFile) -> Row:
    """Return everything the printed record shows, as text ready to print."""
    payload = file.payload
    stands = standing(payload)
    return {
        "sha256": file.sha256,
        "short_hash": file.sha256[:SHORT_HASH_LENGTH],
        "accord": {**payload["accord"], "prepared_at": moment_words(payload["accord"]["prepared_at"])},
        "ship": payload["ship"],
        "place": payload["place"],
        "cargo": payload["cargo"],
        "operation": {"discharge": "Discharge", "load": "Loading"}.get(payload["conditions"]["operation"], "Transfer"),
        "long_title": len(payload["ship"]["name"]) + len(payload["place"]["berth"]) > LONG_TITLE_LENGTH,
        "parties": [{"side": str(side), **payload["parties"][side]} for side in Side],
        "plans": [{**plan, "signed_last_at": moment_words(plan["signed_last_at"])} for plan in payload["plans"]],
        "started": _moment(payload["started_at"]),
        "ended": _moment(payload["ended_at"]),
        "glance": list(_glance(payload, stands)),
        "agreed": [_agreed(value) for value in payload["agreed"] if value["kind"] not in _IN_WORDS],
        "events": [_event(one) for one in _uncorrected(payload["events"])],
        "hours": payload["hours"],
        "not_on_sheet": payload["not_on_sheet"],
        "stops": [_stop(one) for one in payload["stops"]],
        "performance": _performance(payload["performance"]),
        "exceptions": [{**one, "at": _short(one["at"])} for one in payload["exceptions"]],
        "open_exceptions": sum(not one["closed"] for one in payload["exceptions"]),
        "readings": [_reading(one) for one in sorted(stands, key=lambda one: (one["at"], one["side"]))],
        "corrections": list(_corrections(payload)),
        "repeated": list(_repeated(payload)),
        "completion": list(_completion(payload)),
        "watches": [{**one, "at": _short(one["at"])} for one in payload["watches"]],
        "kept": _kept(payload),
        "cautions": payload["cautions"],
        "signatures": list(_signatures(file)),
    }


def drawn(payload: Mapping[str, Any]) -> list[Drawn]:
    """Return the readings that count, in order of time, as the picture takes them."""
    found = [
        Drawn(_at(one["at"]), one["side"], one["values"], _with_numbers(one["comparison"])) for one in standing(payload)
    ]
    return sorted(found, key=lambda one: one.at)


def standing(payload: Mapping[str, Any]) -> list[Row]:
    """Return the readings that nobody corrected."""
    return _uncorrected(payload["readings"])


def _uncorrected(rows: list[Row]) -> list[Row]:
    corrected = {one["corrects"] for one in rows}
    return [one for one in rows if one["number"] not in corrected]


def _with_numbers(comparison: Mapping[str, Any] | None) -> Row | None:
    if comparison is None:
        return None
    ends = ("expected", "low", "high")
    channels = [{**one, **{end: float(one[end]) for end in ends}} for one in comparison["channels"]]
    return {**comparison, "channels": channels}


def _at(text: str) -> datetime:
    return datetime.fromisoformat(text).astimezone(UTC)


def _short(text: str) -> str:
    at = _at(text)
    return f"{at.day} {at:%b %H:%M}"


def _moment(text: str | None) -> str:
    return moment_words(text) if text else NOT_KNOWN


def _shown(text: str | int | None, unit: str, note: str = "") -> str:
    return NOT_KNOWN if text is None else display(Decimal(text), unit, note=note)


def _hours(text: str | None) -> str:
    return NOT_KNOWN if text is None else f"{Decimal(text):.1f} h"


def _glance(payload: Mapping[str, Any], stands: list[Row]) -> Iterator[Row]:
    """Yield the figures of the first page: what went ashore, how fast, at which pressure, and what departed."""
    ship, shore = _last(stands, Side.SHIP, DISCHARGED), _last(stands, Side.TERMINAL, RECEIVED)
    found = payload["performance"] or {}
    yield {"label": "Discharged, ship's figure", "figure": _shown(ship, "m³"), "beside": "by ullages"}
    beside = "by the shore's figure"
    if ship and shore and Decimal(ship) > 0:
        beside = f"{100 * (Decimal(ship) - Decimal(shore)) / Decimal(ship):.2f} % less than the ship's"
    yield {"label": "Received ashore", "figure": _shown(shore, "m³"), "beside": beside}
    yield {
        "label": "Mean rate",
        "figure": _shown(found.get("mean_rate_m3_per_h"), "m³/h"),
        "beside": f"plan {_shown(found.get('planned_rate_m3_per_h'), 'm³/h')}",
    }
    yield {
        "label": "Mean manifold pressure",
        "figure": _shown(found.get("mean_bar_gauge"), "bar"),
        "beside": f"gauge; agreed {_shown(found.get('agreed_bar_gauge'), 'bar')}",
    }
    yield {"label": "Pumping", "figure": _hours(found.get("pumping_h")), "beside": "stops taken off"}
    departures = payload["exceptions"]
    still = sum(not one["closed"] for one in departures)
    yield {"label": "Exceptions", "figure": str(len(departures)), "beside": f"{still} open" if still else "all closed"}


def _last(stands: list[Row], side: Side, key: str) -> str | None:
    found = [one for one in stands if one["side"] == side and key in one["values"]]
    return max(found, key=lambda one: one["at"])["values"][key] if found else None


def _agreed(value: Mapping[str, Any]) -> Row:
    return {"label": value["label"], "value": _shown(value["value"], value["unit"], "gauge" if value["gauge"] else "")}


def _event(one: Mapping[str, Any]) -> Row:
    pressure = one["pressure_bar_gauge"]
    kind = one["kind"][:1].upper() + one["kind"][1:]
    caused = f" (caused by {one['caused_by']})" if one["caused_by"] else ""
    held = f", to {_shown(pressure, 'bar', 'gauge')}" if pressure is not None else ""
    put_right = f" Corrected: {one['correction_reason']}" if one["corrects"] else ""
    return {**one, "at": _short(one["at"]), "said": f"{kind}{held}{caused}", "remark": f"{one['remark']}{put_right}"}


def _stop(one: Mapping[str, Any]) -> Row:
    hours = (_at(one["ends"]) - _at(one["begins"])).total_seconds() / 3600.0 if one["ends"] else None
    return {**one, "begins": _short(one["begins"]), "hours": "not ended" if hours is None else f"{hours:.2f} h"}


def _performance(found: Mapping[str, Any] | None) -> Row | None:
    if found is None:
        return None
    warranted = _shown(found["warranty_bar_gauge"], "bar")
    return {
        "verdict": found["verdict"],
        "warranty": f"{_hours(found['warranty_h'])} for the whole cargo, or {warranted} at her manifold",
        "lines": [
            ("Pumping time, stops taken off", _hours(found["pumping_h"])),
            ("Allowed", _hours(found["allowed_h"])),
            ("Bulk discharge", _hours(found["bulk_h"])),
            ("of it without pressure readings", _hours(found["unread_h"])),
            ("Mean manifold pressure", _shown(found["mean_bar_gauge"], "bar", "gauge")),
            (f"At {warranted} or more", _hours(found["at_pressure_h"])),
            ("Below, held back by the terminal", _hours(found["held_back_h"])),
            ("Below what she could be asked for", _hours(found["short_h"])),
            ("Stopped by the terminal", _hours(found["stopped_by_terminal_h"])),
            ("Stopped by the ship", _hours(found["stopped_by_ship_h"])),
        ],
        "against_plan": [
            ("Discharged, by the ship's ullages", _shown(found["discharged_m3"], "m³")),
            ("Mean rate while pumping", _shown(found["mean_rate_m3_per_h"], "m³/h")),
            ("Rate of the plan", _shown(found["planned_rate_m3_per_h"], "m³/h")),
            ("Hours at the rate of the plan", _hours(found["planned_h"])),
        ],
    }


def _reading(one: Mapping[str, Any]) -> Row:
    comparison = one["comparison"] or {}
    channels = {channel["key"]: channel for channel in comparison.get("channels", [])}
    quantity = one["values"].get(DISCHARGED if one["side"] == Side.SHIP else RECEIVED)
    return {
        "at": _short(one["at"]),
        "side": one["side"],
        "rate": _number(one["values"].get(RATE), "m³/h"),
        "rate_expected": _number(channels.get(RATE, {}).get("expected"), "m³/h"),
        "manifold": _number(one["values"].get(MANIFOLD), "bar"),
        "manifold_expected": _number(channels.get(MANIFOLD, {}).get("expected"), "bar"),
        "speeds": _speeds(one["values"]),
        "quantity": _number(quantity, "m³"),
        "stands": _stands(one, comparison, channels),
        "drifted": one["drifted"],
        "by": one["by"],
    }


def _stands(one: Mapping[str, Any], comparison: Row, channels: Mapping[str, Row]) -> str:
    corrected = "corrected; " if one["corrects"] else ""
    if not one["drifted"]:
        return corrected + ("within" if channels else "not compared")
    answer = one["answer"]
    told = f"{answer['said']} ({answer['by']}, {answer['side']})" if answer else "not explained"
    return f"{corrected}drift: {', '.join(departed(comparison))}. {told}"


def _number(text: str | None, unit: str) -> str:
    return _NONE if text is None else _shown(text, unit).removesuffix(unit).strip()


def _speeds(values: Mapping[str, str]) -> str:
    ran = sorted(Decimal(text) for key, text in values.items() if key.startswith("speed_rpm") and Decimal(text) > 0)
    if not ran:
        return _NONE
    low, high = (f"{speed:,.0f}" for speed in (ran[0], ran[-1]))
    return f"{len(ran)} × {low}" if low == high else f"{len(ran)} × {low}–{high}"


def _corrections(payload: Mapping[str, Any]) -> Iterator[Row]:
    """Yield what each correction of a reading changed."""
    by_number = {one["number"]: one for one in payload["readings"]}
    for one in payload["readings"]:
        if one["corrects"] is None:
            continue
        old = by_number[one["corrects"]]
        yield {
            "at": _short(old["at"]),
            "side": one["side"],
            "changes": list(_changed(payload["fields"], old, one)),
            "by": one["by"],
            "entered_at": _short(one["entered_at"]),
            "reason": one["correction_reason"],
        }


def _changed(fields: Mapping[str, Row], old: Row, new: Row) -> Iterator[str]:
    if old["at"] != new["at"]:
        yield f"read at {_short(old['at'])} → {_short(new['at'])}"
    for key in sorted(old["values"].keys() | new["values"].keys()):
        before, after = old["values"].get(key), new["values"].get(key)
        if before == after:
            continue
        field = fields.get(key, {"label": key, "unit": ""})
        yield f"{field['label']}: {before or 'not read'} → {after or 'not read'} {field['unit']}".rstrip()


def _repeated(payload: Mapping[str, Any]) -> Iterator[Row]:
    """Yield each item that was answered again and again: how often and how late by each side, and what was no yes."""
    given: dict[str, list[Row]] = defaultdict(list)
    for check in payload["checks"]:
        given[check["item"]].append(check)
    for item in payload["items"]:
        checks = given[item["key"]]
        if item["phase"] == _COMPLETION or not checks:
            continue
        yield {
            "statement": item["statement"],
            "cells": [_times([check for check in checks if check["side"] == side]) for side in Side],
            "others": [
                f"{_short(check['at'])}, {check['side']}: {check['answer']}. {check['remark']} ({check['by']})"
                for check in checks
                if check["answer"] != "yes" or check["remark"]
            ],
        }


def _times(checks: list[Row]) -> Row | None:
    if not checks:
        return None
    late = [check["late_min"] for check in checks if check["late_min"]]
    return {
        "times": len(checks),
        "first": _short(checks[0]["at"]),
        "last": _short(checks[-1]["at"]),
        "late": f"{len(late)} late, {max(late)} min at most" if late else "",
    }


def _completion(payload: Mapping[str, Any]) -> Iterator[Row]:
    """Yield the items on completion with each side's last answer."""
    latest = {(check["item"], check["side"]): check for check in payload["checks"]}
    for item in payload["items"]:
        key = item["key"]
        if item["phase"] != _COMPLETION:
            continue
        cells = []
        for side in Side:
            check = latest.get((key, str(side)))
            if str(side) not in item["answered_by"]:
                cells.append({"kind": "other side"})
            elif check is None:
                cells.append({"kind": "blank"})
            else:
                cells.append({"kind": "marked", **check, "at": moment_words(check["at"])})
        yield {"statement": item["statement"], "basis": item["basis"], "cells": cells}


def _kept(payload: Mapping[str, Any]) -> list[tuple[str, str]]:
    one = payload["arrangement"]
    accepted = payload["arrangement_accepted"]
    return [
        ("Readings", f"every {one['reading_every_min']} min, every {one['first_hour_every_min']} in the first hour"),
        ("Watch", f"{one['watch_h']} h"),
        ("Band on rate and pressures", f"{one['band_percent']} % of what is expected"),
        ("Ship and shore quantity", f"may differ by {one['difference_percent']} %"),
        (
            "How sure gauges are",
            (
                f"± {one['pressure_sure_bar']} bar, rate ± {one['rate_sure_percent']} %,"
                f" speed ± {one['speed_sure_rpm']} rpm (95 of 100 readings)"
            ),
        ),
        ("False alarms", f"at most {one['false_alarm_percent']} of 100 readings that are on plan"),
        ("A drift is explained", f"within {one['explain_within_min']} min; else: {one['agreed_action']}"),
        ("Agreed", f"accepted by {accepted['by']}, {_moment(accepted['at'])}"),
    ]


def _signatures(file: PlanFile) -> Iterator[Row]:
    signed = {one.side: one for one in file.signed}
    for side in Side:
        one = signed.get(side)
        yield {
            "side": str(side),
            "organisation": file.payload["parties"][side]["organisation"],
            "statement": file.payload["statements"][side],
            "person": one.person if one else "",
            "title": one.title if one else "",
            "signed_at": moment_words(one.signed_at) if one else "",
        }
