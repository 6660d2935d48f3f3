"""Plain tables on standard output, and times that take the best of several runs."""

from __future__ import annotations

import sys
from collections.abc import Callable
from time import perf_counter


def best_time_s(act: Callable[[], object], repeats: int) -> float:
    """Return the shortest time in seconds of several runs; the first, which warms up, does not count."""
    act()
    times = []
    for _ in range(repeats):
        start = perf_counter()
        act()
        times.append(perf_counter() - start)
    return min(times)


def show(title: str, rows: list[tuple[str, str]]) -> None:
    """Print a table of two columns."""
    width = max(len(name) for name, _ in rows)
    sys.stdout.write(f"\n{title}\n{'-' * len(title)}\n")
    for name, value in rows:
        sys.stdout.write(f"{name:<{width}}  {value:>16}\n")
