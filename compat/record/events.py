"""Kinds of events of a time sheet, and the stages between them (pure: no Django)."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Kind(StrEnum):
    """What happened; the value is its sentence on the time sheet."""

    NOTICE = "notice of readiness tendered"
    NOTICE_TAKEN = "notice of readiness accepted"
    MOORED = "all fast"
    MEETING = "pre-transfer meeting held"
    CONNECTED = "arms or hoses connected"
    STARTED = "flow started"
    FULL_RATE = "full rate reached"
    STOPPED = "flow stopped"
    RESTARTED = "flow started again"
    HELD_BACK = "held back by the terminal"
    SET_FREE = "no longer held back"
    WASHING = "crude oil washing begun"
    WASHED = "crude oil washing ended"
    STRIPPING = "stripping begun"
    SLOWED = "slowed down"
    ENDED = "flow ended"
    DRAINED = "arms or hoses drained"
    HOSES_OFF = "hoses off"
    OTHER = "other"


BY_MOVES = frozenset({Kind.STARTED, Kind.STOPPED, Kind.RESTARTED, Kind.ENDED})
"""Written by the acts that move the record, never typed by hand, so that sheet and state can't part."""
TYPED_KINDS = tuple(kind for kind in Kind if kind not in BY_MOVES)

CAUSED_BY = ("ship", "terminal", "neither")
ALL_ON_SHEET = (Kind.NOTICE, Kind.MOORED, Kind.CONNECTED, Kind.STARTED, Kind.ENDED, Kind.HOSES_OFF)
"""Events that a complete time sheet has."""


@dataclass(frozen=True)
class Stage:
    """A stage of a stay, from one event to another."""

    name: str
    begins: Kind
    ends: Kind


STAGES = (
    Stage("Notice to all fast", Kind.NOTICE, Kind.MOORED),
    Stage("All fast to connected", Kind.MOORED, Kind.CONNECTED),
    Stage("Connected to flow", Kind.CONNECTED, Kind.STARTED),
    Stage("Start to full rate", Kind.STARTED, Kind.FULL_RATE),
    Stage("Crude oil washing", Kind.WASHING, Kind.WASHED),
    Stage("Stripping", Kind.STRIPPING, Kind.ENDED),
    Stage("Flow, stops included", Kind.STARTED, Kind.ENDED),
    Stage("End of flow to hoses off", Kind.ENDED, Kind.HOSES_OFF),
    Stage("Notice to hoses off", Kind.NOTICE, Kind.HOSES_OFF),
)
