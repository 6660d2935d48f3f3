"""The one place where a person's secret is set. Rooms that keep something under it follow the change from here."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction

from shared.calc.errors import InputError
from shared.models import Person

SecretFollower = Callable[[Person, str | None, str], None]
_followers: list[SecretFollower] = []


class PeopleError(InputError):
    """A change of people, organisations or secrets that can't be made."""


def follow_secret(follower: SecretFollower) -> SecretFollower:
    """Register ``follower(person, present, secret)``; it is called in the transaction that sets the secret.

    ``present`` is the secret that is replaced, or None where nobody typed it: at first, or when it was lost and an
    administrator gave a new one. What was locked with a lost secret can't be opened any more.
    """
    if follower not in _followers:
        _followers.append(follower)
    return follower


def check_secret(secret: str, person: Person) -> None:
    """Raise PeopleError for a secret that is short, common or like the person's name."""
    try:
        validate_password(secret, person)
    except ValidationError as error:
        raise PeopleError(" ".join(error.messages)) from None


@transaction.atomic
def set_secret(person: Person, *, secret: str, present: str | None, initial: bool) -> None:
    """Set the secret of a stored person and let every follower know; sessions opened with the old one end.

    ``initial`` says that somebody else chose it, so that the person has to replace it first of all.
    """
    check_secret(secret, person)
    person.set_password(secret)
    person.secret_is_initial = initial
    person.save(update_fields=["password", "secret_is_initial"])
    for follower in _followers:
        follower(person, present, secret)
