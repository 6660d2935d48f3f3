"""Takes out of an answer what tells about a shore line that its terminal keeps to itself (pure: no Django)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

SHORE_LIMIT = "shore-"
"""Keys of the limits that belong to single segments of the shore line start so."""
KEPT_BY_TERMINAL = "kept by the terminal"


def without_line_data(answer: Mapping[str, Any]) -> dict[str, Any]:
    """Return an answer document without profile, segments and tanks; rate, gauges and what binds stay.

    Of each limit of a shore segment only its state is left, since velocity and rate together would tell the bore.
    """
    segments = [point["name"] for point in answer["profile"][2:]]
    tanks = [tank["name"] for tank in answer.get("tanks", [])]
    return {
        **answer,
        "profile": [],
        "tanks": [],
        "shore_fit": None,
        "cautions": [_without_tanks(text, tanks) for text in answer["cautions"]],
        "limits": [_limit(limit, segments) for limit in answer["limits"]],
        "questions": [text for text in answer["questions"] if not any(name in text for name in segments)],
    }


def _without_tanks(text: str, tanks: Sequence[str]) -> str:
    for name in sorted(tanks, key=len, reverse=True):
        text = text.replace(name, "a receiving tank")
    return text


def _limit(limit: Mapping[str, Any], segments: Sequence[str]) -> dict[str, Any]:
    key, label = str(limit["key"]), str(limit["label"])
    named = limit["owner"] == "terminal" and any(name in label for name in segments)
    if key.startswith(SHORE_LIMIT):
        kind, number = key.removeprefix(SHORE_LIMIT).rsplit("-", 1)
        label = f"Shore line, part {number}: {kind}"
    elif named:
        label = _unnamed(label, segments)
    else:
        return dict(limit)
    kept = dict.fromkeys(("value", "allowed", "margin"))
    ask = "Ask the terminal; it keeps the data of its shore line to itself." if limit["ask"] else ""
    return {**limit, **kept, "label": label, "source": KEPT_BY_TERMINAL, "ask": ask}


def _unnamed(label: str, segments: Sequence[str]) -> str:
    """Take the names of shore segments out of a label, the longest first since one may hold another."""
    for name in sorted(segments, key=len, reverse=True):
        label = label.replace(f"shore segment {name}", name).replace(name, "a part of the shore line")
    return label
