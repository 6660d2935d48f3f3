"""How long the pages of a screening of 10,000 pairs take: the table sorted and filtered, matrix, questions, files.

Run from the project's folder: python -m tests.benchmarks.screening_pages [--ships 100] [--berths 100]
"""

from __future__ import annotations

import os
import tempfile

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
_ROOM = tempfile.TemporaryDirectory()
os.environ["BERTH_ACCORD_DATA"] = _ROOM.name

# ruff: noqa: E402
import argparse
from datetime import UTC, datetime
from time import perf_counter

import django

django.setup()

from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from compat.screening.actions import start_screening
from compat.screening.models import Screening
from shared.roles import Kind
from tests.benchmarks.fleet import coast, fleet, terms
from tests.benchmarks.tables import show
from tests.builders import make_berth, make_organisation, make_person, make_vessel

_TIMES = 7
_ASKED = {
    "table": ("screening", {}),
    "table, sorted by rate and filtered": ("screening", {"sort": "-rate", "rate": "with", "search": "crude"}),
    "table, sorted by what one change buys, page 50": ("screening", {"sort": "-gain", "page": "50"}),
    "table, least rate and most hours": ("screening", {"least_rate": "900", "most_hours": "12", "sort": "hours"}),
    "matrix": ("screening-matrix", {}),
    "what to ask": ("screening-asks", {}),
    "CSV": ("screening-csv", {}),
    "XLSX": ("screening-xlsx", {}),
}


def made(ships: int, berths: int) -> tuple[Client, Screening, float]:
    """Return a browser, a screening that is worked out, and how long starting it took."""
    call_command("migrate", verbosity=0)
    sea, shore = make_organisation(Kind.SHIP, "Halvard Tankers"), make_organisation(Kind.TERMINAL, "Sandvik Terminals")
    owner, ashore = make_person(sea), make_person(shore)
    vessels = [make_vessel(sea, owner, **one.model_dump(mode="json", exclude_none=True)) for one in fleet(ships)]
    places = [make_berth(shore, ashore, **one.model_dump(mode="json", exclude_none=True)) for one in coast(berths)]
    begin = perf_counter()
    row = start_screening(
        by=owner, now=datetime.now(UTC), title="Measured", terms=terms(), vessels=vessels, berths=places
    )
    seconds = perf_counter() - begin
    browser = Client(headers={"host": "localhost"})
    browser.force_login(owner)
    return browser, row, seconds


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--ships", type=int, default=100)
    parser.add_argument("--berths", type=int, default=100)
    stated = parser.parse_args()
    browser, row, seconds = made(stated.ships, stated.berths)
    rows = [("worked out and stored, s", f"{seconds:.2f}")]
    for words, (name, asked) in _ASKED.items():
        taken = []
        for _ in range(_TIMES):
            begin = perf_counter()
            assert browser.get(reverse(name, args=[row.public_id]), asked).status_code == 200
            taken.append(perf_counter() - begin)
        figures = f"{1e3 * taken[0]:.0f}, {1e3 * sorted(taken)[_TIMES // 2]:.0f}"
        rows.append((f"{words}, first and middle of {_TIMES}, ms", figures))
    show(f"{row.total:,} pairs", rows)


if __name__ == "__main__":
    main()
