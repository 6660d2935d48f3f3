"""What an event does to every run of a line, the shortest safe closing time, and the highest rate for a given one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

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

Progress = Callable[[float], None]


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

    @property
    def safe(self) -> bool:
        """Tell whether every known rating holds and the liquid never boils."""
        return self.low_from_s is None and not any(run.exceeded for run in self.runs)


def steps_for(system: System, event: Event) -> int:
    """Return how many time steps an event is followed: until shut, then six returns of the wave and 5 s at least."""
    lengths = np.array([run.length_m for run in system.grid.runs])
    after = max(_RETURNS_AFTER * return_time_s(lengths, system.grid.wave_speeds_m_per_s), _LEAST_AFTER_S)
    return int(np.ceil((event.lasts_s + after) / system.grid.step_s))


def safe_in(system: System, event: Event) -> bool:
    """Tell whether an event keeps every known rating and stays above the vapour pressure."""
    envelope = _march(system, event, ())
    return envelope.low_from_s is None and bool((envelope.greatest_head_m <= _with_slack(system)).all())


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
    return EventResult(
        event=event,
        envelope=envelope,
        watched=nodes,
        runs=tuple(runs),
        low_from_s=envelope.low_from_s,
        low_at_m=None if low_node_met is None else float(system.grid.distance_m[low_node_met]),
        by_hand=_by_hand(system, event),
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


@dataclass(frozen=True)
class SafeTime:
    """The shortest closing time in whole seconds that keeps every limit; None where none up to 600 s does."""

    closing_s: int | None
    tried: int


def shortest_safe_closing(system: System, event: Event, progress: Progress | None = None) -> SafeTime:
    """Search the shortest closing time of an event's valves, in whole seconds from 1 to 600.

    It is tried longer and longer until it is safe, halved back, and longer times are tried once more, since a wave can
    make a longer time worse than a shorter one.
    """
    system.check_steady()
    tell = progress or (lambda _: None)
    tried: dict[int, bool] = {}

    def safe(seconds: int) -> bool:
        if seconds not in tried:
            tried[seconds] = safe_in(system, replace(event, closing_s=float(seconds)))
            tell(min(len(tried) / 18.0, 0.95))
        return tried[seconds]

    unsafe, time = 0, 4
    while not safe(time):
        if time == LONGEST_CLOSING_S:
            return SafeTime(None, len(tried))
        unsafe, time = time, min(2 * time, LONGEST_CLOSING_S)
    time = _halved(safe, unsafe, time)
    for longer in (1.15, 1.4, 2.0):
        check = min(int(np.ceil(longer * time)), LONGEST_CLOSING_S)
        if not safe(check):
            time = _halved(safe, check, LONGEST_CLOSING_S) if safe(LONGEST_CLOSING_S) else 0
            break
    tell(1.0)
    return SafeTime(time or None, len(tried))


def _halved(safe: Callable[[int], bool], unsafe: int, time: int) -> int:
    while time - unsafe > 1:
        middle = (time + unsafe) // 2
        if safe(middle):
            time = middle
        else:
            unsafe = middle
    return time


def highest_flow(
    system_at: Callable[[float], System], event: Event, most_m3_per_s: float, progress: Progress | None = None
) -> float | None:
    """Search the highest flow [m3/s] up to ``most_m3_per_s`` at which an event is safe; None where none is.

    ``system_at`` returns the line in its steady state at a flow.
    """
    tell = progress or (lambda _: None)

    def safe(flow: float) -> bool:
        return safe_in(system_at(flow), event)

    if safe(most_m3_per_s):
        tell(1.0)
        return most_m3_per_s
    low, high, done = 0.02 * most_m3_per_s, most_m3_per_s, 1
    if not safe(low):
        return None
    while high - low > _RATE_TOLERANCE * most_m3_per_s:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if safe(middle) else (low, middle)
        done += 1
        tell(min(done / 9.0, 0.99))
    return low
