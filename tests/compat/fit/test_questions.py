"""What is asked where a row of a list lacks something: what exactly, and of whom."""

from __future__ import annotations

from typing import Any

import pytest

from compat.fit.answer import fit_of
from tests.compat.fit.building import berth_document, fit_case, ship_document, visit_document
from tests.compat.fit.test_edges import row_of


def asks(key: str, **documents: Any) -> tuple[str, ...]:
    row = row_of(fit_of(fit_case(documents)), key)
    assert row.state == "not decided"
    return row.asks


def test_a_certificate_that_the_ship_does_not_state_is_asked_of_her_by_name() -> None:
    ship, berth = ship_document(), berth_document()
    held = ship["berthing"]["certificates"][0]["certificate"]
    other = "crane test" if held != "crane test" else "load line"
    berth["berthing"]["certificates"] = [{"certificate": held}, {"certificate": other}]
    ship["berthing"]["certificates"] = ship["berthing"]["certificates"][:1]
    assert asks("certificates", ship=ship, berth=berth) == (
        f"Ask the ship: the day to which her certificate “{other}” is valid.",
    )
    del ship["berthing"]["certificates"]
    assert asks("certificates", ship=ship, berth=berth) == ("Ask the ship: certificates.",)


@pytest.mark.parametrize(
    ("check", "field", "what"),
    [("line-strength", "breaking_load_kn", "breaking load"), ("line-materials", "material", "material")],
)
def test_a_line_without_its_figures_is_asked_for_by_its_place(check: str, field: str, what: str) -> None:
    ship = ship_document()
    line = ship["berthing"]["moorings"][0]
    line.pop(field)
    assert asks(check, ship=ship) == (f"Ask the ship: {what} of the lines at the {line['place']}.",)


def test_an_age_asks_for_the_day_of_the_visit_where_the_ship_states_her_year() -> None:
    visit = visit_document()
    del visit["arrives_on"]
    assert asks("own-rule-1", visit=visit) == ("State for this visit: arrives on.",)
    ship = ship_document()
    del ship["particulars"]["year_built"]
    assert asks("own-rule-1", ship=ship)[0].endswith("needs the age: state it, or ask the ship.")
    assert asks("own-rule-1", ship=ship, visit=visit)[0].endswith("needs the age: state it, or ask the ship.")


def test_hooks_are_asked_for_where_she_has_lines() -> None:
    berth = berth_document()
    gone = berth["berthing"]["hooks"].pop(0)["place"]
    berth["berthing"]["hooks"][0].pop("rating_kn")
    unrated = berth["berthing"]["hooks"][0]["place"]
    assert asks("hooks", berth=berth) == (f"Ask the terminal: hooks for the {gone}, with their rating.",)
    assert asks("hook-strength", berth=berth) == (
        f"Ask the terminal: hooks for the {gone}, with their rating.",
        f"Ask the terminal: rating of the hooks for the {unrated}.",
    )
    berth["berthing"]["hooks"] = []
    assert asks("hooks", berth=berth) == ("Ask the terminal: mooring hooks.",)
