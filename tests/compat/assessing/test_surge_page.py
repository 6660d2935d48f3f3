"""The page of surge and start-up: who sees it, what it says, what it keeps to the terminal."""

from __future__ import annotations

import re
from datetime import datetime
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from compat.assessing import surge_views
from compat.assessing.actions import make_assessment
from compat.assessing.models import Assessment
from compat.case.case_file import AgreedFacts
from shared.cargo_facts import CargoFacts
from shared.models import Person
from tests.builders import berth_facts, make_berth, make_vessel
from tests.compat.assessing.conftest import ClientOf, make_setting
from tests.compat.surges import short_case

LOCAL_RULES = "where they are stricter than these figures, they win"


def surge_assessment(ship: Person, terminal: Person, now: datetime, *, shared: bool, **agreed: Any) -> Assessment:
    """Return an assessment with everything that surge needs; a line that is kept has names that must not leak."""
    case = short_case()
    line, names = case["berth"]["shore_line"], {}
    if not shared:
        names = {run["name"]: f"Hidden run {number}" for number, run in enumerate(line)}
        line = [{**run, "name": names[run["name"]]} for run in line]
    surge = case["berth"]["surge"]
    walls = [{**wall, "run": names.get(wall["run"], wall["run"])} for wall in surge["walls"]]
    assert ship.organisation is not None
    assert terminal.organisation is not None
    return make_assessment(
        by=ship,
        now=now,
        vessel=make_vessel(ship.organisation, ship, surge=case["ship"]["surge"]),
        berth=make_berth(
            terminal.organisation,
            terminal,
            line_data_shared=shared,
            shore_line=line,
            arms=case["berth"]["arms"],
            surge={**surge, "walls": walls},
        ),
        setting=make_setting(
            cargo=CargoFacts.model_validate(case["cargo"]),
            agreed=AgreedFacts(manifold_pressure_bar_gauge=8.0, **agreed),
        ),
    )


@pytest.fixture
def known(ship_officer: Person, terminal_officer: Person, now: datetime) -> Assessment:
    return surge_assessment(ship_officer, terminal_officer, now, shared=True)


@pytest.fixture
def kept(ship_officer: Person, terminal_officer: Person, now: datetime) -> Assessment:
    return surge_assessment(ship_officer, terminal_officer, now, shared=False)


def page_of(client: Client, row: Assessment, name: str = "assessment-surge", *more: str, **sent: str) -> Any:
    return client.get(reverse(name, args=[row.public_id, *more]), sent)


@pytest.mark.parametrize(
    ("name", "more"),
    [
        ("assessment-surge", ()),
        ("assessment-surge-closing", ("shore-valve",)),
        ("assessment-surge-envelope", ()),
        ("assessment-surge-pressures", ()),
    ],
)
def test_a_stranger_learns_nothing(
    client_of: ClientOf, stranger: Person, assessment: Assessment, name: str, more: tuple[str, ...]
) -> None:
    assert page_of(client_of(stranger), assessment, name, *more).status_code == 404


def test_what_is_missing_is_asked(client_of: ClientOf, ship_reader: Person, assessment: Assessment) -> None:
    answer = page_of(client_of(ship_reader), assessment)
    assert answer.status_code == 200
    text = answer.content.decode()
    assert "Surge is not decided: what it needs is not stated." in text
    assert "ask the terminal; or state the wave speed in it" in text
    assert LOCAL_RULES in text
    run = berth_facts()["shore_line"][0]["name"]
    assert f"restraint of {run} are not stated" in text


def test_an_event_has_figures_and_pictures(client_of: ClientOf, ship_reader: Person, known: Assessment) -> None:
    client = client_of(ship_reader)
    answer = page_of(client, known, event="start")
    text = answer.content.decode()
    assert "Start while the shore valve is shut" in text
    assert "Check by hand, for the whole line: Joukowsky" in text
    assert LOCAL_RULES in text
    for address in (answer.context["envelope_address"], answer.context["pressures_address"]):
        picture = client.get(address)
        assert picture.status_code == 200
        assert picture["Content-Type"] == "image/svg+xml"
        assert b"start of" in picture.content or b"greatest head" in picture.content


