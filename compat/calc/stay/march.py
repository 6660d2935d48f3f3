"""Steps stays side by side through the volume pumped, from one event to the next.

Between two events everything is smooth: time and levels are integrated at the Chebyshev points of the stretch, the
rates there worked out in one call for all stays, and both repeated until they agree (Picard's iteration). The end of
a stretch moves with it to the first event ahead: a level, a stage's volume or time, a stop, a limit taking over.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from compat.calc.stay.moments import Circuit, Rates, joined, rates_at
from compat.calc.stay.plan import Stay
from compat.calc.stay.run import Run
from compat.calc.stay.track import Track
from shared.calc.arrays import take

STEP_S = 12 * 3600.0
POINTS = 12
_MOST_SWEEPS = 60
_MOST_STRETCHES = 2000
_MOST_SPLITS = 6  # in one stage: limits that go on trading places are then passed over
_ROUNDS, _INSIDE = 2, 8
_LEAST_PART = 0.005


def march(
    circuit: Circuit,
    stays: Sequence[Stay],
    step_s: float = STEP_S,
    points: int = POINTS,
    progress: Callable[[float], None] | None = None,
) -> list[Track]:
    """Work out stays to their ends, or to where they can't go on; no stretch lasts longer than ``step_s``.

    ``progress`` is told which part of the volume of all stays is ashore.
    """
    runs = [Run(stay, circuit.surface_m, step_s, points) for stay in stays]
    for _ in range(_MOST_STRETCHES):
        for run in runs:
            if not run.done:
                run.begin()
        under_way = [run for run in runs if run.open is not None]
        if not under_way:
            break
        _settle(circuit, under_way)
        _settle(circuit, _cut_where_limit_changes(circuit, under_way))
        for run in under_way:
            if run.open is not None:
                run.accept()
        if progress is not None:
            progress(float(np.mean([_part_done(run) for run in runs])))
    return [run.track() for run in runs]


def _part_done(run: Run) -> float:
    if run.done:
        return 1.0
    whole = sum(draw.start_m3 - draw.stop_m3 for p in run.stay.parcels for g in p.groups for draw in g.draws)
    return min(run.ashore_m3 / max(whole, 1e-9), 1.0)


def _settle(circuit: Circuit, runs: Sequence[Run]) -> None:
    """Repeat rates and integrals until both agree."""
    for _ in range(_MOST_SWEEPS):
        todo = [run for run in runs if run.open is not None and not run.open.settled]
        if not todo:
            return
        parts = [run.moments() for run in todo]
        rates = rates_at(circuit, joined(parts))
        at = 0
        for run, part in zip(todo, parts, strict=True):
            run.update(take_rates(rates, at, part.row.size))
            at += part.row.size


def take_rates(rates: Rates, start: int, count: int) -> Rates:
    """Return the rates of some of the moments."""
    return take(rates, np.arange(start, start + count))


def _cut_where_limit_changes(circuit: Circuit, runs: Sequence[Run]) -> list[Run]:
    """End stretches where another limit takes over, found to a small part of the way between two points."""
    brackets = {run: bracket for run in runs if (bracket := _first_change(run)) is not None}
    for _ in range(_ROUNDS):
        if not brackets:
            break
        inside = {run: np.linspace(low, high, _INSIDE + 2) for run, (low, high) in brackets.items()}
        found = rates_at(circuit, joined([run.moments(edges[1:-1]) for run, edges in inside.items()]))
        for place, (run, edges) in enumerate(inside.items()):
            codes = found.code[place * _INSIDE : (place + 1) * _INSIDE]
            changed = np.flatnonzero(codes != run.current.code[1])
            first = int(changed[0]) if changed.size else _INSIDE
            brackets[run] = float(edges[first]), float(edges[first + 1])
    cut = []
    for run, (low, high) in brackets.items():
        part = 0.5 * (low + high)
        if _LEAST_PART < part < 1.0 - _LEAST_PART:
            run.cut(part)
            cut.append(run)
    return cut


def _first_change(run: Run) -> tuple[float, float] | None:
    """Return the two points of a stretch between which another limit takes over first."""
    if run.open is None or run.stage.kind != "bulk" or run.splits >= _MOST_SPLITS:
        return None
    others = np.flatnonzero(run.open.code[2:] != run.open.code[1])
    if not others.size:
        return None
    after = int(others[0]) + 2
    return float(run.nodes.points[after - 1]), float(run.nodes.points[after])
