"""How long a stay of twelve tanks, three pumps, 30 hours and a tide takes, and 200 variants of it side by side.

Run from the project's folder: DJANGO_SETTINGS_MODULE=tests.settings python -m tests.benchmarks.stay
"""

from __future__ import annotations

from collections.abc import Callable
from time import perf_counter, process_time

from compat.calc.stay.march import STEP_S, march
from compat.stay.file import StayFile, check_stay
from compat.stay.outcome import answer_stay, hours_of
from compat.stay.planning import planned
from tests.benchmarks.tables import show
from tests.compat.stays import Document, cargo_tank, floating_water, shore_tank, stay_document, tide

VARIANTS = 200


def measured_document() -> Document:
    """Return twelve tanks in three draws, three pumps at one common speed, two shore tanks, a tide."""
    stated = stay_document()
    first = stated["case"]["ship"]["pumps"][0]
    stated["case"]["ship"]["pumps"] = [first | {"key": f"P{n}", "name": f"Cargo pump P{n}"} for n in (1, 2, 3)]
    stated["case"]["operation"]["pumps"] = [
        {"pump": f"P{n}", "running": True, "tank_surface_elevation_m": 12.0, "tank_gas_pressure_bar_gauge": 0.05}
        for n in (1, 2, 3)
    ]
    stated["case"]["agreed"] = {"manifold_pressure_bar_gauge": 5.5, "start_rate_m3_per_h": 500.0}
    keys = [f"{row}{side}" for row in range(1, 7) for side in "PS"]
    stated["cargo_tanks"] = [cargo_tank(key, 14.5 + 0.1 * number) for number, key in enumerate(keys)]
    stated["draws"] = [{"pumps": [f"P{n + 1}"], "tanks": keys[n::3]} for n in range(3)]
    stated["shore_tanks"] = [shore_tank("T1", 4000.0, full_at_m3=30_000.0), shore_tank("T2", 4000.0)]
    stated["water"] = floating_water(
        tide=tide(90.0),
        draughts=[{"draught_m": 4.0, "immersion_t_per_cm": 60.0}, {"draught_m": 13.0, "immersion_t_per_cm": 66.0}],
    )
    stated["stages"] = {"stripping": {"rate_m3_per_h": 400.0}, "line_clearing_h": 0.5}
    return stated


def varied(count: int) -> list[StayFile]:
    """Return the measured stay with other agreed pressures and other densities."""
    files = []
    for number in range(count):
        stated = measured_document()
        stated["case"]["agreed"]["manifold_pressure_bar_gauge"] = 4.0 + 0.02 * number
        stated["case"]["cargo"]["density_kg_per_m3"] = 780.0 + 0.5 * number
        files.append(check_stay(stated, "varied"))
    return files


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
    file = check_stay(measured_document(), "measured")
    answer = answer_stay(file)
    plan = planned([file])
    stepping = times_s(lambda: march(plan.circuit, plan.stays), 7)
    whole = times_s(lambda: answer_stay(file), 5)
    halves = [
        (part, times_s(lambda part=part: march(plan.circuit, plan.stays, STEP_S / part), 3)) for part in (2, 4, 8)
    ]
    files = varied(VARIANTS)
    many = times_s(lambda: hours_of(files), 1)
    rows = [
        ("hours of the stay", f"{answer.hours:.2f}"),
        ("stretches between events", str(len(march(plan.circuit, plan.stays)[0].stretches))),
        ("stepping, ms on the clock / the processor", f"{stepping[0] * 1e3:.0f} / {stepping[1] * 1e3:.0f}"),
        ("whole answer with tables, ms", f"{whole[0] * 1e3:.0f} / {whole[1] * 1e3:.0f}"),
        (f"{VARIANTS} variants, s", f"{many[0]:.2f} / {many[1]:.2f}"),
    ]
    rows += [(f"step divided by {part}, ms", f"{one[0] * 1e3:.0f} / {one[1] * 1e3:.0f}") for part, one in halves]
    show("A stay of twelve tanks, three pumps and a tide", rows)


if __name__ == "__main__":
    main()
