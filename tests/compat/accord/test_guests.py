"""Guests of one accord: invited, let in once, acting for one side in that accord only, and ended."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.core import mail
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from compat.accord import actions
from compat.accord.checklist.item import Side
from compat.accord.inviting import Invited, LinkError
from compat.accord.models import Accord, AnswerChoice, GuestInvitation
from compat.accord.moving import MeanwhileError
from compat.accord.permissions import acting_side, side_of, visible_to
from compat.accord.states import State
from shared import actions as people
from shared.calc.errors import InputError
from shared.mail import wait_for_mail
from shared.models import Person, TrailRow
from shared.own_secrets import PeopleError
from shared.permissions import NotAllowedError
from shared.roles import Role
from shared.trail import facts_of, rows_for
from tests.builders import NOW, make_terminal, make_vessel
from tests.compat.accord.building import CONDITIONS, HIGHEST, PRESSURE, bring_to, open_accord, sign

ClientOf = Callable[[Person | None], Client]
GUEST_SECRET = "lead-line-and-lantern"


@pytest.fixture
def accord(ship_officer: Person, terminal_officer: Person) -> Accord:
    return open_accord(ship_officer, terminal_officer)


def invite(accord: Accord, by: Person, **changes: Any) -> Invited:
    given: dict[str, Any] = {"full_name": "Astrid Vik", "title": "Chief Officer", "may_sign": False, "link_hours": 72}
    return actions.invite_guest(by=by, now=NOW, accord=accord, **{**given, **changes})


def let_in(accord: Accord, by: Person, username: str = "astrid.vik", **changes: Any) -> Person:
    invited = invite(accord, by, **changes)
    return actions.accept_invitation(now=NOW, token=invited.token, username=username, secret=GUEST_SECRET)


@pytest.mark.parametrize("who", ["ship_officer", "ship_admin", "terminal_officer", "terminal_admin"])
def test_each_sides_people_invite_for_their_own_side(who: str, accord: Accord, request: pytest.FixtureRequest) -> None:
    by = request.getfixturevalue(who)
    guest = let_in(accord, by)
    side = Side.SHIP if who.startswith("ship") else Side.TERMINAL
    assert side_of(guest, accord) is acting_side(guest, accord) is side
    assert (guest.organisation, guest.guest_of, guest.full_name) == (None, by.organisation, "Astrid Vik")
    assert list(visible_to(guest)) == [accord]


@pytest.mark.parametrize("who", ["ship_reader", "terminal_reader", "auditor", "stranger", "installation_admin"])
def test_who_invites_nobody(who: str, accord: Accord, request: pytest.FixtureRequest) -> None:
    with pytest.raises(NotAllowedError):
        invite(accord, request.getfixturevalue(who))
    assert not GuestInvitation.objects.exists()


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"full_name": " "}, "Full name has 0 characters"),
        ({"title": ""}, "Title has 0 characters"),
        ({"email": "astrid at sea"}, "is not one"),
        ({"link_hours": 9000}, "choose one of 24, 72, 168, 336"),
    ],
)
def test_an_invitation_that_can_not_be_made(
    changes: dict[str, Any], words: str, accord: Accord, ship_officer: Person
) -> None:
    with pytest.raises(InputError, match=words):
        invite(accord, ship_officer, **changes)


def test_nobody_is_invited_twice_or_to_what_is_over(accord: Accord, ship_officer: Person) -> None:
    invite(accord, ship_officer)
    with pytest.raises(InputError, match="is invited already for the ship"):
        invite(accord, ship_officer, full_name="astrid vik")
    actions.withdraw(by=ship_officer, now=NOW, accord=accord, reason="She goes elsewhere.")
    accord.refresh_from_db()
    with pytest.raises(InputError, match="a guest could do nothing in it"):
        invite(accord, ship_officer, full_name="Olav Berg")


def test_the_token_is_kept_nowhere(accord: Accord, ship_officer: Person) -> None:
    invited = invite(accord, ship_officer)
    assert invited.token not in str(GuestInvitation.objects.values().get())
    assert not TrailRow.objects.filter(facts__contains=invited.token).exists()


def test_a_link_works_once(accord: Accord, ship_officer: Person) -> None:
    invited = invite(accord, ship_officer)
    actions.accept_invitation(now=NOW, token=invited.token, username="astrid", secret=GUEST_SECRET)
    with pytest.raises(LinkError, match="was used"):
        actions.accept_invitation(now=NOW, token=invited.token, username="other", secret=GUEST_SECRET)
    assert Person.objects.filter(guest_of__isnull=False).count() == 1


@pytest.mark.parametrize(("hours", "works"), [(71.9, True), (72, False), (1000, False)])
def test_a_link_is_good_for_its_time(hours: float, works: bool, accord: Accord, ship_officer: Person) -> None:
    invited = invite(accord, ship_officer)
    later = NOW + timedelta(hours=hours)
    if works:
        actions.accept_invitation(now=later, token=invited.token, username="astrid", secret=GUEST_SECRET)
    else:
        with pytest.raises(LinkError, match="too old"):
            actions.accept_invitation(now=later, token=invited.token, username="astrid", secret=GUEST_SECRET)


def test_a_refused_secret_leaves_the_link_good(accord: Accord, ship_officer: Person) -> None:
    invited = invite(accord, ship_officer)
    with pytest.raises(PeopleError, match="too short"):
        actions.accept_invitation(now=NOW, token=invited.token, username="astrid", secret="short")
    with pytest.raises(PeopleError, match="is taken"):
        actions.accept_invitation(now=NOW, token=invited.token, username="ship-officer", secret=GUEST_SECRET)
    assert not Person.objects.filter(guest_of__isnull=False).exists()
    actions.accept_invitation(now=NOW, token=invited.token, username="astrid", secret=GUEST_SECRET)


def test_another_link_ends_the_one_before_and_sets_another_secret(
    accord: Accord, ship_officer: Person, client_of: ClientOf
) -> None:
    guest = let_in(accord, ship_officer)
    client = client_of(guest)
    invitation = guest.guest_invitation
    first = actions.renew_guest_link(by=ship_officer, now=NOW, invitation=invitation, link_hours=24)
    second = actions.renew_guest_link(by=ship_officer, now=NOW, invitation=invitation, link_hours=24)
    assert client.get(reverse("home")).status_code == 302  # signed out
    with pytest.raises(LinkError):
        actions.accept_invitation(now=NOW, token=first.token, username="x", secret=GUEST_SECRET)
    again = actions.accept_invitation(now=NOW, token=second.token, username="x", secret="other-tide-other-berth")
    assert (again.pk, again.username) == (guest.pk, "astrid.vik")
    assert Person.objects.get(pk=guest.pk).check_password("other-tide-other-berth")


def test_ended_access_is_ended_at_once(
    accord: Accord, ship_officer: Person, terminal_officer: Person, client_of: ClientOf
) -> None:
    guest = let_in(accord, ship_officer)
    client = client_of(guest)
    assert client.get(reverse("accord", args=[accord.public_id])).status_code == 200
    with pytest.raises(NotAllowedError, match="The ship invited Astrid Vik"):
        actions.end_invitation(by=terminal_officer, now=NOW, invitation=guest.guest_invitation)
    actions.end_invitation(by=ship_officer, now=NOW, invitation=guest.guest_invitation)
    assert client.get(reverse("accord", args=[accord.public_id])).status_code == 302
    gone = Person.objects.get(pk=guest.pk)
    assert not visible_to(gone).exists()
    assert acting_side(gone, accord) is None
    assert not client_of(None).login(username="astrid.vik", password=GUEST_SECRET)
    with pytest.raises(MeanwhileError, match="ended already"):
        actions.end_invitation(by=ship_officer, now=NOW, invitation=guest.guest_invitation)


def test_a_guest_works_for_their_side_and_each_act_is_in_the_trail(
    accord: Accord, ship_officer: Person, terminal_officer: Person
) -> None:
    guest = let_in(accord, ship_officer)
    actions.propose_value(by=guest, now=NOW, accord=accord, key=PRESSURE, value=Decimal(8), seen=None)
    theirs = actions.propose_value(
        by=terminal_officer, now=NOW, accord=accord, key=HIGHEST, value=Decimal(2800), seen=None
    )
    actions.accept_value(by=guest, now=NOW, proposal=theirs)
    actions.answer_item(
        by=guest, now=NOW, accord=accord, item_key="signs.shown", answer=AnswerChoice.YES, values={}, seen=None
    )
    rows = TrailRow.objects.filter(person="Astrid Vik (astrid.vik, guest)").order_by("position")
    assert [row.act for row in rows] == [
        "guest set a secret",
        "value proposed",
        "value accepted",
        "checklist answered",
    ]
    assert {row.organisation for row in rows} == {"Halvard Tankers"}
    assert facts_of(rows[1])["side"] == "ship"


def test_a_guest_settles_takes_back_and_amends(ship_officer: Person, terminal_officer: Person) -> None:
    accord = bring_to(State.SETTLED, ship_officer, terminal_officer)
    guest = let_in(accord, terminal_officer)
    actions.take_back(by=guest, now=NOW, accord=accord, reason="One rate was wrong.")
    actions.settle(by=guest, now=NOW, accord=Accord.objects.get(pk=accord.pk))
    sign(accord, ship_officer)
    sign(accord, terminal_officer)
    amendment = actions.open_amendment(
        by=guest,
        now=NOW,
        accord=Accord.objects.get(pk=accord.pk),
        reason="Another tank.",
        planned_start=accord.planned_start,
        newest_facts=False,
    )
    assert set(visible_to(guest)) == {accord, amendment}
    actions.end_invitation(by=terminal_officer, now=NOW, invitation=guest.guest_invitation)
    assert not visible_to(guest).exists()


def test_a_guest_signs_only_where_the_invitation_says_so(ship_officer: Person, terminal_officer: Person) -> None:
    accord = bring_to(State.SETTLED, ship_officer, terminal_officer)
    reader, signer = let_in(accord, ship_officer), let_in(accord, terminal_officer, "nils", may_sign=True)
    with pytest.raises(NotAllowedError, match="invited by the ship to work on this accord, not to sign it"):
        sign(accord, reader, secret=GUEST_SECRET)
    signed = sign(accord, signer, secret=GUEST_SECRET)
    assert signed.signature.side == "terminal"
    assert signed.signature.organisation_name == "Sandvik Terminals"


def _acts_closed_to_guests(
    accord: Accord, guest: Person, owner: Person, auditor: Person
) -> dict[str, Callable[[], object]]:
    assert owner.organisation is not None
    assert auditor.organisation is not None
    organisation, audit = owner.organisation, auditor.organisation
    vessel = make_vessel(organisation, owner, name="Berit Halvard", imo_number=None)
    by = {"by": guest, "now": NOW}
    return {
        "withdraw": lambda: actions.withdraw(**by, accord=accord, reason="So."),
        "let an auditor in": lambda: actions.grant_audit(**by, accord=accord, organisation=audit),
        "invite": lambda: invite(accord, guest, full_name="Somebody Else"),
        "end an invitation": lambda: actions.end_invitation(**by, invitation=guest.guest_invitation),
        "renew a link": lambda: actions.renew_guest_link(**by, invitation=guest.guest_invitation, link_hours=24),
        "open an accord": lambda: actions.open_accord(
            **by,
            vessel_revision=vessel.revisions.get(),
            berth_revision=accord.berth_revision,
            case=accord.case_file(),
            conditions=CONDITIONS,
            place="Anywhere",
            planned_start=NOW,
        ),
        "add a person": lambda: people.add_person(
            **by, organisation=organisation, username="new", full_name="New", role=Role.OFFICER, secret=GUEST_SECRET
        ),
        "change a role": lambda: people.change_role(**by, person=owner, role=Role.READER),
        "close access": lambda: people.deactivate_person(**by, person=owner),
        "renew a secret": lambda: people.renew_secret(**by, person=owner, secret=GUEST_SECRET),
    }


@pytest.mark.parametrize("place", range(10))
def test_what_a_guest_may_not_do(
    place: int, accord: Accord, ship_officer: Person, ship_admin: Person, auditor: Person
) -> None:
    guest = let_in(accord, ship_officer, may_sign=True)
    acts = _acts_closed_to_guests(accord, guest, ship_admin, auditor)
    assert len(acts) == 10
    before = TrailRow.objects.count()
    with pytest.raises(NotAllowedError):
        list(acts.values())[place]()
    assert TrailRow.objects.count() == before


def test_another_accord_of_the_same_parties_does_not_exist_for_a_guest(
    accord: Accord, ship_officer: Person, terminal_officer: Person
) -> None:
    guest = let_in(accord, ship_officer, may_sign=True)
    other = bring_to(State.SETTLED, ship_officer, terminal_officer, ship_name="Berit Halvard", berth_name="Inner berth")
    assert side_of(guest, other) is None
    with pytest.raises(NotAllowedError):
        actions.propose_value(by=guest, now=NOW, accord=other, key=PRESSURE, value=Decimal(8), seen=None)
    with pytest.raises(NotAllowedError):
        sign(other, guest, secret=GUEST_SECRET)
    seen = {row.subject for row in rows_for(guest)}
    assert seen == {accord.subject}


def test_the_database_keeps_guests_out_of_organisations(accord: Accord, ship_officer: Person) -> None:
    guest = let_in(accord, ship_officer)
    with pytest.raises(IntegrityError), transaction.atomic():
        Person.objects.filter(pk=guest.pk).update(organisation=ship_officer.organisation)


def test_the_link_is_mailed_after_the_commit(
    accord: Accord, ship_officer: Person, django_capture_on_commit_callbacks: Any
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        invited = invite(accord, ship_officer, email="astrid@halvard.example")
    wait_for_mail()
    (sent,) = mail.outbox
    assert sent.to == ["astrid@halvard.example"]
    assert f"/accords/guests/{invited.token}/" in sent.body


def test_from_invitation_to_accord_on_the_pages(accord: Accord, ship_officer: Person, client_of: ClientOf) -> None:
    client = client_of(ship_officer)
    add = reverse("accord-guest-add", args=[accord.public_id])
    assert "Invite a guest for the ship" in client.get(add).text
    sent = {"full_name": "Astrid Vik", "title": "Chief Officer", "link_hours": "72"}
    page = client.post(add, sent)
    link = re.search(r'value="https?://[^/]+(/accords/guests/[^"]+)"', page.text)
    assert link is not None
    guest = client_of(None)
    assert "you are invited to this accord for the ship" in guest.get(link[1]).text
    refused = guest.post(link[1], {"username": "astrid", "secret": GUEST_SECRET, "again": "another"}).text
    assert "The two new secrets differ" in refused
    answer = guest.post(link[1], {"username": "astrid", "secret": GUEST_SECRET, "again": GUEST_SECRET}, follow=True)
    assert answer.redirect_chain == [(reverse("accord", args=[accord.public_id]), 302)]
    assert "a guest for the ship" in answer.text
    assert "Withdraw" not in answer.text
    assert guest.get(link[1]).status_code == 410
    shown = client.get(reverse("accord", args=[accord.public_id])).text
    assert "signs in as astrid" in shown
    number = GuestInvitation.objects.get().pk
    assert client.get(reverse("accord-guest-link", args=[accord.public_id, number])).status_code == 200
    client.post(reverse("accord-guest-end", args=[accord.public_id, number]))
    assert guest.get(reverse("home")).status_code == 302


@pytest.mark.parametrize(
    ("who", "status"),
    [("stranger", 404), ("auditor", 404), ("ship_reader", 403), ("terminal_reader", 403), ("terminal_officer", 200)],
)
def test_who_gets_the_page_of_inviting(
    who: str, status: int, accord: Accord, client_of: ClientOf, request: pytest.FixtureRequest
) -> None:
    client = client_of(request.getfixturevalue(who))
    assert client.get(reverse("accord-guest-add", args=[accord.public_id])).status_code == status


def test_a_guest_can_not_be_invited_to_look_around(accord: Accord, ship_officer: Person, client_of: ClientOf) -> None:
    make_terminal(ship_officer.organisation)
    guest = client_of(let_in(accord, ship_officer))
    for page in ("vessel-list", "berth-list", "assessment-list"):
        assert "Astrid Halvard" not in guest.get(reverse(page)).text
    assert guest.get(reverse("organisation-list")).status_code == 403
    assert guest.get(reverse("person-add")).status_code == 403
