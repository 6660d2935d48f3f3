"""A screening in a database of its own, started for workers at a broker and looked at afterwards; run by a test.

``python -m tests.compat.screening.on_workers start`` prints its key; ``look`` prints how far it has come;
``compare`` fails unless every pair is there once, as one process works it out.
"""

from __future__ import annotations

# ruff: noqa: E402, T201
import sys
from datetime import UTC, datetime
from itertools import pairwise

import django

django.setup()

import numpy as np
from django.core.management import call_command

from compat.screening import pieces
from compat.screening.actions import start_screening
from compat.screening.background import screen_of
from compat.screening.models import Screening
from compat.screening.queries import results_of
from compat.screening.results import TYPES
from shared.models import Organisation, Person
from shared.roles import Kind
from tests.benchmarks.fleet import coast, fleet, terms
from tests.builders import make_berth, make_organisation, make_person, make_vessel

SHIPS, BERTHS = 40, 50


def start() -> None:
    """Make ships, berths and a screening of many small pieces, which is handed to the broker."""
    call_command("migrate", verbosity=0)
    owner = make_person(make_organisation(Kind.SHIP, "Halvard Tankers"))
    ashore = make_person(make_organisation(Kind.TERMINAL, "Sandvik Terminals"))
    vessels = [make_vessel(_of(owner), owner, **one.model_dump(mode="json", exclude_none=True)) for one in fleet(SHIPS)]
    berths = [
        make_berth(_of(ashore), ashore, **one.model_dump(mode="json", exclude_none=True)) for one in coast(BERTHS)
    ]
    pieces._FIRST = pieces._MOST = 50
    now = datetime.now(UTC)
    start_screening(by=owner, now=now, title="Over workers", terms=terms(), vessels=vessels, berths=berths)
    look()


def look() -> None:
    """Print state, pairs counted and pieces."""
    made = Screening.objects.get()
    print(made.state, made.done, made.pieces.count())


def compare() -> None:
    """Compare what is stored with what one process works out."""
    made = Screening.objects.get()
    ends = list(made.pieces.values_list("start", "stop"))
    assert ends[0][0] == 0
    assert ends[-1][1] == made.total == made.done == SHIPS * BERTHS
    assert all(one[1] == other[0] for one, other in pairwise(ends))
    stored, alone = results_of(made), screen_of(made).results(0, made.total)
    for name in (*TYPES, "rate_m3_per_h", "pressure_bar_gauge", "gain_h"):
        np.testing.assert_array_equal(getattr(stored, name), getattr(alone, name), err_msg=name)
    print("equal")


def _of(person: Person) -> Organisation:
    assert person.organisation is not None
    return person.organisation


if __name__ == "__main__":
    {"start": start, "look": look, "compare": compare}[sys.argv[1]]()
