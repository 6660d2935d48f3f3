"""The surge of a case: events, the shortest safe closing times, the highest rates, limits (pure: no Django)."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any, Literal

import numpy as np

from compat.calc.surge.march import Envelope
from compat.calc.surge.study import (
    LONGEST_CLOSING_S,
    EventResult,
    Progress,
    RunExtremes,
    highest_flow,
    safe_in,
    shortest_safe_closing,
    study_event,
)
from compat.calc.surge.system import Event, System
from compat.calc.surge.valves import SOURCES
from compat.case.answer_parts import LimitRow, Owner, State
from compat.case.case_file import CaseFile
from compat.case.flange_ratings import with_flange_ratings
from compat.surge.asking import StatedValve, asks, needs, stated_valves
from compat.surge.cautions import cautions_of
from compat.surge.lining import LineMaker, SurgeLine
from shared.calc.errors import InputError
from shared.calc.units import BAR_PA, GRAVITY_M_PER_S2, HOUR_S

START_S = 30.0  # common practice, no source: not longer than 30 seconds against a closed valve
_CLOSE = 1e-6


@dataclass(frozen=True)
class RunPressures:
    """Greatest and least gauge pressure in one run during an event, where along the line and when."""

    name: str
    greatest_bar_gauge: float
    greatest_at_m: float
    greatest_at_s: float
    allowed_bar_gauge: float | None
    least_bar_gauge: float
    least_at_m: float
    least_at_s: float
    exceeded: bool


@dataclass(frozen=True)
class SurgeEvent:
    """One event; from ``low_from_s`` on, where the liquid boils at ``low_at_m``, nothing is covered any more."""

    key: str
    label: str
    closing_time_s: float | None
    state: Literal["kept", "exceeded", "not decided"]
    low_from_s: float | None
    low_at_m: float | None
    joukowsky_bar: float
    slow_closing_bar: float | None
    return_time_s: float
    runs: tuple[RunPressures, ...]


@dataclass(frozen=True)
class SafeClosing:
    """What a valve's closing has to be: the shortest safe time, and the highest rate for the time agreed."""

    key: str
    label: str
    owner: str
    law: str
    source: str
    closing_time_s: float | None
    shortest_safe_s: int | None
    highest_rate_m3_per_h: float | None


@dataclass(frozen=True)
class SurgeAnswer:
    """The surge of a case, or why it is not decided."""

    state: Literal["answered", "not decided"]
    reason: str
    questions: tuple[str, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...]
    allowance_percent: float
    reaches: int | None
    wave_speed_adjustment_percent: float | None
    events: tuple[SurgeEvent, ...]
    closing: tuple[SafeClosing, ...]
    limits: tuple[LimitRow, ...]

    def document(self) -> dict[str, Any]:
        """Return the answer as a JSON document."""
        found: dict[str, Any] = _lists(asdict(self))
        return found


@dataclass(frozen=True)
class Studied:
    """An event with all that its pictures need."""

    key: str
    result: EventResult
    system: System

    @property
    def envelope(self) -> Envelope:
        """Return greatest and least heads."""
        return self.result.envelope


