"""The pages that take a questionnaire: preview first, all of it or nothing, and only by those who may."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from shared.calc.errors import InputError
from shared.held_files import HeldFile, hold
from shared.models import Person, TrailRow
from shared.permissions import NotAllowedError
from shared.sheet_files import xlsx_bytes
from shared.sheets.writing import tables_of
from terminals.actions import import_berths
from terminals.facts import BerthFacts
from terminals.models import Berth
from terminals.sheet_views import berth_layout
from tests.builders import NOW, make_berth, make_vessel
from tests.compat.fit.building import berth_document, changed, ship_document
from tests.shared.sheets.test_questionnaire import book
from vessels.actions import import_vessels, revise_vessel
from vessels.facts import ShipFacts
from vessels.models import Vessel
from vessels.sheet_views import ship_layout

pytestmark = pytest.mark.django_db
ClientOf = Callable[[Person | None], Client]


@pytest.fixture
def vessel(ship_officer: Person) -> Vessel:
    assert ship_officer.organisation is not None
    return make_vessel(ship_officer.organisation, ship_officer, **ship_document())


def send(browser: Client, data: bytes, address: str = "") -> Any:
    file = SimpleUploadedFile("fleet.xlsx", data)
    return browser.post(address or reverse("vessel-import"), {"file": file})


def confirm(browser: Client, preview: Any, address: str = "") -> Any:
    initial = preview.context["form"].initial
    return browser.post(address or reverse("vessel-import"), {**initial, "note": "By mail"}, follow=True)


def fleet(*documents: dict[str, Any]) -> bytes:
    return xlsx_bytes(tables_of(ship_layout(), [ShipFacts.model_validate(one) for one in documents]))


def test_a_file_shows_what_it_changes_and_saves_nothing_until_it_is_confirmed(
    client_of: ClientOf, ship_officer: Person, vessel: Vessel
) -> None:
    other = changed(changed(ship_document(), "name", "Birgit Halvard"), "imo_number", "9551973")
    browser = client_of(ship_officer)
    preview = send(browser, fleet(changed(ship_document(), "particulars.beam_m", 33.0), other))
    page = preview.content.decode()
    assert "Nothing is saved yet." in page
    assert "32.20\xa0m" in page
    assert "33.00\xa0m" in page
    assert Vessel.objects.count() == 1
    answer = confirm(browser, preview)
    assert "Saved from fleet.xlsx: 2 of 2" in answer.content.decode()
    assert vessel.revisions.first().facts["particulars"]["beam_m"] == 33.0
    assert vessel.revisions.first().note == "By mail"
    assert set(TrailRow.objects.values_list("act", flat=True)) == {"ship revised", "ship added"}
    assert not HeldFile.objects.exists()


def test_a_bad_cell_refuses_the_whole_file(client_of: ClientOf, ship_officer: Person, vessel: Vessel) -> None:
    data = book(Ships=[["IMO number", "Particulars: Beam [m]"], ["9074729", 33], ["9551974", 30]])
    page = send(client_of(ship_officer), data).content.decode()
    assert "Ships, row 3, column A (IMO number)" in page
    assert not HeldFile.objects.exists()
    assert vessel.revisions.count() == 1


def test_feet_for_metres_is_asked_about_in_the_preview(
    client_of: ClientOf, ship_officer: Person, vessel: Vessel
) -> None:
    data = book(Ships=[["IMO number", "Particulars: Length overall [m]"], ["9074729", 500]])
    page = send(client_of(ship_officer), data).content.decode()
    assert "Is it in feet?" in page
    assert "Save all 1" in page


def test_what_changed_between_preview_and_confirming_is_shown_again(
    client_of: ClientOf, ship_officer: Person, vessel: Vessel
) -> None:
    browser = client_of(ship_officer)
    preview = send(browser, fleet(changed(ship_document(), "particulars.beam_m", 33.0)))
    facts = vessel.revisions.first().ship_facts().model_copy(update={"source": "Docking"})
    revise_vessel(by=ship_officer, now=NOW, vessel=vessel, started_from=1, facts=facts)
    again = confirm(browser, preview)
    assert "Somebody saved meanwhile" in again.content.decode()
    assert vessel.revisions.count() == 2
    confirm(browser, again)
    assert vessel.revisions.count() == 3


def test_a_file_is_held_for_its_sender_and_for_a_day(
    client_of: ClientOf, ship_officer: Person, ship_admin: Person, vessel: Vessel, now: datetime
) -> None:
    preview = send(client_of(ship_officer), fleet(changed(ship_document(), "particulars.beam_m", 33.0)))
    assert "no longer here" in confirm(client_of(ship_admin), preview).content.decode()
    assert vessel.revisions.count() == 1
    HeldFile.objects.update(sent_at=NOW.replace(year=2020))
    hold(person=ship_admin, purpose="ships", name="x", data=b"x", now=now)
    assert HeldFile.objects.count() == 1


@pytest.mark.parametrize("who", ["ship_reader", "terminal_officer", "auditor"])
def test_others_take_no_ships_from_files(
    who: str, client_of: ClientOf, request: pytest.FixtureRequest, ship_officer: Person
) -> None:
    person = request.getfixturevalue(who)
    assert client_of(person).get(reverse("vessel-import")).status_code == 403
    with pytest.raises(NotAllowedError):
        import_vessels(by=person, now=NOW, ships=[(ShipFacts.model_validate(ship_document()), None)])
    assert not Vessel.objects.exists()


def test_an_import_is_all_or_nothing(ship_officer: Person, vessel: Vessel) -> None:
    facts = ShipFacts.model_validate(ship_document())
    better = facts.model_copy(update={"source": "New"})
    with pytest.raises(InputError, match="belongs to Astrid Halvard"):
        import_vessels(by=ship_officer, now=NOW, ships=[(better, facts), (facts, None)])
    assert vessel.revisions.count() == 1
    with pytest.raises(InputError, match="was revised meanwhile"):
        import_vessels(by=ship_officer, now=NOW, ships=[(better, better.model_copy(update={"source": "Other"}))])


@pytest.mark.parametrize("kind", ["xlsx", "csv"])
@pytest.mark.parametrize("filled", ["blank", "filled"])
def test_questionnaires_are_sent_blank_and_filled(
    kind: str, filled: str, client_of: ClientOf, ship_officer: Person, vessel: Vessel, stranger: Person
) -> None:
    answer = client_of(ship_officer).get(reverse("vessel-questionnaire", args=[filled, kind]))
    assert answer.status_code == 200
    if kind == "csv":
        assert ("9074729" in answer.content.decode()) == (filled == "filled")
        other = client_of(stranger).get(reverse("vessel-questionnaire", args=[filled, kind]))
        assert "9074729" not in other.content.decode()
    assert client_of(ship_officer).get(reverse("vessel-questionnaire", args=["other", kind])).status_code == 404


# Berths


@pytest.fixture
def berth(terminal_officer: Person) -> Berth:
    assert terminal_officer.organisation is not None
    return make_berth(terminal_officer.organisation, terminal_officer, **berth_document())


def test_berths_come_from_a_questionnaire_of_their_terminal(
    client_of: ClientOf, terminal_officer: Person, berth: Berth
) -> None:
    address = reverse("berth-import", args=[berth.terminal.public_id])
    other = BerthFacts.model_validate(changed(berth_document(), "name", "Inner berth"))
    deeper = BerthFacts.model_validate(changed(berth_document(), "size.depth_below_zero_m", 15.0))
    browser = client_of(terminal_officer)
    preview = send(browser, xlsx_bytes(tables_of(berth_layout(), [deeper, other])), address)
    assert "Inner berth" in preview.content.decode()
    confirm(browser, preview, address)
    assert berth.revisions.first().facts["size"]["depth_below_zero_m"] == 15.0
    added = Berth.objects.get(name="Inner berth")
    assert not added.line_data_shared
    assert added.revisions.get().facts["terminal"] == berth.terminal.name


@pytest.mark.parametrize(
    ("who", "status"),
    [("terminal_reader", 403), ("other_terminal_officer", 404), ("ship_officer", 404), ("auditor", 404)],
)
def test_others_take_no_berths_from_files(
    who: str, status: int, berth: Berth, client_of: ClientOf, request: pytest.FixtureRequest
) -> None:
    person = request.getfixturevalue(who)
    assert client_of(person).get(reverse("berth-import", args=[berth.terminal.public_id])).status_code == status
    facts = BerthFacts.model_validate(berth_document())
    with pytest.raises(NotAllowedError):
        import_berths(by=person, now=NOW, terminal=berth.terminal, berths=[(facts, None)])
