"""Makes tests/reference/surge_by_tsnet.csv with the tsnet library, and times it; no test imports this.

tsnet 0.3.1 needs an older numpy and wntr than the project, so it is run in an environment of its own:

    python3 -m venv .data/tsnet && .data/tsnet/bin/pip install "numpy<2" "wntr<1.3" six tsnet
    .data/tsnet/bin/python tests/compat/calc/surge/by_tsnet.py --table tests/reference/surge_by_tsnet.csv
    .data/tsnet/bin/python tests/compat/calc/surge/by_tsnet.py --time 1000 400
"""

import argparse
import csv
import sys
import tempfile
import warnings
from contextlib import chdir, redirect_stdout
from importlib.metadata import version
from io import StringIO
from pathlib import Path
from time import process_time

import numpy as np
import tsnet
import wntr

OPEN_K = 10.0  # loss coefficient of the open valve
PERCENT = tuple(range(100, -1, -5))
CURVE = [(p, (p / 100.0) ** 2 / OPEN_K) for p in PERCENT]  # open percent, 1/K
# A valve behind a pipe that starts at a surface stops this version of tsnet, so two pipes lead to it.
# name; runs before the valve and behind it as (length m, bore m, wave speed m/s); heads m; closing s; left open; power
CASES = [
    ("fast, one bore", [(400.0, 0.5, 1200.0), (600.0, 0.5, 1200.0)], [(200.0, 0.5, 1200.0)], 60.0, 30.0, 1.0, 0.0, 1.0),
    (
        "slow, one bore",
        [(400.0, 0.5, 1200.0), (600.0, 0.5, 1200.0)],
        [(200.0, 0.5, 1200.0)],
        60.0,
        30.0,
        12.0,
        0.0,
        1.0,
    ),
    (
        "two bores before the valve",
        [(600.0, 0.6, 1000.0), (900.0, 0.4, 1200.0)],
        [(240.0, 0.4, 1200.0)],
        70.0,
        35.0,
        2.0,
        0.0,
        1.0,
    ),
    (
        "valve amid the line",
        [(330.0, 0.5, 1100.0), (550.0, 0.5, 1100.0)],
        [(1650.0, 0.4, 1100.0)],
        80.0,
        20.0,
        4.0,
        0.0,
        1.5,
    ),
    (
        "valve left a fifth open",
        [(500.0, 0.7, 1000.0), (1500.0, 0.7, 1000.0)],
        [(300.0, 0.7, 1000.0)],
        50.0,
        20.0,
        3.0,
        0.2,
        1.0,
    ),
]
COLUMNS = ["case", "before", "behind", "step_s", "closing_s", "left_open", "power", "flow_m3_per_s", "heads_m"]
COLUMNS += ["peak_before_m", "least_behind_m", "steps"]


def network(before, behind, head, far_head, folder):
    """Write a network of two surfaces, pipes in a row and one valve; return its file and the pipes' names."""
    net = wntr.network.WaterNetworkModel()
    net.options.hydraulic.headloss = "D-W"
    net.options.hydraulic.accuracy = 1e-6
    net.add_reservoir("NEAR", base_head=head)
    net.add_reservoir("FAR", base_head=far_head)
    pipes, at = [], "NEAR"

    def pipe(run, to):
        name = f"P{len(pipes) + 1}"
        net.add_pipe(name, at, to, length=run[0], diameter=run[1], roughness=0.1)
        pipes.append(name)

    for i, run in enumerate(before):
        net.add_junction(f"A{i}", elevation=0.0)
        pipe(run, f"A{i}")
        at = f"A{i}"
    net.add_junction("B", elevation=0.0)
    net.add_valve("V", at, "B", diameter=behind[0][1], valve_type="TCV", initial_setting=OPEN_K)
    at = "B"
    for i, run in enumerate(behind):
        to = "FAR" if i == len(behind) - 1 else f"B{i}"
        if to != "FAR":
            net.add_junction(to, elevation=0.0)
        pipe(run, to)
        at = to
    path = str(Path(folder) / "net.inp")
    wntr.network.write_inpfile(net, path)
    return path, pipes


