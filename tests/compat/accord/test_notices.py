"""Mail about acts: to the other side, after the commit, as each person chose, and never in the way of an act."""

from __future__ import annotations

import logging
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.core import mail
from django.db import transaction

from compat.accord import actions, notices
from compat.accord.models import Accord
from compat.accord.states import State
from shared.mail import wait_for_mail
from shared.models import Person, TrailRow
from shared.roles import Notices
from tests.builders import NOW
from tests.compat.accord.building import PRESSURE, amend_to_force, bring_to, open_accord, sign
from tests.compat.accord.test_guests import let_in

Committed = Callable[..., Any]


@pytest.fixture(autouse=True)
def mail_addresses(
    ship_officer: Person, ship_reader: Person, terminal_officer: Person, terminal_reader: Person, stranger: Person
) -> None:
    """Everybody has a mail address."""
    for person in (ship_officer, ship_reader, terminal_officer, terminal_reader, stranger):
        person.email = f"{person.username}@mail.example"
        person.save(update_fields=["email"])


@pytest.fixture
def sent_by(django_capture_on_commit_callbacks: Committed) -> Callable[[Callable[[], object]], list[Any]]:
    """Return a function that commits an act and returns the mails it sent."""

    def sent(act: Callable[[], object]) -> list[Any]:
        mail.outbox.clear()
        vars(notices._here).clear()  # a test's fixtures are never committed, and their acts would be told as well
        with django_capture_on_commit_callbacks(execute=True):
            act()
        wait_for_mail()
        return list(mail.outbox)

    return sent


def to(letters: list[Any]) -> set[str]:
    return {letter.to[0].split("@")[0] for letter in letters}


@pytest.fixture
def accord(ship_officer: Person, terminal_officer: Person) -> Accord:
    return open_accord(ship_officer, terminal_officer)


TERMINAL, SHIP = {"terminal-officer", "terminal-reader"}, {"ship-officer", "ship-reader"}


def test_the_other_side_is_told_of_a_value(
    accord: Accord, ship_officer: Person, terminal_officer: Person, sent_by: Any
) -> None:
    def propose() -> None:
        actions.propose_value(by=ship_officer, now=NOW, accord=accord, key=PRESSURE, value=Decimal(8), seen=None)

    letters = sent_by(propose)
    assert to(letters) == TERMINAL
    assert letters[0].subject == "Value proposed: Astrid Halvard at Sandvik Oil Terminal, Outer berth"
    assert "Ingrid Solheim (ship-officer), Halvard Tankers: put on the table: " in letters[0].body
    assert f"http://localhost:8000/accords/{accord.public_id}/" in letters[0].body
    proposal = accord.proposals.get()
    letters = sent_by(lambda: actions.accept_value(by=terminal_officer, now=NOW, proposal=proposal))
    assert to(letters) == SHIP
    assert "accepted: " in letters[0].body


def test_each_step_of_a_plan_is_told(ship_officer: Person, terminal_officer: Person, sent_by: Any) -> None:
    accord = bring_to(State.ON_TABLE, ship_officer, terminal_officer)
    told = {}

    def step(name: str, act: Callable[[], object]) -> None:
        letters = sent_by(act)
        told[name] = (to(letters), letters[0].subject.split(":")[0] if letters else "")

    step("withdrawn", lambda: actions.withdraw(by=ship_officer, now=NOW, accord=accord, reason="She goes elsewhere."))
    settled = bring_to(
        State.SETTLED, ship_officer, terminal_officer, ship_name="Berit Halvard", berth_name="Inner berth"
    )
    step("taken back", lambda: actions.take_back(by=terminal_officer, now=NOW, accord=settled, reason="A rate."))
    step("settled", lambda: actions.settle(by=terminal_officer, now=NOW, accord=Accord.objects.get(pk=settled.pk)))
    step("signed", lambda: sign(settled, ship_officer))
    step("in force", lambda: sign(settled, terminal_officer))
    step("amended", lambda: amend_to_force(settled, ship_officer, terminal_officer))
    assert told["withdrawn"] == (TERMINAL, "Accord withdrawn")
    assert told["taken back"] == (SHIP, "Accord taken back")
    assert told["settled"] == (SHIP, "Accord settled")
    assert told["signed"] == (TERMINAL, "Plan signed")
    # Who signs last is the only one who is not told that the plan is in force.
    assert told["in force"][0] == SHIP | TERMINAL - {"terminal-officer"}
    assert told["amended"][0] == SHIP | TERMINAL


