"""Takes out of an answer what tells about a shore line that its terminal keeps to itself (pure: no Django)."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

SHORE_LIMIT = "shore-"
"""Keys of the limits that belong to single segments of the shore line start so."""
KEPT_BY_TERMINAL = "kept by the terminal"


def without_line_data(answer: Mapping[str, Any]) -> dict[str, Any]:
    """Return an answer document without profile and segment data; rate, gauges and what binds stay.

    Of each limit of a shore segment only its state is left, since velocity and rate together would tell the bore.
    """
    segments = [point["name"] for point in answer["profile"][2:]]
    return {
        **answer,
        "profile": [],
        "limits": [_limit(limit) for limit in answer["limits"]],
        "questions": [text for text in answer["questions"] if not any(name in text for name in segments)],
    }


def _limit(limit: Mapping[str, Any]) -> dict[str, Any]:
    if not str(limit["key"]).startswith(SHORE_LIMIT):
        return dict(limit)
    kind, number = str(limit["key"]).removeprefix(SHORE_LIMIT).rsplit("-", 1)
    kept = dict.fromkeys(("value", "allowed", "margin"))
    ask = "Ask the terminal; it keeps the data of its shore line to itself." if limit["ask"] else ""
    return {**limit, **kept, "label": f"Shore line, part {number}: {kind}", "source": KEPT_BY_TERMINAL, "ask": ask}
