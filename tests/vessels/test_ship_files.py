"""Ship files: what is downloaded is taken back the same; what it changes is shown first; rubbish is refused."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from shared.facts_files import FactsFile
from shared.models import Person
from shared.reading import DocumentError
from tests.builders import make_vessel, ship_facts
from tests.pages import send, sent_by, with_values
from vessels.facts import ShipFacts
from vessels.models import Vessel
from vessels.views import SHIP_FILE

ClientOf = Callable[[Person | None], Client]
FACTS = ShipFacts.model_validate(ship_facts())


@pytest.fixture
def vessel(ship_officer: Person) -> Vessel:
    assert ship_officer.organisation is not None
    return make_vessel(ship_officer.organisation, ship_officer)


@pytest.fixture
def client(ship_officer: Person, client_of: ClientOf) -> Client:
    return client_of(ship_officer)


def ship_file(**changes: Any) -> bytes:
    return json.dumps({"format": "berth-accord-ship/1", "ship": ship_facts(**changes)}).encode()


def upload(client: Client, address: str, data: bytes, name: str = "ship.json") -> HttpResponse:
    answer = client.post(address, {"file": SimpleUploadedFile(name, data)})
    assert isinstance(answer, HttpResponse)
    return answer


def test_a_downloaded_file_reads_back_to_the_same_facts(vessel: Vessel, client: Client) -> None:
    answer = client.get(reverse("vessel-facts-file", args=[vessel.public_id, 1]))
    assert answer["Content-Disposition"] == 'attachment; filename="astrid-halvard-revision-1.json"'
    assert SHIP_FILE.read(answer.content, "ship.json") == FACTS


def test_a_file_shows_what_it_changes_and_saves_only_when_that_is_confirmed(vessel: Vessel, client: Client) -> None:
    address = reverse("vessel-upload", args=[vessel.public_id])
    preview = upload(client, address, ship_file(name="Astrid Halvard II", source="Docking report"))
    assert "Astrid Halvard II" in preview.text
    assert "Docking report" in preview.text
    assert "Nothing is saved yet" in preview.text
    assert vessel.revisions.count() == 1
    send(client, address, with_values(sent_by(preview, "narrow"), note="docking"))
    revision = vessel.revisions.latest("number")
    assert (revision.number, revision.note, revision.ship_facts().name) == (2, "docking", "Astrid Halvard II")


def test_a_file_that_changes_nothing_offers_nothing_to_save(vessel: Vessel, client: Client) -> None:
    preview = upload(client, reverse("vessel-upload", args=[vessel.public_id]), ship_file())
    assert "No value differs." in preview.text
    assert "Save as a new revision" not in preview.text


def test_a_confirmation_that_comes_too_late_is_told(vessel: Vessel, client: Client) -> None:
    address = reverse("vessel-upload", args=[vessel.public_id])
    mine = sent_by(upload(client, address, ship_file(name="Mine")), "narrow")
    theirs = sent_by(upload(client, address, ship_file(name="Theirs")), "narrow")
    send(client, address, theirs)
    answer = send(client, address, mine)
    assert "saved revision 2" in answer.text
    assert vessel.revisions.latest("number").ship_facts().name == "Theirs"


def test_a_forged_confirmation_is_checked_like_a_file(vessel: Vessel, client: Client) -> None:
    address = reverse("vessel-upload", args=[vessel.public_id])
    sent = sent_by(upload(client, address, ship_file(name="Mine")), "narrow")
    answer = send(client, address, with_values(sent, facts='{"format": "berth-accord-ship/1", "ship": {}}'))
    assert "ship: name is missing; state it." in answer.text.replace("&#x27;", "'")
    assert vessel.revisions.count() == 1


def test_a_ship_is_added_from_a_file(ship_officer: Person, client: Client) -> None:
    answer = upload(client, reverse("vessel-add-file"), ship_file())
    vessel = Vessel.objects.get()
    assert answer["Location"] == reverse("vessel", args=[vessel.public_id])
    assert vessel.revisions.get().ship_facts() == FACTS


def test_an_imo_number_that_is_taken_is_told_for_files_too(vessel: Vessel, client: Client) -> None:
    assert "belongs to Astrid Halvard" in upload(client, reverse("vessel-add-file"), ship_file()).text


WHOLE = ship_file()
RUBBISH: list[tuple[bytes, str]] = [
    (WHOLE[: len(WHOLE) // 2], "ship.json is not whole JSON: line 1, column"),
    (b"\xff\xfe\x00rubbish", "ship.json is not UTF-8 text (byte 0). Is it the right file?"),
    (b"[1, 2]", "ship.json holds no JSON object;"),
    (b"{}", "ship.json does not name its format; this page takes berth-accord-ship/1"),
    (b'{"format": "berth-accord-ship/9", "ship": {}}', "ship.json names the format 'berth-accord-ship/9'; this page"),
    (b'{"format": "berth-accord-ship/1", "berth": {}}', "ship.json must hold format and ship; besides format it holds"),
    (b'{"format": "berth-accord-ship/1", "format": "x"}', "ship.json: key format is given twice in one object"),
    (b'{"format": "berth-accord-ship/1", "ship": NaN}', "ship.json: NaN is not a finite number; write a number."),
    (b"[" * 100_000, "ship.json is nested too deeply"),
    (ship_file(colour="red"), "ship.json: ship: colour is not a key that this document knows"),
    (ship_file(manifold={"elevation_m": "high"}), "ship.json: ship: manifold.elevation_m is 'high', which is not a"),
    (ship_file(manifold={"elevation_m": 9999}), "ship.json: ship: manifold.elevation_m is 9999 m; allowed: -500 to"),
    (b"x" * 10_000_000, "ship.json holds 10,000,000 bytes; allowed: up to 2,000,000. Is it the right file?"),
]


@pytest.mark.parametrize(("data", "sentence"), RUBBISH, ids=[sentence for _, sentence in RUBBISH])
def test_a_file_that_is_wrong_is_refused_in_one_sentence(
    data: bytes, sentence: str, vessel: Vessel, client: Client
) -> None:
    answer = upload(client, reverse("vessel-upload", args=[vessel.public_id]), data)
    assert answer.status_code == 200
    assert answer.text.replace("&#x27;", "'").count(sentence) == 1
    assert vessel.revisions.count() == 1


def test_no_file_at_all_is_told(vessel: Vessel, client: Client) -> None:
    assert "The file is missing; choose one." in client.post(reverse("vessel-upload", args=[vessel.public_id])).text


def test_every_problem_in_a_file_is_told(vessel: Vessel) -> None:
    kind: FactsFile[ShipFacts] = SHIP_FILE
    with pytest.raises(DocumentError) as caught:
        kind.read(ship_file(name="", manifold={"elevation_m": None}), "ship.json")
    assert len(caught.value.problems) == 2
