"""Every page about ships as each of the cast: strangers do not learn that a ship exists, readers only read."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from shared.models import Person, TrailRow
from tests.builders import make_vessel
from vessels.models import Vessel

ClientOf = Callable[[Person | None], Client]
READ = ["vessel", "vessel-history", "vessel-revision", "vessel-facts-file", "vessel-pump-picture"]
CHANGE = [
    "vessel-particulars",
    "vessel-common-line",
    "vessel-pump-add",
    "vessel-pump",
    "vessel-pump-take-off",
    "vessel-archive",
    "vessel-upload",
]
POST_ONLY = ["vessel-restore", "vessel-revision-again"]
WITH_NUMBER = {"vessel-revision", "vessel-facts-file", "vessel-pump-picture", "vessel-revision-again"}
WITH_KEY = {"vessel-pump", "vessel-pump-take-off", "vessel-pump-picture"}


@pytest.fixture
def vessel(ship_officer: Person) -> Vessel:
    assert ship_officer.organisation is not None
    return make_vessel(ship_officer.organisation, ship_officer)


def address(page: str, vessel: Vessel) -> str:
    """Return the address of a page about the ship."""
    given: list[object] = [vessel.public_id]
    if page in WITH_NUMBER:
        given.append(1)
    if page in WITH_KEY:
        given.append("P1")
    return reverse(page, args=given)


@pytest.mark.parametrize("page", READ + CHANGE)
@pytest.mark.parametrize("who", ["stranger", "terminal_officer", "auditor", "installation_admin"])
def test_others_do_not_learn_that_a_ship_exists(
    page: str, who: str, vessel: Vessel, client_of: ClientOf, request: pytest.FixtureRequest
) -> None:
    client = client_of(request.getfixturevalue(who))
    assert client.get(address(page, vessel)).status_code == 404
    assert client.post(address(page, vessel)).status_code in {404, 405}


@pytest.mark.parametrize("page", POST_ONLY)
@pytest.mark.parametrize("who", ["stranger", "terminal_officer", "auditor"])
def test_others_can_not_post_to_a_ship(
    page: str, who: str, vessel: Vessel, client_of: ClientOf, request: pytest.FixtureRequest
) -> None:
    assert client_of(request.getfixturevalue(who)).post(address(page, vessel)).status_code == 404


@pytest.mark.parametrize("page", READ)
@pytest.mark.parametrize("who", ["ship_reader", "ship_officer", "ship_admin"])
def test_her_own_people_read(
    page: str, who: str, vessel: Vessel, client_of: ClientOf, request: pytest.FixtureRequest
) -> None:
    assert client_of(request.getfixturevalue(who)).get(address(page, vessel)).status_code == 200


@pytest.mark.parametrize("page", CHANGE)
@pytest.mark.parametrize(("who", "status"), [("ship_reader", 403), ("ship_officer", 200), ("ship_admin", 200)])
def test_only_officers_reach_a_page_that_changes_her(
    page: str, who: str, status: int, vessel: Vessel, client_of: ClientOf, request: pytest.FixtureRequest
) -> None:
    answer = client_of(request.getfixturevalue(who)).get(address(page, vessel))
    assert answer.status_code == status
    assert ("Only an administrator or officer of Halvard Tankers may do this." in answer.text) is (status == 403)


@pytest.mark.parametrize("page", CHANGE + POST_ONLY)
def test_a_readers_post_changes_nothing(page: str, vessel: Vessel, ship_reader: Person, client_of: ClientOf) -> None:
    assert client_of(ship_reader).post(address(page, vessel)).status_code == 403
    vessel.refresh_from_db()
    assert (vessel.archived, vessel.revisions.count(), TrailRow.objects.count()) == (False, 1, 0)


@pytest.mark.parametrize("page", READ + CHANGE)
def test_nobody_reads_without_signing_in(page: str, vessel: Vessel, client_of: ClientOf) -> None:
    answer = client_of(None).get(address(page, vessel))
    assert (answer.status_code, answer["Location"].split("?")[0]) == (302, reverse("sign-in"))


@pytest.mark.parametrize("page", ["vessel-add", "vessel-add-file"])
@pytest.mark.parametrize(
    ("who", "status"),
    [("ship_officer", 200), ("ship_admin", 200), ("ship_reader", 403), ("terminal_officer", 403), ("auditor", 403)],
)
def test_who_may_add_ships(
    page: str, who: str, status: int, client_of: ClientOf, request: pytest.FixtureRequest
) -> None:
    client = client_of(request.getfixturevalue(who))
    assert client.get(reverse(page)).status_code == status
    if status == 403:
        assert client.post(reverse(page)).status_code == 403


@pytest.mark.parametrize("page", ["vessel", "vessel-history", "vessel-particulars", "vessel-archive"])
def test_every_page_says_that_the_stricter_rule_wins(
    page: str, vessel: Vessel, ship_officer: Person, client_of: ClientOf
) -> None:
    answer = client_of(ship_officer).get(address(page, vessel))
    assert "Follow local regulations and the terminal's own procedures" in answer.text.replace("&#x27;", "'")


def test_a_ship_shows_what_is_stated_in_the_readers_units(
    vessel: Vessel, ship_reader: Person, client_of: ClientOf
) -> None:
    ship_reader.units = {"pressure": "psi", "flow": "bbl/h", "length": "ft"}
    ship_reader.save()
    text = client_of(ship_reader).get(address("vessel", vessel)).text.replace("\xa0", " ")
    # 16 bar is 232.06 psi and 1500 m³/h is 9434.7 bbl/h (NIST SP 811 factors, from memory)
    assert "232.1 psi" in text
    assert "9,435 bbl/h" in text
    assert "not known" in text  # inert gas delivery is not stated


def test_the_list_holds_only_ones_own_ships(
    vessel: Vessel, stranger: Person, ship_reader: Person, client_of: ClientOf
) -> None:
    assert stranger.organisation is not None
    make_vessel(stranger.organisation, stranger, name="Corvane Dawn", imo_number=None)
    text = client_of(ship_reader).get(reverse("vessel-list")).text
    assert "Astrid Halvard" in text
    assert "Corvane Dawn" not in text
    assert "Add a ship" not in text


@pytest.mark.parametrize(("search", "found"), [("astrid", True), ("9074", True), ("halvard 907", True), ("zzz", False)])
def test_ships_are_searched_by_name_and_number(
    search: str, found: bool, vessel: Vessel, ship_reader: Person, client_of: ClientOf
) -> None:
    text = client_of(ship_reader).get(reverse("vessel-list"), {"search": search}).text
    assert ("9074729" in text) is found
    assert ("No ship has these words" in text) is not found


def test_ships_are_sorted_and_cut_into_pages(ship_officer: Person, client_of: ClientOf) -> None:
    assert ship_officer.organisation is not None
    for number in range(30):
        make_vessel(ship_officer.organisation, ship_officer, name=f"Ship {number:02}", imo_number=None)
    client = client_of(ship_officer)
    first = client.get(reverse("vessel-list"), {"sort": "-name"}).text
    assert first.index("Ship 29") < first.index("Ship 28")
    assert "Ship 04" not in first
    assert "Page 1 of 2" in first
    assert "Ship 04" in client.get(reverse("vessel-list"), {"sort": "-name", "page": 2}).text


@pytest.mark.parametrize(
    ("who", "told"),
    [("ship_officer", "Add the first one by form"), ("terminal_officer", "officer of a ship operator adds ships")],
)
def test_an_empty_list_says_what_to_do(
    who: str, told: str, client_of: ClientOf, request: pytest.FixtureRequest
) -> None:
    assert told in client_of(request.getfixturevalue(who)).get(reverse("vessel-list")).text


def test_archiving_asks_first_and_restoring_undoes_it(
    vessel: Vessel, ship_officer: Person, client_of: ClientOf
) -> None:
    client = client_of(ship_officer)
    assert "can be restored" in client.get(address("vessel-archive", vessel)).text
    vessel.refresh_from_db()
    assert not vessel.archived
    client.post(address("vessel-archive", vessel))
    assert "9074729" not in client.get(reverse("vessel-list")).text
    assert "9074729" in client.get(reverse("vessel-archived-list")).text
    page = client.get(address("vessel", vessel)).text
    assert "She is archived" in page
    assert reverse("vessel-particulars", args=[vessel.public_id]) not in page
    client.post(address("vessel-restore", vessel))
    assert "9074729" in client.get(reverse("vessel-list")).text


@pytest.mark.parametrize("page", ["vessel-pump", "vessel-pump-take-off", "vessel-pump-picture"])
def test_a_pump_that_she_does_not_have_is_not_found(
    page: str, vessel: Vessel, ship_officer: Person, client_of: ClientOf
) -> None:
    wrong = address(page, vessel).replace("P1", "P9")
    assert client_of(ship_officer).get(wrong).status_code == 404


def test_a_revision_that_she_does_not_have_is_not_found(
    vessel: Vessel, ship_officer: Person, client_of: ClientOf
) -> None:
    assert client_of(ship_officer).get(reverse("vessel-revision", args=[vessel.public_id, 2])).status_code == 404


def test_the_picture_is_drawn_once_for_each_reader(vessel: Vessel, ship_reader: Person, client_of: ClientOf) -> None:
    client = client_of(ship_reader)
    first = client.get(address("vessel-pump-picture", vessel))
    assert first["Content-Type"] == "image/svg+xml"
    again = client.get(address("vessel-pump-picture", vessel), headers={"If-None-Match": first["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
    ship_reader.units = {"flow": "bbl/h"}
    ship_reader.save()
    other = client.get(address("vessel-pump-picture", vessel), headers={"If-None-Match": first["ETag"]})
    assert other.status_code == 200
    assert "bbl/h" in other.text
