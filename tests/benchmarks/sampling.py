"""How long it takes to tell how sure a rate is: samples over the tolerances of the measured case, one core.

Four equal pumps, five shore segments, every limit, the speed to be found; eight tolerances on cargo, levels and shore.
The number of samples is rounded up to a power of two, so that 2,000 asked for are 2,048.
Run from the project's folder: python -m tests.benchmarks.sampling [--samples 2000]
"""

from __future__ import annotations

import os

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ[_name] = "1"  # one core is what is measured; set before numpy is loaded

# ruff: noqa: E402
import argparse

from compat.case.case_file import check_case
from compat.case.sampling import spread_of
from tests.benchmarks.cases import four_equal_pumps
from tests.benchmarks.tables import best_time_s, show

TOLERANCES = [
    {"key": "agreed.manifold_pressure_bar_gauge", "plus_minus": 0.3},
    {"key": "cargo.kinematic_viscosity_mm2_per_s", "least": 4.0, "greatest": 20.0},
    {"key": "cargo.density_kg_per_m3", "plus_minus_percent": 0.5},
    {"key": "cargo.vapour_pressure_kpa_abs", "least": 35.0, "greatest": 60.0},
    {"key": "operation.pumps[0].tank_surface_elevation_m", "plus_minus": 1.0},
    {"key": "berth.shore_end.tank.surface_elevation_m", "plus_minus": 1.5},
    {"key": "berth.shore_line[2].roughness_mm", "least": 0.05, "greatest": 0.5},
    {"key": "berth.arms[0].loss_coefficient", "plus_minus_percent": 20.0},
]


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--samples", type=int, default=2000)
    samples = parser.parse_args().samples
    case = check_case({**four_equal_pumps(), "tolerances": TOLERANCES}, "measured")
    found = spread_of(case, samples)
    assert found is not None
    seconds = best_time_s(lambda: spread_of(case, samples), 5)
    show(
        f"{found.samples:,} samples over {len(TOLERANCES)} tolerances",
        [
            ("seconds", f"{seconds:.3f}"),
            ("a sample, ms", f"{seconds / found.samples * 1e3:.3f}"),
            ("rate, 10 % below, m³/h", f"{found.rate_p10_m3_per_h:.1f}"),
            ("rate, half below, m³/h", f"{found.rate_p50_m3_per_h:.1f}"),
            ("rate, 90 % below, m³/h", f"{found.rate_p90_m3_per_h:.1f}"),
            *((f"{key} binds, %", f"{100.0 * share:.1f}") for key, share in found.binding.items()),
        ],
    )


if __name__ == "__main__":
    main()