class SurgeStudy:
    """The surge of one case, worked out part by part; ``problem`` says why nothing can be."""

    def __init__(self, case: CaseFile, answer: Mapping[str, Any]) -> None:
        self.case = with_flange_ratings(case)
        self.answer = answer
        self.questions = tuple(needs(self.case))
        self.problem = ""
        self.notes: tuple[str, ...] = ()
        self.maker: LineMaker | None = None
        self.system: System | None = None
        if self.questions:
            self.problem = "Surge is not decided: what it needs is not stated."
        elif answer["outcome"] == "no operating point":
            self.problem = "Surge is not decided: there is no operating point to start from."
        else:
            self._make()

    def _make(self) -> None:
        speeds = {pump["pump"]: pump["speed_rpm"] for pump in self.answer["pumps"] if pump["running"]}
        try:
            self.maker = LineMaker(self.case, speeds)
            line = self._line(self.maker, coarse=False)
            line.system.check_steady()
        except InputError as error:
            self.problem = str(error)
            return
        self.system, self.notes = line.system, line.notes

    def _line(self, maker: LineMaker, *, coarse: bool) -> SurgeLine:
        if self.answer["throttled_head_m"] > 0:
            return maker.at_flow(self.answer["total_flow_m3_per_h"] / HOUR_S, coarse=coarse)
        return maker.at_speeds(coarse=coarse)

    def closing_time_s(self, valve: StatedValve) -> float | None:
        """Return the time that counts for a valve: as agreed, else as it is set."""
        agreed = self.case.agreed.closing_time_s
        return valve.facts.closing_time_s if agreed is None else agreed

    def events(self) -> dict[str, Event]:
        """Return the events that can be worked out, by key."""
        found: dict[str, Event] = {}
        timed = [(valve, self.closing_time_s(valve)) for valve in stated_valves(self.case)]
        for valve, time in timed:
            if time is not None:
                found[valve.key] = Event(f"{valve.label} shuts in {time:g} s", (valve.key,), time)
        found["trip"] = Event("All pumps trip", trip=True)
        for valve, time in timed[-1:]:
            if time is not None:
                label = f"All pumps trip and {valve.label.lower()} shuts in {time:g} s"
                found[f"trip-and-{valve.key}"] = Event(label, (valve.key,), time, trip=True)
            label = f"Start against the shut {valve.label.lower()}, speed raised over {START_S:g} s"
            found["start"] = Event(label, starts_against=valve.key, start_s=START_S)
        return found

    def studied(self, key: str, watch_all: bool = True) -> Studied:
        """Return one event worked out; raise InputError where there is no such event or nothing to work on."""
        event = self.events().get(key)
        if event is None or self.system is None:
            raise InputError(self.problem or f"Event “{key}” is not one of this case.")
        watch = [*self.system.grid.first, self.system.grid.nodes - 1] if watch_all else []
        return Studied(key, study_event(self.system, event, watch), self.system)

    def safe_closing(self, valve: StatedValve, progress: Progress | None = None) -> SafeClosing:
        """Search one valve's shortest safe closing time, and the highest rate for the time that counts."""
        system, maker, tell = self.system, self.maker, progress or (lambda _: None)
        if system is None or maker is None:
            raise InputError(self.problem)
        time = self.closing_time_s(valve)
        event = Event(valve.label, (valve.key,), time)
        coarse = self._line(maker, coarse=True).system
        safe = shortest_safe_closing(coarse, event, lambda part: tell(0.5 * part)).closing_s
        safe = _confirmed(system, event, safe)
        rate = None
        if time is not None:
            most = system.flow_m3_per_s
            told: Progress = lambda part: tell(0.5 + 0.5 * part)  # noqa: E731
            flow = highest_flow(lambda q: maker.at_flow(q, coarse=True).system, event, most, told)
            rate = None if flow is None else flow * HOUR_S
        tell(1.0)
        facts = valve.facts
        source = facts.source or SOURCES[facts.law]
        return SafeClosing(valve.key, valve.label, valve.owner, facts.law, source, time, safe, rate)

    def limits(self, events: tuple[SurgeEvent, ...], closing: tuple[SafeClosing, ...]) -> tuple[LimitRow, ...]:
        """Return surge among the limits of a case: each event's nearest rating, each valve's time, the rate."""
        rows = [row for event in events for row in _pressure_rows(event)]
        rate = float(self.answer["total_flow_m3_per_h"])
        for valve in closing:
            owner: Owner = "ship" if valve.owner == "ship" else "terminal"
            ask = "Ship and terminal have to agree a closing time."
            safe = None if valve.shortest_safe_s is None else float(valve.shortest_safe_s)
            label = f"Shortest safe closing time of {_lower(valve.label)} against its closing time"
            state: State | None = "exceeded" if safe is None and valve.closing_time_s is not None else None
            rows.append(_row(f"surge-closing-{valve.key}", label, owner, "s", safe, valve.closing_time_s, ask, state))
            if valve.closing_time_s is not None:
                label = f"Rate for {valve.closing_time_s:g} s of {_lower(valve.label)}"
                row_state: State | None = "exceeded" if valve.highest_rate_m3_per_h is None else None
                allowed = valve.highest_rate_m3_per_h
                rows.append(_row(f"surge-rate-{valve.key}", label, owner, "m³/h", rate, allowed, "", row_state))
        return tuple(rows)


