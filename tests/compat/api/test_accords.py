"""The table of an accord, worked by two programs, one of each side."""

from __future__ import annotations

import pytest

from compat.accord.models import Accord
from compat.api.scopes import Scope
from shared.models import Person, TrailRow
from tests.compat.accord.building import open_accord
from tests.compat.api.conftest import ProgramOf, problem_of


@pytest.fixture
def accord(ship_officer: Person, terminal_officer: Person) -> Accord:
    """Return an accord on the table."""
    return open_accord(ship_officer, terminal_officer)


@pytest.fixture
def path(accord: Accord) -> str:
    """Return the address of an accord on the table."""
    return f"/accords/{accord.public_id}"


def test_both_sides_read_it_and_nobody_else(
    path: str, program_of: ProgramOf, ship_reader: Person, terminal_reader: Person, stranger: Person, auditor: Person
) -> None:
    for person in (ship_reader, terminal_reader):
        told = program_of(person).get(path).json()
        assert told["state"] == "on the table"
        assert {value["key"] for value in told["values"]} >= {"manifold_pressure_bar_gauge"}
        assert len(told["checklist"]) > 20
        assert program_of(person).get("/accords").json()["count"] == 1
    for person in (stranger, auditor):
        assert problem_of(program_of(person).get(path))["status"] == 404
        assert program_of(person).get("/accords").json()["count"] == 0


def test_a_value_is_proposed_answered_and_accepted(
    path: str, program_of: ProgramOf, ship_officer: Person, terminal_officer: Person
) -> None:
    ship, shore = program_of(ship_officer), program_of(terminal_officer)
    key = "manifold_pressure_bar_gauge"
    value = next(one for one in ship.get(path).json()["values"] if one["key"] == key)
    seen = value["open"]["row"] if value["open"] else None
    first = shore.post(f"{path}/values/{key}", {"value": "6.0", "seen": seen})
    assert first.status_code == 201, first.content
    late = problem_of(ship.post(f"{path}/values/{key}", {"value": "5.5", "seen": seen}))
    assert late["sentences"]
    counter = ship.post(f"{path}/values/{key}", {"value": "5.5", "seen": first.json()["row"]}).json()["row"]
    own = problem_of(ship.post(f"{path}/proposals/{counter}/accept"))
    assert own["status"] == 403
    assert shore.post(f"{path}/proposals/{counter}/accept").status_code == 201
    agreed = next(one for one in shore.get(path).json()["values"] if one["key"] == key)
    assert (agreed["agreed"]["side"], agreed["open"]) == ("ship", None)
    assert float(agreed["agreed"]["value"]) == 5.5
    assert "by token" in TrailRow.objects.filter(act="value accepted").latest("position").person


def test_an_item_is_answered_for_ones_own_side(path: str, program_of: ProgramOf, ship_officer: Person) -> None:
    ship = program_of(ship_officer)
    items = ship.get(path).json()["checklist"]
    shore_only = next(item for item in items if item["answered_by"] == ["terminal"])
    assert problem_of(ship.post(f"{path}/checklist/{shore_only['key']}", {"answer": "yes"}))["status"] == 403
    own = next(item for item in items if "ship" in item["answered_by"])
    without = problem_of(ship.post(f"{path}/checklist/{own['key']}", {"answer": "no"}))
    assert "needs a remark" in without["detail"]
    assert ship.post(f"{path}/checklist/{own['key']}", {"answer": "no", "remark": "Not yet rigged"}).status_code == 201
    again = problem_of(ship.post(f"{path}/checklist/{own['key']}", {"answer": "no", "remark": "Still not"}))
    assert "Meanwhile" in again["detail"]


@pytest.mark.parametrize(
    ("key", "value", "sentence"),
    [
        ("manifold_pressure_bar_gauge", "a lot", "is not a number"),
        ("manifold_pressure_bar_gauge", "NaN", ""),
        ("manifold_pressure_bar_gauge", "1e9", "allowed"),
        ("no_such_value", "1", "no_such_value"),
    ],
)
def test_a_value_that_can_not_be_is_a_sentence(
    key: str, value: str, sentence: str, path: str, program_of: ProgramOf, ship_officer: Person
) -> None:
    told = problem_of(program_of(ship_officer).post(f"{path}/values/{key}", {"value": value}))
    assert told["status"] == 422
    assert sentence in told["detail"]


def test_settling_tells_every_reason_against_it_and_withdrawing_needs_one(
    path: str, program_of: ProgramOf, ship_officer: Person, ship_reader: Person
) -> None:
    ship = program_of(ship_officer)
    assert problem_of(ship.post(f"{path}/settle"))["status"] == 422
    assert problem_of(ship.post(f"{path}/withdraw", {"reason": ""}))["status"] == 422
    assert problem_of(program_of(ship_reader).post(f"{path}/withdraw", {"reason": "Fixed elsewhere"}))["status"] == 403
    assert ship.post(f"{path}/withdraw", {"reason": "Fixed elsewhere"}).status_code == 201
    assert ship.get(path).json()["state"] == "withdrawn"


def test_a_token_that_only_reads_changes_nothing(path: str, program_of: ProgramOf, ship_officer: Person) -> None:
    program = program_of(ship_officer, Scope.READ)
    assert problem_of(program.post(f"{path}/withdraw", {"reason": "No"}))["status"] == 403
    assert program.get(path).json()["state"] == "on the table"
