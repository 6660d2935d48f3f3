"""Surge as a part of the plan: its document for the signed bytes, and how that is printed (pure: no Django).

Worked-out figures are kept to six significant figures. The pictures are drawn from the document alone.
"""

from __future__ import annotations

import base64
from collections.abc import Mapping
from dataclasses import asdict
from decimal import Decimal
from typing import Any

from compat.accord.plan_stay import rounded
from compat.assessing.surge_pictures import envelope_picture, pressures_picture
from compat.case.case_file import CaseFile
from compat.surge.answering import SurgeAnswer, SurgeEvent, surge_of
from compat.surge.curves import Along, OverTime, curves_of
from compat.surge.limiting import KEYS, WithinSurge, held_within_surge, times_within, with_times
from compat.surge.withholding import without_line
from shared.pictures import PictureUnits
from shared.quantities import display

_ALONG, _IN_TIME = 160, 240
_PICTURE_HEIGHT_IN = 3.7
_STATES = {"kept": "kept", "exceeded": "EXCEEDED", "not decided": "not decided"}
_BY_STATE = ("exceeded", "kept", "not decided")
Document = dict[str, Any]


def surge_document(case: CaseFile, *, line_data_shared: bool) -> Document:
    """Return what the plan holds of surge: figures and pictures, or why it is not decided and what to ask.

    Where the terminal keeps its line data to itself, pressures and pictures along the line stay out.
    """
    within = held_within_surge(case)
    times = times_within(within)
    surge = surge_of(within, times)
    shown = surge if line_data_shared else without_line(surge, within.study)
    limits = [asdict(row) for row in with_times(within, times).limits if row.key.startswith(KEYS)]
    found: Document = rounded({**shown.document(), "rate_m3_per_h": within.answer.total_flow_m3_per_h})
    return {**found, "limits": rounded(limits), "pictured": _pictured(within, surge) if line_data_shared else None}


def _pictured(within: WithinSurge, surge: SurgeAnswer) -> Document | None:
    """Return the curves of the event that comes nearest to a rating, a covered one before the others."""
    if not surge.events:
        return None
    event = min(surge.events, key=lambda one: (_BY_STATE.index(one.state), _room(one)))
    curves = curves_of(within.study.studied(event.key), _ALONG, _IN_TIME)
    found: Document = rounded({"label": event.label, **asdict(curves)})
    return found


def _room(event: SurgeEvent) -> float:
    rooms = [(run.allowed_bar_gauge, run.greatest_bar_gauge) for run in event.runs]
    return min((allowed - most for allowed, most in rooms if allowed is not None), default=float("inf"))


def surge_view(document: Document) -> Document:
    """Return the surge of a plan as text ready to print, with its pictures."""
    return {
        "reason": document["reason"],
        "rate": _shown(document["rate_m3_per_h"], "m³/h"),
        "allowance": "none" if not Decimal(document["allowance_percent"]) else f"{document['allowance_percent']} %",
        "adjustment": _adjustment(document),
        "events": [_event(event) for event in document["events"]],
        "closing": [_closing(valve) for valve in document["closing"]],
        "limits": [_limit(limit) for limit in document["limits"] if limit["state"] != "kept"],
        "has_runs": any(event["runs"] for event in document["events"]),
        "questions": document["questions"],
        "notes": document["notes"],
        "cautions": document["cautions"],
        "pictures": _pictures(document["pictured"]),
    }


def _shown(text: str | int | None, unit: str, note: str = "") -> str:
    return display(None if text is None else Decimal(text), unit, note=note)


def _adjustment(document: Mapping[str, Any]) -> str:
    changed = document["wave_speed_adjustment_percent"]
    return "" if changed is None else f"{document['reaches']} reaches, wave speeds changed by {_two(changed)} % at most"


def _metres(text: str | int) -> str:
    return f"{Decimal(text):,.0f} m"


def _two(text: str | int) -> str:
    return f"{Decimal(text):.2f}"


def _event(event: Mapping[str, Any]) -> Document:
    slow = event["slow_closing_bar"]
    return {
        "label": event["label"],
        "state": _STATES[event["state"]],
        "boils": _boils(event),
        "joukowsky": _shown(event["joukowsky_bar"], "bar"),
        "returns": f"{_two(event['return_time_s'])} s",
        "slow": "–" if slow is None else _shown(slow, "bar"),
        "runs": [_run(run) for run in event["runs"]],
    }


def _boils(event: Mapping[str, Any]) -> str:
    if event["low_from_s"] is None:
        return ""
    where = "" if event["low_at_m"] is None else f", {_metres(event['low_at_m'])} from the pumps"
    return f"{_two(event['low_from_s'])} s{where}"


def _run(run: Mapping[str, Any]) -> Document:
    return {
        "name": run["name"][:1].upper() + run["name"][1:],
        "greatest": _shown(run["greatest_bar_gauge"], "bar"),
        "allowed": _shown(run["allowed_bar_gauge"], "bar"),
        "where": _metres(run["greatest_at_m"]),
        "when": f"{Decimal(run['greatest_at_s']):.1f} s",
        "least": _shown(run["least_bar_gauge"], "bar"),
        "exceeded": run["exceeded"],
    }


def _closing(valve: Mapping[str, Any]) -> Document:
    rate = _shown(valve["highest_rate_m3_per_h"], "m³/h")
    if valve["highest_rate_m3_per_h"] is None:
        rate = "not covered: the liquid boils" if valve["verdict"] == "boils" else "none"
    return {
        "label": valve["label"],
        "owner": valve["owner"],
        "law": valve["law"],
        "source": valve["source"],
        "time": "not known" if valve["closing_time_s"] is None else f"{valve['closing_time_s']} s",
        "within": _seconds(valve["shortest_within_ratings_s"]),
        "safe": _seconds(valve["shortest_safe_s"]),
        "rate": f"{rate}{', all that the pumps can give' if valve['every_rate'] else ''}",
    }


def _seconds(text: str | int | None) -> str:
    return "none up to 600 s" if text is None else f"{text} s"


def _limit(limit: Mapping[str, Any]) -> Document:
    return {
        "label": limit["label"],
        "state": _STATES.get(limit["state"], "sets the rate"),
        "ask": limit["ask"],
    }


def _pictures(pictured: Mapping[str, Any] | None) -> list[Document]:
    if pictured is None:
        return []
    units, label = PictureUnits(), pictured["label"]
    along = Along(**{key: _numbers(values) for key, values in pictured["along"].items()})
    points = [
        OverTime(one["name"], _numbers(one["time_s"]), _numbers(one["pressure_bar_gauge"]))
        for one in pictured["points"]
    ]
    heads = f"{label}: greatest, least and steady head along the line, what the ratings allow, the pipe's elevation."
    drawn = (
        (envelope_picture(along, "", units, _PICTURE_HEIGHT_IN), heads),
        (pressures_picture(points, "", units, _PICTURE_HEIGHT_IN), f"{label}: gauge pressure over time."),
    )
    return [{"address": _data_address(svg), "words": words} for svg, words in drawn]


def _numbers(values: list[str | None]) -> Any:
    return tuple(None if text is None else float(text) for text in values)


def _data_address(svg: bytes) -> str:
    return "data:image/svg+xml;base64," + base64.b64encode(svg).decode("ascii")