def surge_of(case: CaseFile, answer: Mapping[str, Any], progress: Progress | None = None) -> SurgeAnswer:
    """Return the whole surge of a case at its answer; ``progress`` is told the part done, 0 to 1."""
    study, tell = SurgeStudy(case, answer), progress or (lambda _: None)
    system = study.system
    events: tuple[SurgeEvent, ...] = ()
    closing: tuple[SafeClosing, ...] = ()
    if system is not None:
        keys, valves = list(study.events()), stated_valves(study.case)
        parts = len(keys) + 4 * len(valves)
        found = []
        for i, key in enumerate(keys):
            found.append(shown_event(study.studied(key, watch_all=False)))
            tell((i + 1) / parts)
        events = tuple(found)
        closing = tuple(
            study.safe_closing(valve, _part_of(tell, (len(keys) + 4 * i) / parts, 4 / parts))
            for i, valve in enumerate(valves)
        )
    return SurgeAnswer(
        state="not decided" if system is None else "answered",
        reason=study.problem,
        questions=(*study.questions, *asks(study.case)),
        notes=study.notes,
        cautions=cautions_of(study.case, system, events_boil=any(event.low_from_s is not None for event in events)),
        allowance_percent=study.case.agreed.surge_allowance_percent or 0.0,
        reaches=None if system is None else sum(system.grid.reaches),
        wave_speed_adjustment_percent=None if system is None else 100.0 * system.grid.adjustment,
        events=events,
        closing=closing,
        limits=study.limits(events, closing) if system is not None else (),
    )


def _confirmed(system: System, event: Event, seconds: int | None) -> int | None:
    """Return a time found on a coarse line, made longer where the fine line asks for it; None past 600 s."""
    while seconds is not None and not safe_in(system, replace(event, closing_s=float(seconds))):
        longer = seconds + max(1, seconds // 50)
        seconds = longer if longer <= LONGEST_CLOSING_S else None
    return seconds


def _part_of(tell: Callable[[float], None], start: float, share: float) -> Progress:
    return lambda part: tell(start + share * part)


def shown_event(studied: Studied) -> SurgeEvent:
    """Return an event in the units that documents are written in."""
    result, density = studied.result, studied.system.density_kg_per_m3
    by_hand, weight = result.by_hand, density * GRAVITY_M_PER_S2 / BAR_PA
    over = any(run.exceeded for run in result.runs)
    slow = by_hand.michaud_head_m
    return SurgeEvent(
        key=studied.key,
        label=result.event.label,
        closing_time_s=result.event.closing_s,
        state="exceeded" if over else "not decided" if result.low_from_s is not None else "kept",
        low_from_s=result.low_from_s,
        low_at_m=result.low_at_m,
        joukowsky_bar=by_hand.joukowsky_head_m * weight,
        slow_closing_bar=None if slow is None else slow * weight,
        return_time_s=by_hand.return_time_s,
        runs=tuple(_pressures(run) for run in result.runs),
    )


def _pressures(run: RunExtremes) -> RunPressures:
    allowed = run.allowed_pa_gauge / BAR_PA if np.isfinite(run.allowed_pa_gauge) else None
    return RunPressures(
        name=run.name,
        greatest_bar_gauge=run.greatest_pa_gauge / BAR_PA,
        greatest_at_m=run.greatest_at_m,
        greatest_at_s=run.greatest_at_s,
        allowed_bar_gauge=allowed,
        least_bar_gauge=run.least_pa_gauge / BAR_PA,
        least_at_m=run.least_at_m,
        least_at_s=run.least_at_s,
        exceeded=run.exceeded,
    )


def _pressure_rows(event: SurgeEvent) -> list[LimitRow]:
    known = [(run.allowed_bar_gauge - run.greatest_bar_gauge, run) for run in event.runs if run.allowed_bar_gauge]
    if not known:
        return []
    _, run = min(known, key=lambda pair: pair[0])
    label = f"{event.label}: greatest pressure in {run.name}"
    row = _row(f"surge-{event.key}", label, "both", "bar", run.greatest_bar_gauge, run.allowed_bar_gauge, "", None)
    if event.state == "not decided":
        ask = "The liquid boils in this event, so pressures after it are not covered: ask for a specialist surge study."
        return [replace(row, state="not decided", margin=None, ask=ask)]
    return [row]


def _row(
    key: str,
    label: str,
    owner: Owner,
    unit: str,
    value: float | None,
    allowed: float | None,
    ask: str,
    state: State | None,
) -> LimitRow:
    source = "pressure surge, method of characteristics"
    if state is not None:
        return LimitRow(key, label, owner, source, state, unit, value, allowed, None, ask)
    if value is None or allowed is None:
        return LimitRow(key, label, owner, source, "not decided", unit, value, allowed, None, ask)
    margin = allowed - value
    return LimitRow(
        key,
        label,
        owner,
        source,
        "exceeded" if margin < -_CLOSE * abs(allowed) else "kept",
        unit,
        value,
        allowed,
        margin,
    )


def _lower(label: str) -> str:
    return label[:1].lower() + label[1:]


def _lists(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _lists(item) for key, item in value.items()}
    return [_lists(item) for item in value] if isinstance(value, tuple) else value
