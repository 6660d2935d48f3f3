"""The time sheet: events in order, hours by stage, stops and what caused them, hours held back (pure: no Django)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Protocol

from compat.calc.record.performance import Restriction, Span
from compat.record.events import ALL_ON_SHEET, STAGES, Kind
from shared.calc.units import BAR_PA


class Line(Protocol):
    """What every line of a time sheet has."""

    kind: str
    at: datetime
    remark: str
    caused_by: str
    pressure_bar_gauge: Decimal | None


@dataclass(frozen=True)
class StageHours:
    """Hours of one stage; None while one of its events is missing."""

    name: str
    hours: float | None


@dataclass(frozen=True)
class Stop:
    """A time without flow: from when to when (None: not ended), what caused it and why."""

    begins: datetime
    ends: datetime | None
    caused_by: str
    reason: str

    @property
    def hours(self) -> float | None:
        """Its hours, None while it lasts."""
        return None if self.ends is None else hours_between(self.begins, self.ends)


@dataclass(frozen=True)
class Sheet:
    """A whole time sheet; ``missing`` names the events that a complete one has.

    ``seen_until`` is when flow was last seen going on, such as the last reading; a line may stand later.
    """

    lines: tuple[Line, ...]
    stages: tuple[StageHours, ...]
    stops: tuple[Stop, ...]
    missing: tuple[Kind, ...]
    seen_until: datetime | None = None

    def first(self, kind: Kind) -> datetime | None:
        """Return when something first happened, or None."""
        return next((line.at for line in self.lines if line.kind == kind), None)

    @property
    def counted_until(self) -> datetime:
        """When flow ended, or while it goes on the last that is known of it; there must be a line."""
        last = self.lines[-1].at
        return self.first(Kind.ENDED) or (last if self.seen_until is None else max(last, self.seen_until))

    def stopped_hours(self, caused_by: str) -> float:
        """Return the hours of ended stops that one party caused."""
        return sum(stop.hours or 0.0 for stop in self.stops if stop.caused_by == caused_by)

    def pumped(self) -> list[Span]:
        """Return the spans with flow, in hours from its start; up to the last that is known while it goes on."""
        start = self.first(Kind.STARTED)
        if start is None:
            return []
        end = self.counted_until
        cuts = [(stop.begins, stop.ends or end) for stop in self.stops]
        spans, begin = [], start
        for stopped, again in [*cuts, (end, end)]:
            if stopped > begin:
                spans.append((hours_between(start, begin), hours_between(start, stopped)))
            begin = max(begin, again)
        return spans

    def bulk(self) -> list[Span]:
        """Return the spans in which pressure is to be kept: from full rate (or the start) to stripping (or the end)."""
        start = self.first(Kind.STARTED)
        if start is None:
            return []
        full, strip = self.first(Kind.FULL_RATE) or start, self.first(Kind.STRIPPING)
        low, high = hours_between(start, full), None if strip is None else hours_between(start, strip)
        found = []
        for begin, end in self.pumped():
            begins, ends = max(begin, low), end if high is None else min(end, high)
            if ends > begins:
                found.append((begins, ends))
        return found

    def restrictions(self, agreed_bar_gauge: float | None) -> list[Restriction]:
        """Return the hours in which the terminal held her back, and the agreed pressure, which held throughout."""
        start = self.first(Kind.STARTED)
        if start is None:
            return []
        end = self.counted_until
        whole = (0.0, hours_between(start, end))
        found = [Restriction(whole, agreed_bar_gauge * BAR_PA)] if agreed_bar_gauge is not None else []
        begun: Line | None = None
        for line in self.lines:
            if line.kind in (Kind.HELD_BACK, Kind.SET_FREE) and begun is not None:
                found.append(_restriction(begun, line.at, start))
                begun = None
            if line.kind == Kind.HELD_BACK:
                begun = line
        if begun is not None:
            found.append(_restriction(begun, end, start))
        return found


def _restriction(line: Line, until: datetime, start: datetime) -> Restriction:
    pressure = None if line.pressure_bar_gauge is None else float(line.pressure_bar_gauge) * BAR_PA
    return Restriction((hours_between(start, line.at), hours_between(start, until)), pressure)


def hours_between(begins: datetime, ends: datetime) -> float:
    """Return the hours from one time to another."""
    return (ends - begins).total_seconds() / 3600.0


def sheet_of(lines: Sequence[Line], seen_until: datetime | None = None) -> Sheet:
    """Return the time sheet of lines in order of time; ``seen_until`` as in the sheet."""
    first: dict[str, datetime] = {}
    last: dict[str, datetime] = {}
    for line in lines:
        first.setdefault(line.kind, line.at)
        last[line.kind] = line.at
    stages = []
    for stage in STAGES:
        begins, ends = first.get(stage.begins), last.get(stage.ends)
        known = begins is not None and ends is not None and ends >= begins
        stages.append(StageHours(stage.name, hours_between(begins, ends) if known and begins and ends else None))
    missing = tuple(kind for kind in ALL_ON_SHEET if kind not in first)
    return Sheet(tuple(lines), tuple(stages), tuple(_stops(lines)), missing, seen_until)


def _stops(lines: Sequence[Line]) -> list[Stop]:
    found: list[Stop] = []
    open_line: Line | None = None
    for line in lines:
        if line.kind == Kind.STOPPED:
            open_line = line
        elif line.kind in (Kind.RESTARTED, Kind.ENDED) and open_line is not None:
            if line.at > open_line.at:
                found.append(Stop(open_line.at, line.at, open_line.caused_by, open_line.remark))
            open_line = None
    if open_line is not None:
        found.append(Stop(open_line.at, None, open_line.caused_by, open_line.remark))
    return found
