"""How many full assessments a second the array code makes, in what memory, and whether cost grows in proportion.

Four equal pumps, five shore segments, every limit, the speed to be found; 2,000 distinct cases drawn again and again.
EPANET is timed in the same run, on one core.
Run from the project's folder: python -m tests.benchmarks.batch [--cases 1000000] [--chunk 4000]
"""

from __future__ import annotations

import os

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ[_name] = "1"  # one core is what is measured; set before numpy is loaded

# ruff: noqa: E402
import argparse
import resource
import tempfile
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter

import numpy as np

from compat.calc.achievable import FlowLimits, achievable_flow
from compat.calc.balance import SpeedRule
from compat.calc.system import ShipShore
from compat.case.answer import answer_case
from compat.case.case_arrays import arrays_of
from compat.case.case_file import CaseFile
from shared.calc.arrays import take
from terminals.calc.berth_line import arm_flows
from tests.benchmarks.cases import varied
from tests.benchmarks.networks import OpenedNetwork, search_speed
from tests.benchmarks.tables import best_time_s, show
from tests.compat import epanet
from vessels.calc.suction import npsh_available_m, npsh_required_m

DISTINCT = 2000


@dataclass(frozen=True)
class Measured:
    """What the search works on."""

    system: ShipShore
    rule: SpeedRule
    limits: FlowLimits


def assess(arrays: Measured) -> tuple[np.ndarray, ...]:
    """Find rate and speed of every case, and the value that stands against each limit there."""
    found = achievable_flow(arrays.system, arrays.rule, arrays.limits)
    flow, pump_flow = found.point.flow_m3_per_s, found.point.pump_flow_m3_per_s
    return (
        flow,
        found.point.speed_rpm,
        arrays.system.point_pressures(flow)[0],
        arm_flows(arrays.system.berth, flow)[0],
        npsh_available_m(arrays.system.pumps, arrays.limits.suction, pump_flow),
        npsh_required_m(arrays.limits.suction, pump_flow, found.point.speed_rpm),
        found.point.converged,
    )


def run(arrays: Measured, cases: int, chunk: int) -> tuple[float, int]:
    """Assess so many cases in chunks; return seconds and how many did not converge."""
    random = np.random.default_rng(3)
    seconds, lost, left = 0.0, 0, cases
    while left > 0:
        size = min(chunk, left)
        part = take(arrays, random.integers(0, DISTINCT, size))
        start = perf_counter()
        *_, converged = assess(part)
        seconds += perf_counter() - start
        lost += int((~converged).sum())
        left -= size
    return seconds, lost


def memory_mb() -> float:
    """Return the greatest memory this process has had, in MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=100_000)
    parser.add_argument("--chunk", type=int, default=4000)
    stated = parser.parse_args()
    cases = varied(DISTINCT)
    built = arrays_of(cases)
    arrays = Measured(built.system, built.rule, built.limits)
    run(arrays, stated.chunk, stated.chunk)
    rows, rates = [], []
    for share in (0.1, 0.3, 1.0):
        count = int(stated.cases * share)
        seconds, lost = run(arrays, count, stated.chunk)
        rates.append(count / seconds)
        rows.append((f"{count:,} cases, a second", f"{count / seconds:,.0f}"))
        rows.append(("  not converged", str(lost)))
    rows.append(("cost of a case, most cases to fewest", f"{rates[0] / rates[-1]:.2f}"))
    rows.append(("greatest memory of the process, MB", f"{memory_mb():.0f}"))
    show(f"Full assessments in chunks of {stated.chunk:,}", rows)
    compare(cases[0], 1.0 / rates[-1])


def compare(case: CaseFile, own_s: float) -> None:
    """Time EPANET on one of the cases and print the ratios."""
    answer = answer_case(case)
    assert answer.common_speed_rpm is not None
    assert answer.manifold_pressure_bar_gauge is not None
    speeds = dict.fromkeys([pump.key for pump in case.ship.pumps], answer.common_speed_rpm)
    with tempfile.TemporaryDirectory() as name:
        builder = epanet.network_of(case, speeds)
        through_wntr = best_time_s(lambda: epanet.run(builder, Path(name) / "run"), 10)
        network = OpenedNetwork(case, speeds, Path(name) / "opened")
        pressure = answer.manifold_pressure_bar_gauge
        search = best_time_s(lambda: search_speed(network, pressure, 650.0, 1200.0), 20)
        network.close()
    show(
        "EPANET on one of them",
        [
            ("one case here, ms", f"{own_s * 1e3:.4f}"),
            ("one run through wntr, ms", f"{through_wntr * 1e3:.2f}"),
            ("  times one case here", f"{through_wntr / own_s:,.0f}"),
            ("search on an opened network, ms", f"{search * 1e3:.2f}"),
            ("  times one case here", f"{search / own_s:,.0f}"),
        ],
    )


if __name__ == "__main__":
    main()