def test_boiling_is_said_on_the_page(client_of: ClientOf, ship_officer: Person, known: Assessment) -> None:
    text = page_of(client_of(ship_officer), known, event="trip").content.decode()
    assert "Vapour pressure is reached after" in text
    assert "ask for a specialist surge study" in text


def test_a_closing_time_is_tried_without_being_stored(
    client_of: ClientOf, ship_officer: Person, known: Assessment
) -> None:
    before = known.case
    answer = page_of(client_of(ship_officer), known, event="shore-valve", closing_time="55")
    assert answer.context["event"].closing_time_s == 55.0
    known.refresh_from_db()
    assert known.case == before


@pytest.mark.parametrize("typed", ["0", "-4", "700", "soon"])
def test_a_bad_closing_time_is_refused_and_stays(
    client_of: ClientOf, ship_officer: Person, known: Assessment, typed: str
) -> None:
    text = page_of(client_of(ship_officer), known, event="start", closing_time=typed).content.decode()
    assert "allowed: 0.1 to 600 s" in text
    assert f'value="{typed}"' in text


def test_the_search_tells_time_and_rate(client_of: ClientOf, ship_officer: Person, known: Assessment) -> None:
    client = client_of(ship_officer)
    address = reverse("assessment-surge-closing", args=[known.public_id, "shore-valve"])
    whole = client.get(address, {"event": "start"}).content.decode()
    assert "Shortest closing time within the ratings at" in whole
    assert "Highest rate for 20 s: <b>" in whole
    assert LOCAL_RULES in whole
    assert client.get(reverse("assessment-surge-closing", args=[known.public_id, "no-valve"])).status_code == 404


def test_a_kept_line_does_not_leak(client_of: ClientOf, ship_officer: Person, kept: Assessment) -> None:
    client = client_of(ship_officer)
    answer = page_of(client, kept, event="shore-valve")
    text = answer.content.decode()
    assert "Shore valve shuts in 20 s" in text
    assert "Hidden run" not in text
    assert answer.context["runs"] == ()
    assert "Safe closing times" in text
    for name in ("assessment-surge-envelope", "assessment-surge-pressures"):
        assert page_of(client, kept, name, event="shore-valve").status_code == 403


def test_a_script_is_told_how_far_the_search_is(
    client_of: ClientOf, ship_officer: Person, known: Assessment, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(surge_views, "_SLICE_S", -1.0)  # a pause after each question
    client = client_of(ship_officer)
    address = reverse("assessment-surge-closing", args=[known.public_id, "shore-valve"]) + "?event=start"
    asked, parts = address, []
    for _ in range(80):
        part = client.get(asked, headers={"HX-Request": "true"}).text
        assert "<html" not in part
        told = re.search(r'<progress value="([0-9.]+)" max="1"', part)
        if told is None:
            break
        parts.append(float(told[1]))
        found = re.search(r'hx-get="([^"]+)" hx-trigger="load"', part)
        assert found is not None
        asked = unescape(found[1])
        assert len(asked) < 4000
    assert "Shortest closing time within the ratings at" in part
    assert "Highest rate for 20 s: <b>" in part
    assert len(parts) > 5
    assert parts == sorted(parts)
    whole = client.get(address).text
    assert all(line in whole for line in re.findall(r"<p>Shortest closing time.*?</b>", part))


def test_what_a_search_hands_back_can_not_be_made_up(
    client_of: ClientOf, ship_officer: Person, known: Assessment, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(surge_views, "_SLICE_S", -1.0)
    client = client_of(ship_officer)
    address = reverse("assessment-surge-closing", args=[known.public_id, "shore-valve"]) + "?event=start"
    forged = client.get(address + "&found=made-up:by:somebody", headers={"HX-Request": "true"}).text
    assert forged.count('max="1"') == 1
    assert "about 6 % done" in forged or "about 5 % done" in forged
