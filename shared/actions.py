"""Acts on people and organisations; each checks who may, and writes its trail row in its own transaction."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from django.contrib.auth.validators import UnicodeUsernameValidator
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F

from shared.factors import check_present
from shared.models import Organisation, Person
from shared.own_secrets import PeopleError as PeopleError
from shared.own_secrets import check_secret, set_secret
from shared.permissions import check_administrator, check_runs_installation
from shared.quantities import CHOICES
from shared.roles import Kind, Notices, Role
from shared.trail import Fact, record
from shared.zones import UTC_NAME, ZONES_OF_PAGES, checked_zone


def add_organisation(
    *,
    by: Person,
    now: datetime,
    name: str,
    kind: Kind,
    username: str,
    full_name: str,
    title: str = "",
    secret: str,
) -> Organisation:
    """Add an organisation with its first administrator; only who runs the installation may."""
    check_runs_installation(by)
    name = name.strip()
    with transaction.atomic():
        if Organisation.objects.filter(name__iexact=name).exists():
            raise PeopleError(f"There is already an organisation named {name}; choose another name.")
        organisation = Organisation.objects.create(name=name, kind=kind)
        record(
            act="organisation added",
            by=by,
            now=now,
            subject=organisation.subject,
            facts={"name": name, "kind": str(kind)},
        )
        _make_person(
            by=by,
            now=now,
            organisation=organisation,
            username=username,
            full_name=full_name,
            title=title,
            role=Role.ADMINISTRATOR,
            secret=secret,
        )
    return organisation


def add_person(
    *,
    by: Person,
    now: datetime,
    organisation: Organisation,
    username: str,
    full_name: str,
    title: str = "",
    role: Role,
    secret: str,
) -> Person:
    """Add a person to the organisation with an initial secret, which they must replace when they sign in."""
    check_administrator(by, organisation)
    with transaction.atomic():
        return _make_person(
            by=by,
            now=now,
            organisation=organisation,
            username=username,
            full_name=full_name,
            title=title,
            role=role,
            secret=secret,
        )


def change_role(*, by: Person, now: datetime, person: Person, role: Role) -> None:
    """Give a person another role; an organisation always keeps an administrator."""
    organisation = _organisation_of(person)
    check_administrator(by, organisation)
    with transaction.atomic():
        _lock(organisation)
        if role != Role.ADMINISTRATOR:
            _check_not_last(person)
        before = Person.objects.values_list("role", flat=True).get(pk=person.pk)
        Person.objects.filter(pk=person.pk).update(role=role)
        person.role = role
        record(
            act="role changed",
            by=by,
            now=now,
            subject=person.subject,
            facts={"person": person.full_name, "from": before, "to": str(role)},
        )


def deactivate_person(*, by: Person, now: datetime, person: Person) -> None:
    """Close a person's access at once; what they did keeps their name."""
    organisation = _organisation_of(person)
    check_administrator(by, organisation)
    with transaction.atomic():
        _lock(organisation)
        _check_not_last(person)
        _set_active(person, active=False)
        record(
            act="person deactivated",
            by=by,
            now=now,
            subject=person.subject,
            facts={"person": person.full_name},
        )


def reactivate_person(*, by: Person, now: datetime, person: Person) -> None:
    """Open a deactivated person's access again."""
    check_administrator(by, _organisation_of(person))
    with transaction.atomic():
        _set_active(person, active=True)
        record(
            act="person reactivated",
            by=by,
            now=now,
            subject=person.subject,
            facts={"person": person.full_name},
        )


def renew_secret(*, by: Person, now: datetime, person: Person, secret: str) -> None:
    """Give a person who lost theirs a new initial secret; it ends their sessions."""
    check_administrator(by, _organisation_of(person))
    if by.pk == person.pk:
        raise PeopleError("Change your own secret on its page, where the present one is asked for.")
    with transaction.atomic():
        set_secret(person, secret=secret, present=None, initial=True)
        record(
            act="secret renewed by administrator",
            by=by,
            now=now,
            subject=person.subject,
            facts={"person": person.full_name},
        )


