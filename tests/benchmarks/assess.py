"""How long one assessment takes, beside EPANET on the same case in the same run.

Run from the project's folder: python -m tests.benchmarks.assess
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import tempfile
from pathlib import Path
from time import perf_counter

from compat.calc.achievable import achievable_flow
from compat.case.answer import answer_case
from compat.case.case_arrays import arrays_of
from compat.case.case_file import CaseFile, check_case
from tests.benchmarks.cases import four_equal_pumps
from tests.benchmarks.networks import OpenedNetwork, search_speed
from tests.benchmarks.tables import best_time_s, show
from tests.compat import epanet
from tests.compat.case.test_answer import freed
from tests.compat.systems import UNLIKE, document

ROOT = Path(__file__).resolve().parents[2]


def process_time_s(path: Path) -> tuple[float, float]:
    """Return the shortest of five whole runs of the command, and the least processor time of one of them."""
    command = [sys.executable, "manage.py", "assess", str(path), "--json"]
    times, processor = [], []
    for _ in range(5):
        used, start = _children_s(), perf_counter()
        subprocess.run(command, cwd=ROOT, check=True, capture_output=True)
        times.append(perf_counter() - start)
        processor.append(_children_s() - used)
    return min(times), min(processor)


def _children_s() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def solve_time_s(case: CaseFile) -> float:
    """Return the time of the solve itself: arrays in, rate and speed out."""
    arrays = arrays_of([case])
    return best_time_s(lambda: achievable_flow(arrays.system, arrays.rule, arrays.limits), 50)


def main() -> None:
    """Measure and print."""
    case = check_case(four_equal_pumps(), "measured")
    unlike = check_case(freed(document(UNLIKE)), "unlike")
    answer = answer_case(case)
    assert answer.common_speed_rpm is not None
    speeds = dict.fromkeys([pump.key for pump in case.ship.pumps], answer.common_speed_rpm)
    solve = solve_time_s(case)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "case.json").write_text(json.dumps(four_equal_pumps()), encoding="utf-8")
        process, processor = process_time_s(folder / "case.json")
        demo = subprocess.run([sys.executable, "manage.py", "demo_case"], cwd=ROOT, check=True, capture_output=True)
        (folder / "demo.json").write_bytes(demo.stdout)
        demo_process, _ = process_time_s(folder / "demo.json")
        builder = epanet.network_of(case, speeds)
        through_wntr = best_time_s(lambda: epanet.run(builder, folder / "run"), 10)
        network = OpenedNetwork(case, speeds, folder / "opened")
        pressure = case.agreed.manifold_pressure_bar_gauge
        assert pressure is not None
        found = search_speed(network, pressure, 650.0, 1200.0)
        search = best_time_s(lambda: search_speed(network, pressure, 650.0, 1200.0), 20)
        network.close()
    show(
        "One case: four equal pumps, five shore segments, all limits, speed found",
        [
            ("whole process of manage.py assess, ms", f"{process * 1e3:.0f}"),
            ("  of it processor time, ms", f"{processor * 1e3:.0f}"),
            ("whole process on the demo case, ms", f"{demo_process * 1e3:.0f}"),
            ("whole answer in a running process, ms", f"{best_time_s(lambda: answer_case(case), 30) * 1e3:.2f}"),
            ("the solve itself, ms", f"{solve * 1e3:.2f}"),
            ("the solve, three unlike pumps, ms", f"{solve_time_s(unlike) * 1e3:.2f}"),
            ("rate, m³/h", f"{answer.total_flow_m3_per_h:.1f}"),
            ("speed, rpm", f"{answer.common_speed_rpm:.2f}"),
            ("binding", str(answer.binding)),
        ],
    )
    show(
        "EPANET on the same case",
        [
            ("one run through wntr at a known speed, ms", f"{through_wntr * 1e3:.2f}"),
            ("times the solve itself", f"{through_wntr / solve:.1f}"),
            ("search on an opened network, ms", f"{search * 1e3:.2f}"),
            ("solves of that search", str(found.solves)),
            ("speed found, rpm", f"{found.speed_rpm:.2f}"),
        ],
    )


if __name__ == "__main__":
    main()
