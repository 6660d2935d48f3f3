"""The surge of a case as a document: events with their pressures, closing times, highest rates (pure: no Django)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from typing import Any, Literal

import numpy as np

from compat.calc.surge.study import RunExtremes
from compat.case.answer_parts import LimitRow, State
from compat.surge.asking import asks
from compat.surge.cautions import cautions_of
from compat.surge.closing import ClosingTimes, SafeClosing, recorded
from compat.surge.limiting import BOILED, SOURCE, WithinSurge
from compat.surge.studying import Studied
from shared.calc.units import BAR_PA, GRAVITY_M_PER_S2

Progress = Callable[[float], None]
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


def surge_of(within: WithinSurge, times: tuple[ClosingTimes, ...], progress: Progress | None = None) -> SurgeAnswer:
    """Return the surge of an answered case with its ``times``; ``progress`` is told the part of the events done."""
    study, tell = within.study, progress or (lambda _: None)
    system, events = study.system, list[SurgeEvent]()
    keys = list(study.events()) if system is not None else []
    for i, key in enumerate(keys):
        events.append(shown_event(study.studied(key, watch_all=False)))
        tell((i + 1) / len(keys))
    return SurgeAnswer(
        state="not decided" if system is None else "answered",
        reason=study.problem,
        questions=(*study.questions, *asks(study.case)),
        notes=study.notes,
        cautions=cautions_of(study.case, system, events_boil=any(event.low_from_s is not None for event in events)),
        allowance_percent=study.case.agreed.surge_allowance_percent or 0.0,
        reaches=None if system is None else sum(system.grid.reaches),
        wave_speed_adjustment_percent=None if system is None else 100.0 * system.grid.adjustment,
        events=tuple(events),
        closing=tuple(recorded(rate, found) for rate, found in zip(within.rates, times, strict=True)),
        limits=tuple(row for event in events for row in _pressure_rows(event)),
    )


def shown_event(studied: Studied) -> SurgeEvent:
    """Return an event in the units that documents are written in."""
    result, density = studied.result, studied.system.density_kg_per_m3
    by_hand, weight = result.by_hand, density * GRAVITY_M_PER_S2 / BAR_PA
    slow = by_hand.michaud_head_m
    return SurgeEvent(
        key=studied.key,
        label=result.event.label,
        closing_time_s=result.event.closing_s,
        state="not decided" if result.verdict == "boils" else result.verdict,
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
    allowed = run.allowed_bar_gauge or 0.0
    margin = allowed - run.greatest_bar_gauge
    state: State = "exceeded" if margin < -_CLOSE * allowed else "kept"
    row = LimitRow(f"surge-{event.key}", label, "both", SOURCE, state, "bar", run.greatest_bar_gauge, allowed, margin)
    return [row if event.low_from_s is None else replace(row, state="not decided", margin=None, ask=BOILED)]


def _lists(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _lists(item) for key, item in value.items()}
    return [_lists(item) for item in value] if isinstance(value, tuple) else value
