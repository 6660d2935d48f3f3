"""Acts on people and organisations: what they do, what they refuse, and who may not."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from shared import actions, own_secrets
from shared.actions import PeopleError
from shared.models import Organisation, Person, TrailRow
from shared.permissions import NotAllowedError
from shared.roles import Kind, Role
from shared.trail import facts_of, verify_trail
from tests.builders import NOW, SECRET, make_person

NEW = {"username": "anna", "full_name": "Anna Vale", "title": "Pumpman", "secret": "eight-bells-and-rain"}

Act = Callable[[Person, Person], object]


def last_row() -> TrailRow:
    row = TrailRow.objects.order_by("-position").first()
    assert row is not None
    return row


def test_an_administrator_adds_a_person_who_must_choose_an_own_secret(ship_admin: Person, now: datetime) -> None:
    assert ship_admin.organisation is not None
    added = actions.add_person(by=ship_admin, now=now, organisation=ship_admin.organisation, role=Role.OFFICER, **NEW)
    kept = Person.objects.get(username="anna")
    assert (kept.organisation, kept.role, kept.secret_is_initial) == (ship_admin.organisation, "officer", True)
    assert kept.check_password("eight-bells-and-rain")
    row = last_row()
    assert (row.act, row.subject, row.at) == ("person added", "person:anna", now)
    assert facts_of(row) == {"organisation": "Halvard Tankers", "person": "Anna Vale", "role": "officer"}
    assert "eight-bells" not in row.facts
    assert added == kept


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"username": "SHIP-ADMIN"}, "Username SHIP-ADMIN is taken"),
        ({"username": "an na"}, "may hold letters, digits"),
        ({"username": ""}, "may hold letters, digits"),
        ({"secret": "short"}, "too short"),
        ({"secret": "anna-vale-ann"}, "too similar"),
        ({"secret": "password1234"}, "too common"),
    ],
)
def test_a_person_who_can_not_be_added(change: dict[str, str], words: str, ship_admin: Person, now: datetime) -> None:
    assert ship_admin.organisation is not None
    with pytest.raises(PeopleError, match=words):
        actions.add_person(
            by=ship_admin, now=now, organisation=ship_admin.organisation, role=Role.READER, **{**NEW, **change}
        )
    assert Person.objects.count() == 1
    assert not TrailRow.objects.exists()


def test_a_role_is_changed(ship_admin: Person, ship_reader: Person, now: datetime) -> None:
    actions.change_role(by=ship_admin, now=now, person=ship_reader, role=Role.OFFICER)
    ship_reader.refresh_from_db()
    assert ship_reader.role == Role.OFFICER
    assert facts_of(last_row()) == {"person": "Piotr Lange", "from": "reader", "to": "officer"}


def test_the_last_administrator_stays_one(ship_admin: Person, now: datetime) -> None:
    with pytest.raises(PeopleError, match="Maud Okafor is the last administrator of Halvard Tankers"):
        actions.change_role(by=ship_admin, now=now, person=ship_admin, role=Role.READER)
    with pytest.raises(PeopleError, match="last administrator"):
        actions.deactivate_person(by=ship_admin, now=now, person=ship_admin)
    make_person(ship_admin.organisation, Role.ADMINISTRATOR, username="second", is_active=False)
    with pytest.raises(PeopleError, match="last administrator"):
        actions.deactivate_person(by=ship_admin, now=now, person=ship_admin)
    make_person(ship_admin.organisation, Role.ADMINISTRATOR, username="third")
    actions.change_role(by=ship_admin, now=now, person=ship_admin, role=Role.OFFICER)


def test_access_is_closed_once_and_opened_again(ship_admin: Person, ship_officer: Person, now: datetime) -> None:
    actions.deactivate_person(by=ship_admin, now=now, person=ship_officer)
    ship_officer.refresh_from_db()
    assert not ship_officer.is_active
    with pytest.raises(PeopleError, match="already deactivated"):
        actions.deactivate_person(by=ship_admin, now=now, person=ship_officer)
    actions.reactivate_person(by=ship_admin, now=now, person=ship_officer)
    ship_officer.refresh_from_db()
    assert ship_officer.is_active
    with pytest.raises(PeopleError, match="already active"):
        actions.reactivate_person(by=ship_admin, now=now, person=ship_officer)
    assert [row.act for row in TrailRow.objects.all()] == ["person deactivated", "person reactivated"]


def test_a_lost_secret_is_replaced_by_an_initial_one(ship_admin: Person, ship_officer: Person, now: datetime) -> None:
    actions.renew_secret(by=ship_admin, now=now, person=ship_officer, secret="fog-signal-every-minute")
    ship_officer.refresh_from_db()
    assert ship_officer.check_password("fog-signal-every-minute")
    assert ship_officer.secret_is_initial
    with pytest.raises(PeopleError, match="your own secret on its page"):
        actions.renew_secret(by=ship_admin, now=now, person=ship_admin, secret="fog-signal-every-minute")


def test_an_own_secret_is_changed(ship_reader: Person, now: datetime) -> None:
    ship_reader.secret_is_initial = True
    actions.change_own_secret(by=ship_reader, now=now, present=SECRET, secret="lee-shore-and-holding")
    ship_reader.refresh_from_db()
    assert ship_reader.check_password("lee-shore-and-holding")
    assert not ship_reader.secret_is_initial
    assert (last_row().act, last_row().facts) == ("own secret changed", "{}")


@pytest.mark.parametrize(
    ("present", "secret", "words"),
    [
        ("wrong", "lee-shore-and-holding", "present secret is not right"),
        (SECRET, SECRET, "is the present one"),
        (SECRET, "short", "too short"),
    ],
)
def test_an_own_secret_that_stays(present: str, secret: str, words: str, ship_reader: Person, now: datetime) -> None:
    with pytest.raises(PeopleError, match=words):
        actions.change_own_secret(by=ship_reader, now=now, present=present, secret=secret)
    ship_reader.refresh_from_db()
    assert ship_reader.check_password(SECRET)


def test_units_are_chosen_from_the_list(ship_reader: Person, now: datetime) -> None:
    actions.choose_units(by=ship_reader, now=now, units={"pressure": "kgf/cm²", "flow": "bbl/h"})
    ship_reader.refresh_from_db()
    assert ship_reader.units == {"pressure": "kgf/cm²", "flow": "bbl/h"}
    with pytest.raises(PeopleError, match="Unit of pressure is 'm³/h'; choose one of bar, kgf/cm²"):
        actions.choose_units(by=ship_reader, now=now, units={"pressure": "m³/h"})
    with pytest.raises(PeopleError, match="Unit of mood"):
        actions.choose_units(by=ship_reader, now=now, units={"mood": "bar"})


def test_the_installations_administrator_adds_an_organisation(installation_admin: Person, now: datetime) -> None:
    added = actions.add_organisation(by=installation_admin, now=now, name=" Corvane Shipping ", kind=Kind.SHIP, **NEW)
    administrator = added.people.get()
    assert (added.name, added.kind, administrator.role) == ("Corvane Shipping", "ship", "administrator")
    assert [row.act for row in TrailRow.objects.all()] == ["organisation added", "person added"]
    assert verify_trail() is None
    with pytest.raises(PeopleError, match="already an organisation named corvane shipping"):
        actions.add_organisation(
            by=installation_admin, now=now, name="corvane shipping", kind=Kind.SHIP, **{**NEW, "username": "b"}
        )


def test_an_organisation_does_not_stay_without_its_administrator(installation_admin: Person, now: datetime) -> None:
    with pytest.raises(PeopleError, match="too short"):
        actions.add_organisation(
            by=installation_admin, now=now, name="Corvane", kind=Kind.SHIP, **{**NEW, "secret": "short"}
        )
    assert not Organisation.objects.exists()
    assert not TrailRow.objects.exists()


def acts_of_an_administrator(now: datetime) -> dict[str, Act]:
    def add(by: Person, person: Person) -> object:
        assert person.organisation is not None
        return actions.add_person(by=by, now=now, organisation=person.organisation, role=Role.READER, **NEW)

    return {
        "add person": add,
        "change role": lambda by, person: actions.change_role(by=by, now=now, person=person, role=Role.OFFICER),
        "deactivate": lambda by, person: actions.deactivate_person(by=by, now=now, person=person),
        "reactivate": lambda by, person: actions.reactivate_person(by=by, now=now, person=person),
        "renew secret": lambda by, person: actions.renew_secret(by=by, now=now, person=person, secret=NEW["secret"]),
    }


NOT_ADMINISTRATORS = [
    "ship_officer", "ship_reader", "terminal_admin", "terminal_officer", "auditor", "stranger", "installation_admin",
]  # fmt: skip


@pytest.mark.parametrize("act", acts_of_an_administrator(NOW))
@pytest.mark.parametrize("who", NOT_ADMINISTRATORS)
def test_only_an_administrator_of_the_organisation_changes_its_people(
    act: str, who: str, request: pytest.FixtureRequest, ship_reader: Person, now: datetime
) -> None:
    by = request.getfixturevalue(who)
    before = _state()
    with pytest.raises(NotAllowedError, match="Only an administrator of Halvard Tankers may do this"):
        acts_of_an_administrator(now)[act](by, ship_reader)
    assert _state() == before


@pytest.mark.parametrize("who", ["ship_admin", "ship_officer", "ship_reader", "terminal_admin", "auditor", "stranger"])
def test_only_the_installations_administrator_adds_organisations(
    who: str, request: pytest.FixtureRequest, now: datetime
) -> None:
    by = request.getfixturevalue(who)
    before = _state()
    with pytest.raises(NotAllowedError, match="administrator of this installation"):
        actions.add_organisation(by=by, now=now, name="New Company", kind=Kind.AUDIT, **NEW)
    assert _state() == before


def test_a_deactivated_administrator_may_nothing(ship_admin: Person, ship_reader: Person, now: datetime) -> None:
    ship_admin.is_active = False
    for act in acts_of_an_administrator(now).values():
        with pytest.raises(NotAllowedError):
            act(ship_admin, ship_reader)


def _state() -> list[Any]:
    people = list(Person.objects.order_by("pk").values_list("username", "role", "is_active", "password"))
    return [people, list(Organisation.objects.values_list("name", flat=True)), TrailRow.objects.count()]


def test_what_is_kept_under_a_secret_follows_its_change(
    ship_admin: Person, ship_officer: Person, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: list[tuple[str, str | None, str]] = []
    monkeypatch.setattr(own_secrets, "_followers", [])
    own_secrets.follow_secret(lambda person, present, secret: told.append((person.username, present, secret)))
    actions.change_own_secret(by=ship_officer, now=now, present=SECRET, secret="eight-bells-and-rain")
    actions.renew_secret(by=ship_admin, now=now, person=ship_officer, secret="nine-fathoms-of-mud")
    with pytest.raises(PeopleError, match="too short"):
        actions.change_own_secret(by=ship_officer, now=now, present="nine-fathoms-of-mud", secret="short")
    assert told == [
        ("ship-officer", SECRET, "eight-bells-and-rain"),
        ("ship-officer", None, "nine-fathoms-of-mud"),
    ]


def test_a_follower_that_fails_leaves_the_secret_as_it_was(
    ship_officer: Person, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object) -> None:
        raise LookupError

    monkeypatch.setattr(own_secrets, "_followers", [fail])
    with pytest.raises(LookupError):
        actions.change_own_secret(by=ship_officer, now=now, present=SECRET, secret="eight-bells-and-rain")
    assert Person.objects.get(pk=ship_officer.pk).check_password(SECRET)


def test_sessions_end_with_the_secret_and_with_the_access_and_do_not_come_back(
    ship_admin: Person, ship_officer: Person, now: datetime, client_of: Callable[[Person | None], Client]
) -> None:
    client, other = client_of(ship_officer), client_of(ship_officer)
    assert client.get(reverse("home")).status_code == 200
    actions.deactivate_person(by=ship_admin, now=now, person=ship_officer)
    assert client.get(reverse("home")).status_code == 302
    actions.reactivate_person(by=ship_admin, now=now, person=ship_officer)
    assert other.get(reverse("home")).status_code == 302
    again = client_of(Person.objects.get(pk=ship_officer.pk))
    actions.renew_secret(by=ship_admin, now=now, person=ship_officer, secret="nine-fathoms-of-mud")
    assert again.get(reverse("home")).status_code == 302
