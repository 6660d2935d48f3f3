"""A screening says of each pair what an assessment says of it by itself, to the last digit."""

from __future__ import annotations

import numpy as np
import pytest

from compat.case.binding_arrays import NONE, kind_of
from compat.fit.catalogue import CHECKS, WORDS
from compat.screening.kernel import Screen
from compat.screening.results import FOUND, NO_POINT, NOT_WORKED_OUT, THROTTLED, Results
from compat.screening.sides import pump_names
from compat.screening.single import PairAnswer, pair_answer
from compat.screening.terms import operation_of
from tests.benchmarks.fleet import coast, fleet, terms, two_cargoes
from vessels.facts import ShipFacts

OUTCOMES = {"found": FOUND, "throttling needed": THROTTLED, "no operating point": NO_POINT}


def named(binding: int, ship: ShipFacts) -> str | None:
    """The key of a binding limit as the rows of one case name it."""
    if binding == NONE:
        return None
    kind, place = kind_of(binding)
    if kind in {"rated-flow", "greatest-flow", "speed", "power", "npsh"}:
        return f"{kind}-{pump_names(ship, operation_of(terms(), ship))[place]}"
    return f"{kind}-{place + 1}" if kind.startswith(("arm-", "shore-")) else kind


def compare(made: Results, row: int, alone: PairAnswer, ship: ShipFacts) -> None:
    assert WORDS[int(made.verdict[row])] == alone.fit.state
    assert CHECKS[made.deciding[row]].key == alone.fit.deciding
    assert made.undecided[row] == sum(one.state == "not decided" for one in alone.fit.rows)
    if alone.answer is None:
        assert made.outcome[row] == NOT_WORKED_OUT
        assert np.isnan(made.rate_m3_per_h[row])
        return
    assert made.outcome[row] == OUTCOMES[alone.answer.outcome]
    if alone.answer.total_flow_m3_per_h is None:
        assert np.isnan(made.rate_m3_per_h[row])
        return
    assert made.rate_m3_per_h[row] == alone.answer.total_flow_m3_per_h  # to the last digit
    assert made.pressure_bar_gauge[row] == alone.answer.manifold_pressure_bar_gauge
    assert named(int(made.binding[row]), ship) == alone.answer.binding


@pytest.mark.slow
def test_five_hundred_random_pairs_equal_single_assessments_to_the_last_digit() -> None:
    ships, berths, stated = fleet(60), coast(40), two_cargoes()
    screen = Screen(stated, ships, berths)
    made = screen.results(0, screen.total)
    assert len(made) == 60 * 40 * 2
    rows = np.random.default_rng(11).choice(len(made), 500, replace=False)
    for row in rows:
        ship, berth = ships[made.ship[row]], berths[made.berth[row]]
        cargo = stated.cargoes[made.cargo[row]]
        compare(made, int(row), pair_answer(stated, cargo, ship, berth), ship)
    assert {FOUND} <= set(made.outcome[rows].tolist())
    assert len(set(made.verdict[rows].tolist())) >= 2
