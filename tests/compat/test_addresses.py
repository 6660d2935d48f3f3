"""Every address of the site, asked for by a guest, an auditor and a stranger: what they don't know, they don't see."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from compat.accord import actions
from compat.accord.models import Accord
from compat.accord.states import State
from compat.assessing.actions import make_assessment
from shared.models import Person, TrailRow
from tests.addresses import every_address
from tests.builders import NOW
from tests.compat.accord.building import bring_to, open_accord
from tests.compat.accord.test_guests import let_in
from tests.compat.assessing.conftest import make_setting

ClientOf = Callable[[Person | None], Client]
# What stands on nothing that a guest, an auditor or a stranger was let into.
HIDDEN = ("Zephyr Maid", "Quietwater berth", "Dunmore Oils")
OWN = "Astrid Halvard"
NOT_ASKED = {"sign-out"}  # it ends the session that asks


@dataclass(frozen=True)
class World:
    """One accord that somebody was let into, and everything around it that they were not."""

    accord: Accord
    kept: tuple[Any, ...]
    berths: tuple[Any, ...]


@pytest.fixture
def world(ship_officer: Person, terminal_officer: Person) -> World:
    accord = open_accord(ship_officer, terminal_officer)
    hidden = bring_to(
        State.IN_FORCE, ship_officer, terminal_officer, ship_name="Zephyr Maid", berth_name="Quietwater berth"
    )
    vessel, berth = hidden.vessel_revision.vessel, hidden.berth_revision.berth
    setting = make_setting(title="Dunmore Oils")
    assessment = make_assessment(by=ship_officer, now=NOW, vessel=vessel, berth=berth, setting=setting)
    return World(
        accord,
        kept=(hidden.public_id, vessel.public_id, assessment.public_id),
        berths=(berth.public_id, berth.terminal.public_id),
    )


def _people(world: World, request: pytest.FixtureRequest) -> dict[str, Person]:
    """Return everyone who knows of one accord at most."""
    ship, terminal = request.getfixturevalue("ship_officer"), request.getfixturevalue("terminal_officer")
    auditor, stranger = request.getfixturevalue("auditor"), request.getfixturevalue("stranger")
    actions.grant_audit(by=ship, now=NOW, accord=world.accord, organisation=auditor.organisation)
    return {
        "guest of the ship": let_in(world.accord, ship, "astrid", may_sign=True),
        "guest of the terminal": let_in(world.accord, terminal, "nils", may_sign=True),
        "auditor": auditor,
        "stranger": stranger,
    }


def _text(answer: Any) -> str:
    return b"".join(answer.streaming_content).decode() if answer.streaming else answer.text


@pytest.mark.slow
@pytest.mark.parametrize("who", ["guest of the ship", "guest of the terminal", "auditor", "stranger"])
def test_nothing_but_what_one_was_let_into(
    who: str, world: World, client_of: ClientOf, request: pytest.FixtureRequest
) -> None:
    """Ask for every page with everything that is hidden, and post to it, and look for it on every page."""
    person = _people(world, request)[who]
    client = client_of(person)
    is_guest = who.startswith("guest")
    # Every organisation knows which berths there are; a guest does not.
    uuids = [*world.kept, *(world.berths if is_guest else ())]
    hidden = HIDDEN if is_guest else tuple(word for word in HIDDEN if "berth" not in word)
    words = ["manifold_pressure_bar_gauge", "signs.shown", "ship-officer", "terminal-officer"]
    last = TrailRow.objects.count()
    wrong, asked = [], 0
    for address in every_address(uuids=uuids, words=words):
        if address.name in NOT_ASKED:
            continue
        for method in (client.get, client.post):
            answer = method(address.path)
            asked += 1
            leaks = [word for word in hidden if word in _text(answer)]
            named = any(argument in uuids for argument in address.arguments)
            if leaks or answer.status_code >= 500 or (named and answer.status_code not in {401, 403, 404, 405}):
                wrong.append((method.__name__, address.path, answer.status_code, leaks))
    assert not wrong, wrong
    assert asked > 200
    others = TrailRow.objects.filter(position__gt=last).exclude(subject=person.subject)
    assert not [str(row) for row in others.exclude(subject=world.accord.subject)]


def test_the_words_looked_for_are_there_for_those_who_may_see_them(
    world: World, ship_officer: Person, client_of: ClientOf
) -> None:
    client = client_of(ship_officer)
    pages = [reverse(page) for page in ("vessel-list", "berth-list", "assessment-list", "accord-list")]
    text = "".join(client.get(page).text for page in pages)
    assert all(word in text for word in HIDDEN)


def test_a_guest_finds_their_accord_everywhere_it_leads(
    world: World, ship_officer: Person, client_of: ClientOf
) -> None:
    client = client_of(let_in(world.accord, ship_officer, "astrid"))
    assert client.get(reverse("accord-diagram", args=[world.accord.public_id])).status_code == 404  # no value yet
    home = client.get(reverse("home")).text
    assert "Guest of Halvard Tankers" in home
    assert OWN in client.get(reverse("accord-list")).text
    assert "accord opened" in client.get(reverse("trail")).text.lower()
    for page in ("accord", "accord-checklist", "accord-arrange"):
        assert client.get(reverse(page, args=[world.accord.public_id])).status_code == 200
