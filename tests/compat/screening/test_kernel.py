"""A screening says of each pair what an assessment says of it by itself, to the last digit."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
import pytest

from compat.case.binding_arrays import NONE, kind_of
from compat.fit.answer import Fit
from compat.fit.catalogue import CHECKS, WORDS
from compat.fit.doubts import FIT_DOUBTED, RATE_DOUBTED, doubtful
from compat.fit.fit_case import Sources
from compat.fit.origins import Stated
from compat.screening.kernel import Screen
from compat.screening.results import FOUND, NO_POINT, NOT_WORKED_OUT, THROTTLED, Results
from compat.screening.sides import pump_names
from compat.screening.single import PairAnswer, pair_answer
from compat.screening.terms import operation_of
from terminals.berthing_facts import BERTH_FACT_KEYS
from terminals.facts import BerthFacts
from tests.benchmarks.fleet import coast, fleet, terms, two_cargoes
from vessels.berthing_facts import SHIP_FACT_KEYS
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


TODAY = date(2031, 4, 14)


def versions(document: ShipFacts | BerthFacts, place: int) -> list[Stated]:
    """One version of a document; every fifth was stated long ago."""
    stated = date(2020, 1, 1) if place % 5 == 0 else date(2031, 1, 1)
    return [Stated(1, "", stated, document.model_dump(mode="json", exclude_none=True))]


def assumed(document: Any, place: int) -> Any:
    """The same document, of which some facts are assumed, others each time."""
    names = list(SHIP_FACT_KEYS if isinstance(document, ShipFacts) else BERTH_FACT_KEYS)
    told = [{"fact": names[(place + step) % len(names)], "sure": "assumed"} for step in (0, 3, 7)]
    stated = document.model_dump(mode="json", exclude_none=True)
    stated["berthing"]["statements"] = told
    return type(document).model_validate(stated)


def doubts(fit: Fit) -> int:
    """What of a single answer stands on old or assumed facts."""
    return FIT_DOUBTED * any(row.doubts for row in fit.rows) + RATE_DOUBTED * bool(fit.rate_doubts)


def compare(made: Results, row: int, alone: PairAnswer, ship: ShipFacts) -> None:
    assert WORDS[int(made.verdict[row])] == alone.fit.state
    assert CHECKS[made.deciding[row]].key == alone.fit.deciding
    still_open = {one.key for one in alone.fit.rows if one.state == "not decided"}
    still_open = {"own-rules" if key.startswith("own-rule-") else key for key in still_open}
    assert made.undecided[row] == len(still_open)
    assert {check.key for place, check in enumerate(CHECKS) if made.open_checks[row] >> place & 1} == still_open
    assert made.doubt[row] == doubts(alone.fit)
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
    ships = [assumed(one, place) for place, one in enumerate(fleet(60))]
    berths = [assumed(one, place) for place, one in enumerate(coast(40))]
    of_ships = [versions(one, place) for place, one in enumerate(ships)]
    of_berths = [versions(one, place) for place, one in enumerate(berths)]
    stated = two_cargoes()
    screen = Screen(
        stated,
        ships,
        berths,
        (
            [doubtful("ship", one, told, TODAY) for one, told in zip(ships, of_ships, strict=True)],
            [doubtful("berth", one, told, TODAY) for one, told in zip(berths, of_berths, strict=True)],
        ),
    )
    made = screen.results(0, screen.total)
    assert len(made) == 60 * 40 * 2
    rows = np.random.default_rng(11).choice(len(made), 500, replace=False)
    for row in rows:
        ship, berth = ships[made.ship[row]], berths[made.berth[row]]
        cargo = stated.cargoes[made.cargo[row]]
        sources = Sources(of_ships[made.ship[row]], of_berths[made.berth[row]], TODAY)
        compare(made, int(row), pair_answer(stated, cargo, ship, berth, sources), ship)
    assert {FOUND} <= set(made.outcome[rows].tolist())
    assert len(set(made.verdict[rows].tolist())) >= 2
    assert set(made.doubt[rows].tolist()) == {0, 1, 2, 3}
