"""What an event does to every run of a line, the shortest safe closing time, and the highest rate for a given one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from compat.calc.surge.formulae import joukowsky_head_m, michaud_head_m, return_time_s
from compat.calc.surge.march import Envelope, march
from compat.calc.surge.system import Event, System
from shared.calc.root import Array

LONGEST_CLOSING_S = 600
_RETURNS_AFTER = 6.0  # pumps go on packing the line while waves run to and fro; after four nothing grew in our cases
_LEAST_AFTER_S = 5.0
_RATE_TOLERANCE = 0.005
_CLOSE = 1e-9

Verdict = Literal["kept", "boils", "exceeded"]


@dataclass(frozen=True)
class Margins:
    """What an event leaves, as heads [m]: least below what the ratings allow, and least above the vapour pressure."""

    rating_m: float
    vapour_m: float

    @property
    def verdict(self) -> Verdict:
        """Tell whether a rating is passed, else whether the liquid boils, else that both are kept."""
        return "exceeded" if self.rating_m < 0.0 else "boils" if self.vapour_m < 0.0 else "kept"

    @property
    def least_m(self) -> float:
        """Return the lesser of both."""
        return min(self.rating_m, self.vapour_m)


@dataclass(frozen=True)
class RunExtremes:
    """Greatest and least pressure [Pa gauge] in one run, where along the whole line [m] and when [s].

    Greatest means nearest to its rating; ``allowed_pa_gauge`` is the rating with its allowance, infinite if not known.
    """

    name: str
    greatest_pa_gauge: float
    greatest_at_m: float
    greatest_at_s: float
    allowed_pa_gauge: float
    least_pa_gauge: float
    least_at_m: float
    least_at_s: float

    @property
    def exceeded(self) -> bool:
        """Tell whether the pressure passed what is allowed."""
        return self.greatest_pa_gauge > self.allowed_pa_gauge * (1.0 + _CLOSE)


@dataclass(frozen=True)
class ByHand:
    """Closed forms for the line upstream of what stops it: a check by hand, not the answer."""

    joukowsky_head_m: float
    michaud_head_m: float | None
    return_time_s: float


@dataclass(frozen=True)
class EventResult:
    """An event with its envelope; from ``low_from_s`` on the liquid boils at ``low_at_m`` and nothing is covered."""

    event: Event
    envelope: Envelope
    watched: tuple[int, ...]
    runs: tuple[RunExtremes, ...]
    low_from_s: float | None
    low_at_m: float | None
    by_hand: ByHand
    verdict: Verdict


def steps_for(system: System, event: Event) -> int:
    """Return how many time steps an event is followed: until shut, then six returns of the wave and 5 s at least."""
    lengths = np.array([run.length_m for run in system.grid.runs])
    after = max(_RETURNS_AFTER * return_time_s(lengths, system.grid.wave_speeds_m_per_s), _LEAST_AFTER_S)
    return int(np.ceil((event.lasts_s + after) / system.grid.step_s))


def margins_in(system: System, event: Event, *, only_verdict: bool = False) -> Margins:
    """Return what an event leaves; where ``only_verdict`` matters, the march ends as soon as a rating is passed.

    Where the liquid boils somewhere, a rating counts as passed if it was before that, or if it is on the pumps' side of
    the valve that shuts, which parts them from what boils behind it. No other figure is taken from after that.
    """
    steps = steps_for(system, event)
    allowed = _with_slack(system)
    met = march(system.line(event, steps), steps, ends_above_m=allowed if only_verdict else None)
    room, vapour = allowed - met.greatest_head_m, float((met.least_head_m - system.least_head_m).min())
    if vapour < 0.0 and met.steps < steps:
        return margins_in(system, event)
    if vapour >= 0.0 or room.min() >= 0.0:
        return Margins(float(room.min()), vapour)
    rating = float(room[: _nodes_before(system, event)].min(initial=np.inf))
    if rating >= 0.0:
        before = _march(system, event, ())
        rating = min(rating, float((allowed - before.greatest_head_m).min()))
    return Margins(rating, vapour)


def _nodes_before(system: System, event: Event) -> int:
    """Return the number of nodes before the first valve that shuts; none where the pumps trip."""
    behind = [valve.behind for valve in system.valves if valve.key in event.closes]
    return 0 if event.trip or not behind else system.grid.last[min(behind)] + 1


def study_event(system: System, event: Event, watch: Sequence[int] = ()) -> EventResult:
    """Return the envelope of an event and the extremes of each run; ``watch`` names nodes to be kept over time."""
    first = _march(system, event, ())
    pressure = system.pressure_pa_gauge(first.greatest_head_m)
    low = system.pressure_pa_gauge(first.least_head_m)
    worst, least = _extreme_nodes(system, pressure, low)
    nodes = tuple(dict.fromkeys([*watch, *worst, *least]))
    envelope = _march(system, event, nodes)
    place = {node: k for k, node in enumerate(nodes)}
    allowed = system.grid.rating_pa_gauge * (1.0 + system.allowance)
    runs = []
    for run, high_node, low_node in zip(system.grid.runs, worst, least, strict=True):
        heads_there, lows_there = (
            envelope.watched_head_m[:, place[high_node]],
            envelope.watched_head_m[:, place[low_node]],
        )
        runs.append(
            RunExtremes(
                name=run.name,
                greatest_pa_gauge=float(pressure[high_node]),
                greatest_at_m=float(system.grid.distance_m[high_node]),
                greatest_at_s=float(envelope.time_s[int(heads_there.argmax())]),
                allowed_pa_gauge=float(allowed[high_node]),
                least_pa_gauge=float(low[low_node]),
                least_at_m=float(system.grid.distance_m[low_node]),
                least_at_s=float(envelope.time_s[int(lows_there.argmin())]),
            )
        )
    low_node_met = envelope.low_node
    verdict: Verdict = "exceeded" if any(run.exceeded for run in runs) else "kept"
    if low_node_met is not None and verdict == "kept":
        verdict = margins_in(system, event).verdict
    return EventResult(
        event=event,
        envelope=envelope,
        watched=nodes,
        runs=tuple(runs),
        low_from_s=envelope.low_from_s,
        low_at_m=None if low_node_met is None else float(system.grid.distance_m[low_node_met]),
        by_hand=_by_hand(system, event),
        verdict=verdict,
    )


def _march(system: System, event: Event, watch: Sequence[int]) -> Envelope:
    steps = steps_for(system, event)
    return march(system.line(event, steps), steps, watch, system.least_head_m)


def _with_slack(system: System) -> Array:
    return system.allowed_head_m + _CLOSE * np.abs(system.allowed_head_m)


def _extreme_nodes(system: System, pressure: Array, low: Array) -> tuple[list[int], list[int]]:
    grid = system.grid
    spans = list(zip(grid.first, grid.last, strict=True))
    worst = [first + int(pressure[first : last + 1].argmax()) for first, last in spans]
    return worst, [first + int(low[first : last + 1].argmin()) for first, last in spans]


def _by_hand(system: System, event: Event) -> ByHand:
    grid = system.grid
    stop = max((valve.behind for valve in system.valves if valve.key in event.closes), default=len(grid.runs) - 1)
    lengths = np.array([run.length_m for run in grid.runs[: stop + 1]])
    velocity = np.array([system.flow_m3_per_s / run.area_m2 for run in grid.runs[: stop + 1]])
    speeds = grid.wave_speeds_m_per_s[: stop + 1]
    returns = return_time_s(lengths, speeds)
    slow = event.closing_s is not None and event.closing_s > returns
    at = 0 if event.trip and not event.closes else stop
    return ByHand(
        joukowsky_head_m=float(joukowsky_head_m(speeds[at], velocity[at])),
        michaud_head_m=michaud_head_m(lengths, velocity, event.closing_s) if slow and event.closing_s else None,
        return_time_s=returns,
    )


def shortest_closing(passes: Callable[[int], bool], starts_at: int = 8) -> int | None:
    """Search the shortest closing time, in whole seconds from 1 to 600, that ``passes``; None where none does.

    From ``starts_at`` it is doubled or halved until it lies between one that fails and one that passes, then the time
    between is halved. Longer times are tried once more, since a wave can make a longer time worse than a shorter one.
    """
    time = min(max(starts_at, 1), LONGEST_CLOSING_S)
    if passes(time):
        fails = time // 2
        while fails and passes(fails):
            time, fails = fails, fails // 2
    else:
        fails = time
        while not passes(time := min(2 * fails, LONGEST_CLOSING_S)):
            if time == LONGEST_CLOSING_S:
                return None
            fails = time
    time = _halved(passes, fails, time)
    for longer in (1.15, 1.4):
        check = min(int(np.ceil(longer * time)), LONGEST_CLOSING_S)
        if not passes(check):
            return _halved(passes, check, LONGEST_CLOSING_S) if passes(LONGEST_CLOSING_S) else None
    return time


def _halved(passes: Callable[[int], bool], fails: int, time: int) -> int:
    while time - fails > 1:
        middle = (time + fails) // 2
        if passes(middle):
            time = middle
        else:
            fails = middle
    return time


def confirmed_closing(time: int, passes: Callable[[int], bool]) -> int | None:
    """Return the whole seconds that a fine line asks for, near a time found on a coarse one; None past 600 s.

    From there it is gone down or up by doubled steps, and halved between one that fails and one that passes.
    """
    step = 1
    if passes(time):
        fails = time - step
        while fails > 0 and passes(fails):
            time, step = fails, 2 * step
            fails = time - step
        return _halved(passes, max(fails, 0), time)
    fails = time
    while fails < LONGEST_CLOSING_S:
        time, step = min(fails + step, LONGEST_CLOSING_S), 2 * step
        if passes(time):
            return _halved(passes, fails, time)
        fails = time
    return None


def highest_flow(margin: Callable[[float], float], passes_m3_per_s: float, fails_m3_per_s: float) -> float:
    """Search the highest flow [m3/s] with a margin not below zero, between one that passes and one that fails.

    The margin falls nearly straight with the flow, so the next flow lies where a straight line crosses zero, a little
    to the side that closes the bracket.
    """
    low, high = passes_m3_per_s, fails_m3_per_s
    left, right = margin(low), margin(high)
    width, inwards = _RATE_TOLERANCE * high, -1.0
    while high - low > width:
        crossing = low + (high - low) * (left / (left - right) if np.isfinite(left) else 0.5)
        flow = float(np.clip(crossing + 0.4 * inwards * width, low + 0.1 * (high - low), high - 0.1 * (high - low)))
        found = margin(flow)
        if found >= 0.0:
            low, left, inwards = flow, found, 1.0
        else:
            high, right, inwards = flow, found, -1.0
    return low
