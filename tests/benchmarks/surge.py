"""How fast surge is marched: grid-point updates a second, a long line, a search for the safe time, and against tsnet.

    DJANGO_SETTINGS_MODULE=tests.settings .venv/bin/python -m tests.benchmarks.surge [PYTHON_WITH_TSNET]

The last figure needs the environment that tests/compat/calc/surge/by_tsnet.py describes; both march about 1,000 points
one after the other in the same run. Processor time is measured for our own figures, so that other work does not count.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from time import process_time

import django
import numpy as np

from compat.calc.surge.ends import HeadCurve, PumpEnd, Tank, as_steps
from compat.calc.surge.grid import Run, make_grid
from compat.calc.surge.march import Line, march, steady_state
from compat.calc.surge.valves import closing, loss_over_flow2
from compat.case.answer import answer_case
from compat.case.case_file import check_case
from compat.surge.asking import stated_valves
from compat.surge.closing import safe_closing
from compat.surge.studying import SurgeStudy
from tests.benchmarks.tables import show

BY_TSNET = Path(__file__).parents[1] / "compat" / "calc" / "surge" / "by_tsnet.py"
SPEED, BORE, FLOW = 1000.0, 0.6, 0.5
STEPS = 4000


def line_of(reaches: int, reach_m: float, steps: int) -> Line:
    """Return pumps, four runs with friction that rise 30 m, and a ball valve that shuts in 20 s before the tank."""
    area = np.pi * BORE**2 / 4.0
    parts = [round(reaches * share) for share in (0.1, 0.2, 0.3)]
    parts.append(reaches - sum(parts))
    runs = [
        Run(f"run {i}", n * reach_m, area * (1.0 - 0.1 * i), SPEED, 2e-3 * n * reach_m, FLOW, 7.5 * i, 7.5 * (i + 1))
        for i, n in enumerate(parts)
    ]
    grid = make_grid(runs, reach_m / SPEED)
    head = steady_state(grid, 100.0, FLOW, {})
    times = np.asarray(np.arange(steps + 1) * grid.step_s, dtype=float)
    loss = as_steps(loss_over_flow2(closing("ball", times, 1.0, 20.0), runs[-1].area_m2))
    curve = HeadCurve([0.0, 0.25, FLOW, 0.8], [130.0, 118.0, 90.0, 30.0])
    return Line(
        grid, head, np.full(grid.nodes, FLOW), PumpEnd(10.0, curve, grid.step_s), Tank(float(head[-1]), loss), {}
    )


def best_s(act: Callable[[], object], repeats: int) -> float:
    """Return the shortest processor time of several runs."""
    times = []
    for _ in range(repeats):
        start = process_time()
        act()
        times.append(process_time() - start)
    return min(times)


def updates_per_s(reaches: int) -> float:
    """Return grid-point updates a second."""
    nodes = line_of(reaches, 10.0, STEPS).grid.nodes
    return nodes * STEPS / best_s(lambda: march(line_of(reaches, 10.0, STEPS), STEPS, watch=(0,)), 5)


def search_s() -> float:
    """Return the time of the search for a shore valve's safe closing time and highest rate."""
    django.setup()  # the case is built by what tests share, which knows the database's models
    from tests.compat.surges import surge_case  # noqa: PLC0415

    case = check_case(surge_case(), "case")
    study = SurgeStudy(case, answer_case(case).document())
    valve = next(valve for valve in stated_valves(study.case) if valve.key == "shore-valve")
    return best_s(lambda: safe_closing(study, valve), 1)


def by_tsnet(python: str) -> float:
    """Return tsnet's updates a second on about 1,000 points."""
    told = subprocess.run([python, str(BY_TSNET), "--time", "1000", "100"], capture_output=True, text=True, check=True)
    return float(told.stdout.split()[-1])


def main() -> None:
    """Print the figures."""
    rows = [(f"{n:,} reaches, four runs: updates/s", f"{updates_per_s(n) / 1e6:.0f} million") for n in (1000, 4000)]
    steps = round(120.0 * SPEED / 10.0)
    long_s = best_s(lambda: march(line_of(1200, 10.0, steps), steps, watch=(0,)), 3)
    rows.append(("12 km at 10 m for 120 s", f"{long_s:.2f} s"))
    rows.append(("safe closing time and highest rate", f"{search_s():.1f} s"))
    if len(sys.argv) > 1:
        theirs, ours = by_tsnet(sys.argv[1]), updates_per_s(1000)
        rows.append(("tsnet, 1,000 points: updates/s", f"{theirs / 1e6:.3f} million"))
        rows.append(("times as fast as tsnet", f"{ours / theirs:,.0f}"))
    show("Surge", rows)


if __name__ == "__main__":
    main()
