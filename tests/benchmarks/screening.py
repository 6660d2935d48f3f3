"""How long a screening takes: 1,000 ships at 200 berths, every check and every rate, on one core; and how cost grows.

Run from the project's folder: python -m tests.benchmarks.screening [--ships 1000] [--berths 200]
"""

from __future__ import annotations

import os

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ[_name] = "1"  # one core is what is measured; set before numpy is loaded
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")

# ruff: noqa: E402
import argparse
import resource
from collections.abc import Sequence
from datetime import date
from time import perf_counter, process_time

import django

django.setup()

from compat.fit.catalogue import WORDS
from compat.fit.doubts import Doubtful, Owner, doubtful
from compat.fit.origins import Stated
from compat.screening.kernel import Screen
from compat.screening.pieces import pieces
from compat.screening.results import Results, joined
from shared.lazy import Lazily
from terminals.facts import BerthFacts
from tests.benchmarks.fleet import coast, fleet, terms
from tests.benchmarks.tables import show
from vessels.facts import ShipFacts


def _doubtful(owner: Owner, documents: Sequence[ShipFacts | BerthFacts]) -> Lazily[Doubtful]:
    """What is old or assumed of each, from one version, as a stored ship or berth with its revisions is looked at."""

    def of(document: ShipFacts | BerthFacts) -> Doubtful:
        stated = Stated(1, "", date(2031, 1, 1), document.model_dump(mode="json", exclude_none=True))
        return doubtful(owner, document, [stated], date(2031, 4, 14))

    return Lazily(documents, of)


def run(ships: Sequence[ShipFacts], berths: Sequence[BerthFacts]) -> tuple[Results, float, float]:
    """Screen everything in pieces as a background run does; return results, seconds, seconds to the first rows."""
    start = perf_counter()
    screen = Screen(terms(), ships, berths, (_doubtful("ship", ships), _doubtful("berth", berths)))
    made, first = [], 0.0
    for begin, end in pieces(screen.total, len(berths)):
        made.append(screen.results(begin, end))
        first = first or perf_counter() - start
    return joined(made), perf_counter() - start, first


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--ships", type=int, default=1000)
    parser.add_argument("--berths", type=int, default=200)
    stated = parser.parse_args()
    ships, berths = fleet(stated.ships), coast(stated.berths)
    run(ships[:5], berths[:5])  # what is imported and cached once is no part of the measurement
    rows, cost = [], []
    for share in (0.1, 0.3, 1.0):
        part = ships[: max(1, int(stated.ships * share))]
        used = process_time()
        made, seconds, first = run(part, berths)
        cost.append(seconds / len(made))
        rows += [
            (f"{len(made):,} pairs, s", f"{seconds:.2f}"),
            ("  processor time, s", f"{process_time() - used:.2f}"),
            ("  first rows after, s", f"{first:.2f}"),
        ]
    words = {word: int((made.verdict == verdict).sum()) for verdict, word in WORDS.items()}
    rows += [(f"  {word}", f"{count:,}") for word, count in words.items() if count]
    rows += [
        ("  with a rate", f"{int((made.rate_m3_per_h > 0).sum()):,}"),
        ("cost of a pair, most pairs to fewest", f"{cost[-1] / cost[0]:.2f}"),
        ("greatest memory of the process, MB", f"{resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0:.0f}"),
        ("stored, MB", f"{len(made.to_bytes()) / 1e6:.1f}"),
    ]
    show(f"{stated.ships:,} ships at {stated.berths:,} berths", rows)


if __name__ == "__main__":
    main()