def run(before, behind, head, far_head, closing_s, left_open, power, step_s, lasts_s):
    """Return the marched model, and how long the march took."""
    with tempfile.TemporaryDirectory() as folder, chdir(folder), redirect_stdout(StringIO()), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        path, pipes = network(before, behind, head, far_head, folder)
        model = tsnet.network.TransientModel(path)
        model.set_wavespeed([speed for *_, speed in (*before, *behind)])
        model.set_time(lasts_s, step_s)
        model.valve_closure("V", [closing_s, 0.0, left_open, power], curve=CURVE)
        model = tsnet.simulation.Initializer(model, 0.0, "DD")
        start = process_time()
        model = tsnet.simulation.MOCSimulator(model, str(Path(folder) / "out"), "steady")
        took = process_time() - start
    return model, pipes, took


def table_row(case):
    """Return one row of the table."""
    name, before, behind, head, far_head, closing_s, left_open, power = case
    lasts = closing_s + 12.0
    model, names, _ = run(before, behind, head, far_head, closing_s, left_open, power, 0.01, lasts)
    pipes = [model.get_link(pipe) for pipe in names]
    last = pipes[len(before) - 1]
    first = pipes[len(before)]
    made = [f"{p.length:.6f}/{p.diameter:.6f}/{p.wavev:.6f}" for p in pipes]
    heads = [f"{float(h):.6f}" for p in pipes for h in (p.start_node_head[0], p.end_node_head[0])]
    return {
        "case": name,
        "before": " ".join(made[: len(before)]),
        "behind": " ".join(made[len(before) :]),
        "step_s": f"{model.time_step:.9f}",
        "closing_s": closing_s,
        "left_open": left_open,
        "power": power,
        "flow_m3_per_s": f"{float(pipes[0].start_node_flowrate[0]):.9f}",
        "heads_m": " ".join(heads),
        "peak_before_m": f"{float(np.max(last.end_node_head)):.4f}",
        "least_behind_m": f"{float(np.min(first.start_node_head)):.4f}",
        "steps": len(last.end_node_head) - 1,
    }


def write_table(path):
    """Write the table with its versions."""
    rows = [table_row(case) for case in CASES]
    made_by = ", ".join(f"{name} {version(name)}" for name in ("tsnet", "wntr", "numpy"))
    lines = [
        "# Valve closures in a line between two surfaces, marched by another program.",
        f"# Source: {made_by}; written by tests/compat/calc/surge/by_tsnet.py, which says how to run it.",
        "# Runs are length/bore/wave speed in m, m, m/s, as tsnet adjusted them; heads at the ends of each run.",
        f"# Valve: 1/K = (percent open / 100)^2 / {OPEN_K:g} in the bore behind it at every 5 %, straight between;",
        "# open part = 1 - (1 - left open) (t/closing)^power. Steady friction as in the project; g is 9.8 there.",
        "# Rounding: as written; tolerance: 1 % of the peak.",
    ]
    with Path(path).open("w", encoding="utf-8", newline="") as file:
        file.write("\n".join(lines) + "\n")
        writer = csv.DictWriter(file, COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def time_it(points, steps):
    """Print grid-point updates a second on a line of about so many points."""
    reaches = points - 3
    speed, step_s = 1000.0, 0.01
    length = speed * step_s
    before = [(0.5 * reaches * length, 0.5, speed), (0.4 * reaches * length, 0.5, speed)]
    behind = [(0.1 * reaches * length, 0.5, speed)]
    model, names, took = run(before, behind, 120.0, 30.0, 2.0, 0.0, 1.0, step_s, steps * step_s)
    pipes = [model.get_link(name) for name in names]
    nodes = sum(pipe.number_of_segments + 1 for pipe in pipes)
    made = len(pipes[0].end_node_head) - 1
    sys.stdout.write(f"{nodes} {made} {took:.4f} {nodes * made / took:.1f}\n")


def main():
    """Write the table or print the time."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--table")
    parser.add_argument("--time", nargs=2, type=int, metavar=("POINTS", "STEPS"))
    given = parser.parse_args()
    if given.table:
        write_table(given.table)
    if given.time:
        time_it(*given.time)


if __name__ == "__main__":
    main()
