"""A ship, a berth that shares its line, one that does not, and an assessment at each."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

import pytest
from django.test import Client

from compat.assessing.actions import make_assessment
from compat.assessing.models import Assessment
from compat.case.case_file import AgreedFacts, OperationFacts
from compat.case.composing import Setting
from shared.cargo_facts import CargoFacts
from shared.models import Person
from terminals.models import Berth
from tests.builders import berth_facts, cargo_facts, case_document, make_berth, make_vessel
from vessels.models import Vessel

ClientOf = Callable[[Person | None], Client]
OPERATION = case_document()["operation"]


def make_setting(**changes: Any) -> Setting:
    """Return a setting for the ship and berth of the builders: both pumps at one free speed against 8 bar."""
    given: dict[str, Any] = {
        "title": "First look",
        "cargo": CargoFacts.model_validate(cargo_facts()),
        "keel_elevation_m": -9.5,
        "arms_connected": (2,),
        "operation": OperationFacts.model_validate(OPERATION),
        "agreed": AgreedFacts(manifold_pressure_bar_gauge=8.0),
    }
    return Setting(**{**given, **changes})


@pytest.fixture
def vessel(ship_officer: Person) -> Vessel:
    """The ship operator's ship."""
    assert ship_officer.organisation is not None
    return make_vessel(ship_officer.organisation, ship_officer)


@pytest.fixture
def berth(terminal_officer: Person) -> Berth:
    """A berth whose terminal shows its line."""
    assert terminal_officer.organisation is not None
    return make_berth(terminal_officer.organisation, terminal_officer)


@pytest.fixture
def kept_berth(terminal_officer: Person) -> Berth:
    """A berth whose terminal keeps its line to itself, with names that must not leak."""
    assert terminal_officer.organisation is not None
    line = [{**run, "name": f"Hidden run {number}"} for number, run in enumerate(berth_facts()["shore_line"])]
    return make_berth(
        terminal_officer.organisation, terminal_officer, line_data_shared=False, name="Inner berth", shore_line=line
    )


@pytest.fixture
def assessment(ship_officer: Person, vessel: Vessel, berth: Berth, now: datetime) -> Assessment:
    """The ship at the berth that shares its line."""
    return make_assessment(by=ship_officer, now=now, vessel=vessel, berth=berth, setting=make_setting())


@pytest.fixture
def kept_assessment(ship_officer: Person, vessel: Vessel, kept_berth: Berth, now: datetime) -> Assessment:
    """The ship at the berth that does not."""
    return make_assessment(by=ship_officer, now=now, vessel=vessel, berth=kept_berth, setting=make_setting())
