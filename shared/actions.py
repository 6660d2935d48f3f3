"""Acts on people and organisations; each checks who may, and writes its trail row in its own transaction."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from django.contrib.auth.password_validation import validate_password
from django.contrib.auth.validators import UnicodeUsernameValidator
from django.core.exceptions import ValidationError
from django.db import transaction

from shared.calc.errors import InputError
from shared.models import Organisation, Person
from shared.permissions import check_administrator, check_runs_installation
from shared.quantities import CHOICES
from shared.roles import Kind, Role
from shared.trail import record


class PeopleError(InputError):
    """A change of people or organisations that can't be made."""


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
    _check_secret(secret, person)
    with transaction.atomic():
        person.set_password(secret)
        person.secret_is_initial = True
        person.save(update_fields=["password", "secret_is_initial"])
        record(
            act="secret renewed by administrator",
            by=by,
            now=now,
            subject=person.subject,
            facts={"person": person.full_name},
        )


def change_own_secret(*, by: Person, now: datetime, present: str, secret: str) -> None:
    """Replace one's own secret; sessions that were opened with the old one end."""
    if not by.check_password(present):
        raise PeopleError("The present secret is not right; type the one you signed in with.")
    if present == secret:
        raise PeopleError("The new secret is the present one; choose another.")
    _check_secret(secret, by)
    with transaction.atomic():
        by.set_password(secret)
        by.secret_is_initial = False
        by.save(update_fields=["password", "secret_is_initial"])
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
        username=_check_username(username),
        full_name=full_name.strip(),
        title=title.strip(),
        organisation=organisation,
        role=role,
        secret_is_initial=True,
    )
    _check_secret(secret, person)
    person.set_password(secret)
    person.save(force_insert=True)
    record(
        act="person added",
        by=by,
        now=now,
        subject=person.subject,
        facts={"person": person.full_name, "organisation": organisation.name, "role": str(role)},
    )
    return person


def _check_username(username: str) -> str:
    username = Person.normalize_username(username.strip())
    try:
        UnicodeUsernameValidator()(username)
    except ValidationError:
        raise PeopleError(f"Username {username[:40]!r} may hold letters, digits and @ . + - _ only.") from None
    if Person.objects.filter(username__iexact=username).exists():
        raise PeopleError(f"Username {username} is taken; choose another.")
    return username


def _check_secret(secret: str, person: Person) -> None:
    try:
        validate_password(secret, person)
    except ValidationError as error:
        raise PeopleError(" ".join(error.messages)) from None


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
    if not Person.objects.filter(pk=person.pk, is_active=not active).update(is_active=active):
        raise PeopleError(f"{person} is already {'active' if active else 'deactivated'}.")
    person.is_active = active
