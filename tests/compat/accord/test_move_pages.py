"""The pages that move an accord on, without scripts: settle, sign, take back, withdraw, amend."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client

from compat.accord import actions, signing
from compat.accord.models import Accord
from compat.accord.pdf_making import INSTALL_LINE, PdfUnavailableError
from compat.accord.plan_file import PlanFile
from compat.accord.states import State
from shared.models import Person
from tests.builders import NOW, SECRET
from tests.compat.accord.asking import address, follow, told
from tests.compat.accord.building import (
    bring_to,
    open_accord,
    sign,
    write_answers,
)

ClientOf = Callable[[Person | None], Client]


@pytest.fixture
def accord(ship_officer: Person, terminal_officer: Person) -> Accord:
    return open_accord(ship_officer, terminal_officer)


def test_settling_too_early_says_what_is_left(accord: Accord, ship_officer: Person, client_of: ClientOf) -> None:
    sentences = told(follow(client_of(ship_officer), address(accord, "accord-settle")))
    assert "Highest manifold pressure: nothing is agreed." in sentences
    assert any(sentence.startswith("The ship has ") for sentence in sentences)
    accord.refresh_from_db()
    assert accord.state == State.ON_TABLE


def test_a_wrong_secret_is_told_and_never_shown_again(
    ship_officer: Person, terminal_officer: Person, client_of: ClientOf
) -> None:
    accord = bring_to(State.SETTLED, ship_officer, terminal_officer)
    values = {"secret": "spring-tide", "title": "Master", "seen_sha256": accord.payload_sha256}
    answer = client_of(ship_officer).post(address(accord, "accord-sign"), values)
    assert "This is not your secret; nothing was signed. 4 tries left." in answer.text
    assert "spring-tide" not in answer.text
    assert 'value="Master"' in answer.text
    for _ in range(4):
        answer = client_of(ship_officer).post(address(accord, "accord-sign"), values)
    assert "Too many wrong secrets" in answer.text
    assert 'name="secret"' not in answer.text


def test_signing_what_was_settled_anew_meanwhile_is_refused(
    ship_officer: Person, terminal_officer: Person, client_of: ClientOf
) -> None:
    accord = bring_to(State.SETTLED, ship_officer, terminal_officer)
    read = accord.payload_sha256
    actions.take_back(by=terminal_officer, now=NOW, accord=accord, reason="Less pressure.")
    actions.settle(by=terminal_officer, now=NOW + timedelta(minutes=1), accord=accord)
    values = {"secret": SECRET, "title": "Chief Officer", "seen_sha256": read}
    answer = client_of(ship_officer).post(address(accord, "accord-sign"), values)
    assert "these are other figures than those you had before you" in answer.text
    accord.refresh_from_db()
    assert f'value="{accord.payload_sha256}"' in answer.text
    assert accord.state == State.SETTLED


def test_a_page_that_stood_open_too_long_leads_back_with_the_reason(
    ship_officer: Person, terminal_officer: Person, client_of: ClientOf
) -> None:
    accord = bring_to(State.SIGNED_BY_SHIP, ship_officer, terminal_officer)
    ship = client_of(ship_officer)
    answer = ship.get(address(accord, "accord-sign"), follow=True)
    assert told(answer) == ["The ship has signed already; the terminal signs next."]
    answer = follow(ship, address(accord, "accord-settle"))
    assert told(answer) == ["This accord is signed by the ship; it can&#x27;t be moved by “settle” from there."]


@pytest.mark.parametrize(
    ("page", "state", "words"),
    [
        ("accord-take-back", State.ON_TABLE, "Taken back to the table"),
        ("accord-withdraw", State.WITHDRAWN, "She goes elsewhere."),
    ],
)
def test_a_reason_is_asked_for_and_shown(
    page: str,
    state: State,
    words: str,
    ship_officer: Person,
    terminal_officer: Person,
    client_of: ClientOf,
) -> None:
    accord = bring_to(State.SIGNED_BY_TERMINAL, ship_officer, terminal_officer)
    client = client_of(ship_officer)
    empty = client.post(address(accord, page), {"reason": " "})
    assert "Give a reason" in empty.text
    answer = follow(client, address(accord, page), reason="She goes elsewhere.")
    accord.refresh_from_db()
    assert accord.state == state
    assert words in answer.text


def test_where_no_pdf_can_be_made_nothing_is_signed_and_the_page_says_what_to_install(
    ship_officer: Person, terminal_officer: Person, client_of: ClientOf, monkeypatch: pytest.MonkeyPatch
) -> None:
    accord = bring_to(State.SETTLED, ship_officer, terminal_officer)

    def refuse(_: PlanFile) -> bytes:
        raise PdfUnavailableError(f"A PDF needs Pango. On Debian or Ubuntu: {INSTALL_LINE}")

    monkeypatch.setattr(signing, "pdf_to_sign", refuse)
    client = client_of(terminal_officer)
    values = {"secret": SECRET, "title": "Loading Master", "seen_sha256": accord.payload_sha256, "consents": "on"}
    answer = client.post(address(accord, "accord-sign"), values)
    assert INSTALL_LINE in answer.text
    accord.refresh_from_db()
    assert accord.state == State.SETTLED
    assert not accord.signatures.exists()


def test_a_draft_can_be_read_before_signing(
    ship_officer: Person, terminal_officer: Person, ship_reader: Person, client_of: ClientOf
) -> None:
    accord = bring_to(State.SETTLED, ship_officer, terminal_officer)
    assert client_of(ship_reader).get(address(accord, "accord-draft")).content.startswith(b"%PDF-")
    actions.take_back(by=ship_officer, now=NOW, accord=accord, reason="Less pressure.")
    assert client_of(ship_reader).get(address(accord, "accord-draft")).status_code == 404


def test_a_plan_is_amended_from_its_page(ship_officer: Person, terminal_officer: Person, client_of: ClientOf) -> None:
    accord = bring_to(State.IN_FORCE, ship_officer, terminal_officer)
    client = client_of(ship_officer)
    values = {"reason": "Less pressure.", "planned_start": "2031-04-16T06:00"}
    answer = follow(client, address(accord, "accord-amend"), **values)
    amendment = Accord.objects.get(amends=accord)
    assert "Plan 2 is on the table; plan 1 holds till then." in told(answer)[0]
    assert "This is an amendment of" in answer.text
    assert "carried over from plan 1" in client.get(address(amendment, "accord-checklist")).text
    assert "An amendment" in client.get(address(accord)).text
    write_answers(amendment, ship_officer, terminal_officer, only_owed=True)
    actions.settle(by=ship_officer, now=NOW, accord=amendment)
    sign(amendment, ship_officer)
    sign(amendment, terminal_officer)
    assert "Plan 1 no longer holds" in client.get(address(accord)).text


def test_place_and_time_are_changed_from_the_page(
    accord: Accord, ship_officer: Person, terminal_officer: Person, client_of: ClientOf
) -> None:
    client = client_of(terminal_officer)
    page = client.get(address(accord, "accord-arrange"))
    assert f'value="{accord.place}"' in page.text
    empty = client.post(address(accord, "accord-arrange"), {"place": "", "planned_start": "2031-04-16T06:00"})
    assert "Place is missing; name where the transfer takes place." in empty.text
    values = {"place": "Port Merrow, Inner berth", "planned_start": "2031-04-16T06:00", "is_pump_room": "yes"}
    answer = follow(client, address(accord, "accord-arrange"), **values)
    assert told(answer) == ["Changed. The other side sees it here and in the trail."]
    accord.refresh_from_db()
    assert accord.place == "Port Merrow, Inner berth"
    assert accord.transfer_conditions().night is None