def test_acts_of_one_transaction_are_one_mail(ship_officer: Person, terminal_officer: Person, sent_by: Any) -> None:
    def act() -> None:
        accord = open_accord(ship_officer, terminal_officer, proposals={PRESSURE: Decimal(8)})
        assert accord.proposals.count() == 1

    letters = sent_by(act)
    assert len(letters) == len(TERMINAL)
    assert letters[0].subject.startswith("Value proposed, and 1 more: ")
    assert "opened this accord" in letters[0].body


@pytest.mark.parametrize(
    ("choice", "of_values", "of_states"), [("all", True, True), ("states", True, True), ("none", False, False)]
)
def test_each_person_chooses(
    choice: str,
    of_values: bool,
    of_states: bool,
    accord: Accord,
    ship_officer: Person,
    terminal_officer: Person,
    sent_by: Any,
) -> None:
    Person.objects.filter(pk=terminal_officer.pk).update(notices=choice)
    letters = sent_by(
        lambda: actions.propose_value(
            by=ship_officer, now=NOW, accord=accord, key=PRESSURE, value=Decimal(8), seen=None
        )
    )
    assert ("terminal-officer" in to(letters)) is (of_values and choice == "all")
    letters = sent_by(lambda: actions.withdraw(by=ship_officer, now=NOW, accord=accord, reason="So."))
    assert ("terminal-officer" in to(letters)) is of_states


def test_who_is_closed_out_or_a_stranger_is_told_nothing(
    accord: Accord, ship_officer: Person, terminal_reader: Person, sent_by: Any
) -> None:
    Person.objects.filter(pk=terminal_reader.pk).update(is_active=False)
    letters = sent_by(lambda: actions.withdraw(by=ship_officer, now=NOW, accord=accord, reason="So."))
    assert to(letters) == {"terminal-officer"}


def test_guests_are_told_and_tell(accord: Accord, ship_officer: Person, terminal_officer: Person, sent_by: Any) -> None:
    guest = let_in(accord, ship_officer, email="astrid@mail.example")
    letters = sent_by(
        lambda: actions.propose_value(
            by=terminal_officer, now=NOW, accord=accord, key=PRESSURE, value=Decimal(8), seen=None
        )
    )
    assert to(letters) == SHIP | {"astrid"}
    letters = sent_by(lambda: actions.accept_value(by=guest, now=NOW, proposal=accord.proposals.get()))
    assert to(letters) == TERMINAL
    assert "Astrid Vik (astrid.vik, guest)" in letters[0].body
    actions.end_invitation(by=ship_officer, now=NOW, invitation=guest.guest_invitation)
    letters = sent_by(lambda: _propose(accord, terminal_officer))
    assert to(letters) == SHIP


def _propose(accord: Accord, by: Person, value: int = 7) -> None:
    actions.propose_value(by=by, now=NOW, accord=accord, key=PRESSURE, value=Decimal(value), seen=None)


def test_what_was_rolled_back_is_told_to_nobody(
    accord: Accord, ship_officer: Person, terminal_officer: Person, sent_by: Any
) -> None:
    def fails() -> None:
        with transaction.atomic():
            _propose(accord, ship_officer, 8)
            raise LookupError

    def act() -> None:
        with pytest.raises(LookupError):
            fails()

    assert sent_by(act) == []
    letters = sent_by(lambda: _propose(accord, ship_officer, 9))
    assert "8 bar" not in letters[0].body
    assert "9 bar" in letters[0].body


@pytest.mark.django_db(transaction=True)
def test_a_mail_server_that_fails_stops_no_act(
    ship_officer: Person, terminal_officer: Person, settings: Any, caplog: pytest.LogCaptureFixture
) -> None:
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", 1  # nothing listens there
    accord = open_accord(ship_officer, terminal_officer)
    with caplog.at_level(logging.ERROR, logger="shared.mail"):
        _propose(accord, ship_officer)
        wait_for_mail()
    assert accord.proposals.count() == 1
    assert "mails were not sent" in caplog.text


@pytest.mark.django_db(transaction=True)
def test_a_letter_that_can_not_be_written_stops_no_act(
    ship_officer: Person, terminal_officer: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    accord = open_accord(ship_officer, terminal_officer)

    def fail(*_: object) -> None:
        raise RuntimeError

    monkeypatch.setattr(notices, "_letters", fail)
    _propose(accord, ship_officer)
    assert TrailRow.objects.latest("position").act == "value proposed"


def test_every_act_that_is_told_is_one_of_the_program() -> None:
    """A code that nobody writes any more would be a notice that nobody gets."""
    room = Path(actions.__file__).parent
    sources = "".join(path.read_text(encoding="utf-8") for path in room.glob("*.py"))
    assert not [act for act in notices.NOTICED if f'act="{act}"' not in sources]
    assert set(Notices) == set(notices._WANTED)
