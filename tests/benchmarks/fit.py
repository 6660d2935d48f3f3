"""How near the fit to kept readings comes, how honest its ranges are over 200 repeats, and how long it takes.

Run by hand: DJANGO_SETTINGS_MODULE=tests.settings python -m tests.benchmarks.fit
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace

import django
import numpy as np

django.setup()

# ruff: noqa: E402
from compat.calc.record.fit import fit_known, forecast_errors, vector
from tests.compat.calc.record.synthetic import known_readings

REPEATS = 200
KEPT, RESISTANCE, STATIC_M = 0.95, 1.22, 1.5


def say(line: str) -> None:
    """Write one line of what was measured."""
    sys.stdout.write(line + "\n")


def main() -> None:
    """Print errors, the share of ranges that hold the truth, and seconds for a fit and its forecasts."""
    for with_static in (False, True):
        truth = [KEPT, RESISTANCE] + ([STATIC_M] if with_static else [])
        held, errors = np.zeros(len(truth)), []
        begun = time.perf_counter()
        for seed in range(REPEATS):
            known = known_readings(np.random.default_rng(seed), (KEPT, KEPT), RESISTANCE, STATIC_M * with_static)
            known = replace(known, pump_unknown=np.zeros_like(known.pump_unknown))
            fit = fit_known(known, with_static=with_static)
            found = [*fit.head_kept, *fit.resistance, *fit.static_head_m]
            held += [one.low <= value <= one.high for one, value in zip(found, truth, strict=True)]
            errors.append([one.value - value for one, value in zip(found, truth, strict=True)])
        each = (time.perf_counter() - begun) / REPEATS
        away = np.abs(np.array(errors)).max(0)
        say(f"static head fitted: {with_static}; one fit {each:.3f} s")
        say(f"  greatest error: wear {100 * away[0]:.2f} points, resistance {100 * away[1] / RESISTANCE:.2f} %")
        say(f"  ranges that hold the truth, in 100: {', '.join(f'{100 * share / REPEATS:.1f}' for share in held)}")
    before = vector(np.ones(1), np.ones(1), None)
    begun = time.perf_counter()
    forecast_errors(known, before, fit_known(known, with_static=False), with_static=False)
    say(f"forecast errors by leaving out each of ten readings: {time.perf_counter() - begun:.2f} s")


if __name__ == "__main__":
    main()