def change_own_secret(*, by: Person, now: datetime, present: str, secret: str) -> None:
    """Replace one's own secret; sessions that were opened with the old one end."""
    check_present(by=by, now=now, present=present)
    if present == secret:
        raise PeopleError("The new secret is the present one; choose another.")
    with transaction.atomic():
        set_secret(by, secret=secret, present=present, initial=False)
        record(act="own secret changed", by=by, now=now, subject=by.subject)


def choose_units(*, by: Person, now: datetime, units: Mapping[str, str]) -> None:
    """Choose the units in which one sees and types quantities."""
    for quantity, symbol in units.items():
        choices = dict(CHOICES).get(quantity, ())  # type: ignore[call-overload]
        if symbol not in choices:
            raise PeopleError(f"Unit of {quantity} is {symbol[:20]!r}; choose one of {', '.join(choices) or 'none'}.")
    with transaction.atomic():
        by.units = dict(units)
        by.save(update_fields=["units"])
        record(act="units chosen", by=by, now=now, subject=by.subject, facts=dict(units))


def choose_zone(*, by: Person, now: datetime, zone: str) -> None:
    """Choose the zone in which one reads and types times: UTC where empty, or that of the terminal or the ship."""
    told = zone if zone in ZONES_OF_PAGES else checked_zone(zone)
    with transaction.atomic():
        by.zone = told
        by.save(update_fields=["zone"])
        record(act="zone chosen", by=by, now=now, subject=by.subject, facts={"zone": told or UTC_NAME})


def choose_notices(*, by: Person, now: datetime, email: str, notices: Notices) -> None:
    """Choose where mail about acts of others goes, and about which of them."""
    with transaction.atomic():
        by.email, by.notices = email.strip(), notices
        by.save(update_fields=["email", "notices"])
        facts: dict[str, Fact] = {"mail_address": bool(by.email), "notices": str(notices)}
        record(act="notices chosen", by=by, now=now, subject=by.subject, facts=facts)


def _make_person(
    *,
    by: Person,
    now: datetime,
    organisation: Organisation,
    username: str,
    full_name: str,
    title: str,
    role: Role,
    secret: str,
) -> Person:
    person = Person(
        username=checked_username(username),
        full_name=full_name.strip(),
        title=title.strip(),
        organisation=organisation,
        role=role,
    )
    check_secret(secret, person)  # before the row is there, so that a refusal leaves none
    person.set_unusable_password()
    person.save(force_insert=True)
    set_secret(person, secret=secret, present=None, initial=True)
    record(
        act="person added",
        by=by,
        now=now,
        subject=person.subject,
        facts={"person": person.full_name, "organisation": organisation.name, "role": str(role)},
    )
    return person


def checked_username(username: str) -> str:
    """Return a username as it is kept; raise PeopleError for other characters or one that is taken."""
    username = Person.normalize_username(username.strip())
    try:
        UnicodeUsernameValidator()(username)
    except ValidationError:
        raise PeopleError(f"Username {username[:40]!r} may hold letters, digits and @ . + - _ only.") from None
    if Person.objects.filter(username__iexact=username).exists():
        raise PeopleError(f"Username {username} is taken; choose another.")
    return username


def _organisation_of(person: Person) -> Organisation:
    if person.organisation is None:
        raise PeopleError(f"{person} belongs to no organisation.")
    return person.organisation


def _lock(organisation: Organisation) -> None:
    # Two administrators who remove each other at the same moment must not both succeed.
    Organisation.objects.select_for_update().get(pk=organisation.pk)


def _check_not_last(person: Person) -> None:
    others = Person.objects.filter(organisation=person.organisation, role=Role.ADMINISTRATOR, is_active=True).exclude(
        pk=person.pk
    )
    if not others.exists():
        raise PeopleError(f"{person} is the last administrator of {person.organisation}; make another one first.")


def _set_active(person: Person, *, active: bool) -> None:
    # A higher session number ends every session, so that none comes back when access is opened again.
    changes = {"is_active": active, "session_number": F("session_number") + 1}
    if not Person.objects.filter(pk=person.pk, is_active=not active).update(**changes):
        raise PeopleError(f"{person} is already {'active' if active else 'deactivated'}.")
    person.is_active = active
