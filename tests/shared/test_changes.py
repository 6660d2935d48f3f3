"""What differs between two versions of a document is told in words, complete and without what stayed."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.changes import Change, changes
from shared.quantities import display
from terminals.facts import BerthFacts
from tests.builders import berth_facts, pump_facts, ship_facts
from vessels.facts import ShipFacts


def show(value: float, unit: str) -> str:
    return display(value, unit).replace("\xa0", " ")


def ship_changes(before: dict[str, Any], after: dict[str, Any]) -> list[Change]:
    return changes(ShipFacts.model_validate(before), ShipFacts.model_validate(after), show)


def test_equal_documents_differ_in_nothing() -> None:
    assert ship_changes(ship_facts(), ship_facts()) == []


@pytest.mark.parametrize(
    ("after", "told"),
    [
        ({"name": "Other"}, [Change("Name", "Astrid Halvard", "Other")]),
        ({"imo_number": None}, [Change("IMO number", "9074729", "not known")]),
        (
            {"manifold": {"elevation_m": 21.0, "rating_bar_gauge": 16.0, "bore_mm": 300.0, "connections": 3}},
            [Change("Manifold › Elevation", "20.50 m", "21.00 m")],
        ),
        (
            {"cargo_tanks": None},
            [Change("Cargo tanks", "bottom elevation 2.10 m, top elevation 19.00 m", "not known")],
        ),
        (
            {"pumps": [pump_facts("P1")]},
            [Change("Pumps › P2", "Cargo pump P2", "taken off")],
        ),
        (
            {"pumps": [pump_facts("P2"), pump_facts("P1")]},
            [Change("Pumps: order", "P1, P2", "P2, P1")],
        ),
        (
            {"pumps": [pump_facts("P1", rated_flow_m3_per_h=1500.25), pump_facts("P2")]},
            [Change("Pumps › P1 › Rated flow", "1500 m³/h", "1500.25 m³/h")],  # less than is usually shown
        ),
    ],
)
def test_a_change_says_where_what_it_was_and_what_it_is(after: dict[str, Any], told: list[Change]) -> None:
    found = ship_changes(ship_facts(), ship_facts(**after))
    if told[0].after == "taken off":
        assert [(change.where, change.after) for change in found] == [(told[0].where, told[0].after)]
        assert told[0].before in found[0].before
    else:
        assert found == told


def test_a_point_that_is_added_is_named_by_its_flow() -> None:
    pump = pump_facts("P1")
    pump["curves"][0]["points"].insert(1, {"flow_m3_per_h": 300.0, "head_m": 157.0})
    [change] = ship_changes(ship_facts(), ship_facts(pumps=[pump, pump_facts("P2")]))
    assert change.where == "Pumps › P1 › Curves › 1,500 rpm › Points › 300 m³/h"
    assert change.after == "added: flow 300 m³/h, head 157.00 m"


def test_runs_without_names_are_told_by_their_place() -> None:
    run = {"length_m": 10.0, "bore_mm": 300.0, "roughness_mm": 0.1}
    before = ship_facts(common_line=[run, run])
    [change] = ship_changes(before, ship_facts(common_line=[run, {**run, "bore_mm": 250.0}]))
    assert change == Change("Common line › row 2 › Bore", "300 mm", "250 mm")


def test_a_tank_that_becomes_a_back_pressure_is_told_in_both_places() -> None:
    before = BerthFacts.model_validate(berth_facts())
    after = BerthFacts.model_validate(berth_facts(shore_end={"back_pressure_bar_gauge": 3.0}))
    told = {change.where: change.after for change in changes(before, after, show)}
    assert told == {"Shore end › Tank": "not known", "Shore end › Back-pressure": "3.00 bar"}


@given(
    lengths=st.lists(st.floats(0, 1000, allow_subnormal=False), min_size=0, max_size=5),
    others=st.lists(st.floats(0, 1000, allow_subnormal=False), min_size=0, max_size=5),
)
def test_different_documents_always_differ_in_something(lengths: list[float], others: list[float]) -> None:
    def line(values: list[float]) -> list[dict[str, float]]:
        return [{"length_m": value, "bore_mm": 300.0, "roughness_mm": 0.1} for value in values]

    found = ship_changes(ship_facts(common_line=line(lengths)), ship_facts(common_line=line(others)))
    assert bool(found) is (lengths != others)
