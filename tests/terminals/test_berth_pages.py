"""Every page about terminals and berths as each of the cast, and what other organisations are told."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from shared.models import Person, TrailRow
from terminals.models import Berth, Terminal
from tests.builders import make_berth
from tests.pages import sent_by

ClientOf = Callable[[Person | None], Client]
READ = ["berth"]
LINE_DATA = ["berth-facts-file", "berth-line-picture"]
OWN = ["berth-history", "berth-revision"]
CHANGE = ["berth-name", "berth-arms", "berth-line", "berth-sharing", "berth-archive", "berth-upload"]
CHANGE_TERMINAL = ["terminal-change", "berth-add", "berth-add-file"]
POST_ONLY = ["berth-restore", "berth-revision-again"]
WITH_NUMBER = {"berth-revision", "berth-facts-file", "berth-line-picture", "berth-revision-again"}
OTHERS = ["ship_reader", "ship_officer", "stranger", "auditor", "other_terminal_officer"]
# Words of the line data that the builders state, and that only those who see the line may read.
KEPT = ["Jetty line", "Arm 10 in", "Tank 12", "254.5", "As-built drawings", "4,000"]


@pytest.fixture
def berth(terminal_officer: Person) -> Berth:
    assert terminal_officer.organisation is not None
    return make_berth(terminal_officer.organisation, terminal_officer, line_data_shared=False)


def address(page: str, berth: Berth) -> str:
    """Return the address of a page about the berth or its terminal."""
    if page == "terminal" or page in CHANGE_TERMINAL:
        return reverse(page, args=[berth.terminal.public_id])
    return reverse(page, args=[berth.public_id, *([1] if page in WITH_NUMBER else [])])


@pytest.mark.parametrize("who", OTHERS)
def test_others_see_name_port_and_size_but_not_a_line_that_is_kept(
    who: str, berth: Berth, client_of: ClientOf, request: pytest.FixtureRequest
) -> None:
    client = client_of(request.getfixturevalue(who))
    text = client.get(address("berth", berth)).text.replace("\xa0", " ")
    assert "Outer berth" in text
    assert "Port Merrow" in text
    assert "13.50 m" in text
    assert "The terminal keeps arms, shore line and limits" in text
    assert [word for word in KEPT if word in text] == []
    for page in LINE_DATA + OWN:
        assert client.get(address(page, berth)).status_code == 404


@pytest.mark.parametrize("who", OTHERS)
def test_others_see_a_line_that_is_shared_but_not_its_history(
    who: str, berth: Berth, client_of: ClientOf, request: pytest.FixtureRequest
) -> None:
    Berth.objects.filter(pk=berth.pk).update(line_data_shared=True)
    client = client_of(request.getfixturevalue(who))
    text = client.get(address("berth", berth)).text
    assert [word for word in KEPT if word not in text] == []
    assert "Tomas Reyes" not in text
    for page in LINE_DATA:
        assert client.get(address(page, berth)).status_code == 200
    for page in OWN:
        assert client.get(address(page, berth)).status_code == 404


def test_others_see_the_newest_line_only(
    berth: Berth, ship_officer: Person, terminal_officer: Person, client_of: ClientOf
) -> None:
    Berth.objects.filter(pk=berth.pk).update(line_data_shared=True)
    first = berth.revisions.get()
    berth.revisions.create(number=2, facts=first.facts, made_by=terminal_officer, made_at=first.made_at)
    assert client_of(ship_officer).get(address("berth-facts-file", berth)).status_code == 404
    assert client_of(terminal_officer).get(address("berth-facts-file", berth)).status_code == 200


@pytest.mark.parametrize("page", READ + LINE_DATA + OWN + ["terminal"])
@pytest.mark.parametrize("who", ["terminal_reader", "terminal_officer", "terminal_admin"])
def test_its_own_people_read_everything(
    page: str, who: str, berth: Berth, client_of: ClientOf, request: pytest.FixtureRequest
) -> None:
    assert client_of(request.getfixturevalue(who)).get(address(page, berth)).status_code == 200


@pytest.mark.parametrize("page", CHANGE + CHANGE_TERMINAL)
@pytest.mark.parametrize(
    ("who", "status"),
    [
        ("terminal_officer", 200),
        ("terminal_admin", 200),
        ("terminal_reader", 403),
        ("other_terminal_officer", 403),
        ("ship_officer", 403),
        ("auditor", 403),
        ("installation_admin", 404),
    ],
)
def test_only_its_officers_reach_a_page_that_changes_it(
    page: str, who: str, status: int, berth: Berth, client_of: ClientOf, request: pytest.FixtureRequest
) -> None:
    client = client_of(request.getfixturevalue(who))
    assert client.get(address(page, berth)).status_code == status
    if status != 200:
        assert client.post(address(page, berth)).status_code == status
        berth.refresh_from_db()
        assert (berth.archived, berth.line_data_shared, berth.revisions.count()) == (False, False, 1)
        assert not TrailRow.objects.exists()


@pytest.mark.parametrize("page", POST_ONLY)
@pytest.mark.parametrize("who", ["terminal_reader", "other_terminal_officer", "ship_officer"])
def test_others_can_not_post(
    page: str, who: str, berth: Berth, client_of: ClientOf, request: pytest.FixtureRequest
) -> None:
    assert client_of(request.getfixturevalue(who)).post(address(page, berth)).status_code == 403


@pytest.mark.parametrize("page", READ + LINE_DATA + OWN + CHANGE + CHANGE_TERMINAL)
def test_nobody_reads_without_signing_in(page: str, berth: Berth, client_of: ClientOf) -> None:
    answer = client_of(None).get(address(page, berth))
    assert (answer.status_code, answer["Location"].split("?")[0]) == (302, reverse("sign-in"))


@pytest.mark.parametrize(
    ("who", "status"), [("terminal_officer", 200), ("terminal_reader", 403), ("ship_officer", 403), ("auditor", 403)]
)
def test_who_may_add_terminals(who: str, status: int, client_of: ClientOf, request: pytest.FixtureRequest) -> None:
    client = client_of(request.getfixturevalue(who))
    assert client.get(reverse("terminal-add")).status_code == status
    assert client.post(reverse("terminal-add"), {}).status_code == status


@pytest.mark.parametrize("who", [*OTHERS, "terminal_reader"])
def test_every_organisation_lists_every_berth(
    who: str, berth: Berth, client_of: ClientOf, request: pytest.FixtureRequest
) -> None:
    text = client_of(request.getfixturevalue(who)).get(reverse("berth-list")).text
    assert "Outer berth" in text
    assert "answers only" in text


@pytest.mark.parametrize("size", [{}, {"greatest_beam_m": 32.0}])
def test_a_berth_of_unknown_size_is_listed_as_such(
    size: dict[str, float], terminal_officer: Person, client_of: ClientOf
) -> None:
    assert terminal_officer.organisation is not None
    berth = make_berth(terminal_officer.organisation, terminal_officer, size=size)
    Terminal.objects.filter(pk=berth.terminal_id).update(zone="UTC+01:00")
    for address_of_list in (reverse("berth-list"), reverse("terminal", args=[berth.terminal.public_id])):
        assert client_of(terminal_officer).get(address_of_list).text.count("not known") == 3


def test_a_person_of_no_organisation_lists_none(berth: Berth, installation_admin: Person, client_of: ClientOf) -> None:
    assert "Outer berth" not in client_of(installation_admin).get(reverse("berth-list")).text


def test_an_operator_may_list_only_its_own(berth: Berth, other_terminal_officer: Person, client_of: ClientOf) -> None:
    client = client_of(other_terminal_officer)
    assert other_terminal_officer.organisation is not None
    make_berth(other_terminal_officer.organisation, other_terminal_officer, name="Mole", terminal="Breakwater")
    assert "Outer berth" in client.get(reverse("berth-list")).text
    own = client.get(reverse("berth-list"), {"whose": "own"}).text
    assert "Mole" in own
    assert "Outer berth" not in own


@pytest.mark.parametrize(("search", "found"), [("outer", True), ("sandvik merrow", True), ("elsewhere", False)])
def test_berths_are_searched_by_name_terminal_and_port(
    search: str, found: bool, berth: Berth, ship_reader: Person, client_of: ClientOf
) -> None:
    text = client_of(ship_reader).get(reverse("berth-list"), {"search": search}).text
    assert ("Outer berth" in text) is found


def test_an_archived_berth_is_gone_for_others_and_kept_for_its_own(
    berth: Berth, ship_reader: Person, terminal_officer: Person, client_of: ClientOf
) -> None:
    own, other = client_of(terminal_officer), client_of(ship_reader)
    assert "it can be restored" in own.get(address("berth-archive", berth)).text
    own.post(address("berth-archive", berth))
    assert other.get(address("berth", berth)).status_code == 404
    assert "Outer berth" not in other.get(reverse("berth-archived-list")).text
    assert "Outer berth" in own.get(reverse("berth-archived-list")).text
    own.post(address("berth-restore", berth))
    assert other.get(address("berth", berth)).status_code == 200


def test_the_sharing_page_says_what_each_choice_means(
    berth: Berth, terminal_officer: Person, client_of: ClientOf
) -> None:
    client = client_of(terminal_officer)
    page = client.get(address("berth-sharing", berth)).text
    assert "ship operators see only the answers worked out from them" in page
    assert "every organisation sees arms, shore line and limits" in page
    assert sent_by(client.get(address("berth-sharing", berth)), "panel") == [("shared", "no")]
    client.post(address("berth-sharing", berth), {"shared": "yes"})
    berth.refresh_from_db()
    assert berth.line_data_shared


def test_the_profile_is_drawn_in_the_readers_units(berth: Berth, terminal_reader: Person, client_of: ClientOf) -> None:
    terminal_reader.units = {"length": "ft", "pressure": "psi"}
    terminal_reader.save()
    answer = client_of(terminal_reader).get(address("berth-line-picture", berth))
    assert answer["Content-Type"] == "image/svg+xml"
    assert "Elevation [ft]" in answer.text
    assert "rated 232.1 psi" in answer.text  # 16 bar
