"""A screening of two ships at two berths, and what its form posts."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

import pytest

from compat.screening.actions import start_screening
from compat.screening.models import Screening
from compat.screening.terms import ScreeningTerms
from shared.models import Person
from terminals.models import Berth
from tests.builders import cargo_facts, make_berth, make_vessel
from tests.compat.fit.building import berth_document, ship_document
from vessels.models import Vessel


def terms_document(**changes: Any) -> dict[str, Any]:
    """Terms of a screening with one cargo."""
    document: dict[str, Any] = {
        "cargoes": [cargo_facts()],
        "draught": "as stated below",
        "arrival_draught_m": 11.0,
        "tank_filling_percent": 60.0,
        "tank_gas_pressure_bar_gauge": 0.05,
        "manifold_pressure_bar_gauge": 8.0,
        "arrives_on": "2031-04-14",
        "arrival_hour_h": 12.0,
        "stay_h": 36.0,
        "tank_washing": "none",
        "grades": 1,
    }
    return {**document, **changes}


@pytest.fixture
def vessels(ship_officer: Person) -> list[Vessel]:
    """Two ships of the operator: one that fits, one that is too long."""
    organisation = ship_officer.organisation
    assert organisation is not None
    fits, long = ship_document(), ship_document()
    long |= {"name": "Birgit Halvard", "imo_number": "9551973"}
    long["particulars"]["length_overall_m"] = 260.0
    return [make_vessel(organisation, ship_officer, **document) for document in (fits, long)]


@pytest.fixture
def berths(terminal_officer: Person) -> list[Berth]:
    """Two berths: one that states everything and shares its line, one that keeps its line and states little."""
    organisation = terminal_officer.organisation
    assert organisation is not None
    shared, kept = berth_document(), berth_document()
    kept["name"] = "Inner berth"
    kept["berthing"]["reach"].pop("greatest_bow_to_manifold_m")
    return [
        make_berth(organisation, terminal_officer, **shared),
        make_berth(organisation, terminal_officer, line_data_shared=False, **kept),
    ]


@pytest.fixture
def start(ship_officer: Person, vessels: list[Vessel], berths: list[Berth], now: datetime) -> Callable[..., Screening]:
    """Return a function that starts a screening and lets it run, as the commit of a request would."""

    def run(**changes: Any) -> Screening:
        given: dict[str, Any] = {
            "by": ship_officer,
            "now": now,
            "title": "Two at two",
            "terms": ScreeningTerms.model_validate(terms_document()),
            "vessels": vessels,
            "berths": berths,
        }
        made = start_screening(**{**given, **changes})
        made.refresh_from_db()
        return made

    return run
