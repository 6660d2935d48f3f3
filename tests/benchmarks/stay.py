"""How long a stay of twelve tanks, three pumps, 30 hours and a tide takes, and 200 variants of it side by side.

Run from the project's folder: DJANGO_SETTINGS_MODULE=tests.settings python -m tests.benchmarks.stay
"""

from __future__ import annotations

from collections.abc import Callable
from time import perf_counter, process_time

import django

from compat.calc.stay.march import STEP_S, march
from compat.stay.file import StayFile, check_stay
from compat.stay.outcome import answer_stay, hours_of
from compat.stay.planning import planned
from tests.benchmarks.tables import show

django.setup()  # the case is built by what tests share, which knows the database's models
from tests.compat.stays import twelve_tank_stay  # noqa: E402

VARIANTS = 200


def varied(count: int) -> list[StayFile]:
    """Return the measured stay with other agreed pressures and other densities."""
    files = []
    for number in range(count):
        stated = twelve_tank_stay()
        stated["case"]["agreed"]["manifold_pressure_bar_gauge"] = 3.3 + 0.02 * number
        stated["case"]["cargo"]["density_kg_per_m3"] = 780.0 + 0.5 * number
        files.append(check_stay(stated, "varied"))
    return files


def bound_by_suction() -> StayFile:
    """Return the measured stay with a cargo so near its boiling point that suction binds for hours."""
    stated = twelve_tank_stay()
    stated["case"]["agreed"]["manifold_pressure_bar_gauge"] = 12.0
    stated["case"]["cargo"]["vapour_pressure_kpa_abs"] = 100.0
    return check_stay(stated, "bound by suction")


def times_s(work: Callable[[], object], repeats: int) -> tuple[float, float]:
    """Return the shortest time on the clock and on the processor."""
    wall, processor = [], []
    for _ in range(repeats):
        start, used = perf_counter(), process_time()
        work()
        wall.append(perf_counter() - start)
        processor.append(process_time() - used)
    return min(wall), min(processor)


def main() -> None:
    """Measure and print."""
    file = check_stay(twelve_tank_stay(), "measured")
    answer = answer_stay(file)
    plan = planned([file])
    stepping = times_s(lambda: march(plan.circuit, plan.stays), 7)
    whole = times_s(lambda: answer_stay(file), 5)
    halves = [
        (part, times_s(lambda part=part: march(plan.circuit, plan.stays, STEP_S / part), 3)) for part in (2, 4, 8)
    ]
    suction = planned([bound_by_suction()])
    by_suction = times_s(lambda: march(suction.circuit, suction.stays), 5)
    files = varied(VARIANTS)
    many = times_s(lambda: hours_of(files), 1)
    rows = [
        ("hours of the stay", f"{answer.hours:.2f}"),
        ("stretches between events", str(len(march(plan.circuit, plan.stays)[0].stretches))),
        ("stepping, ms on the clock / the processor", f"{stepping[0] * 1e3:.0f} / {stepping[1] * 1e3:.0f}"),
        ("whole answer with tables, ms", f"{whole[0] * 1e3:.0f} / {whole[1] * 1e3:.0f}"),
        (
            "stepping where suction binds, ms",
            f"{by_suction[0] * 1e3:.0f} / {by_suction[1] * 1e3:.0f}",
        ),
        (f"{VARIANTS} variants, s", f"{many[0]:.2f} / {many[1]:.2f}"),
    ]
    rows += [(f"step divided by {part}, ms", f"{one[0] * 1e3:.0f} / {one[1] * 1e3:.0f}") for part, one in halves]
    show("A stay of twelve tanks, three pumps and a tide", rows)


if __name__ == "__main__":
    main()
