"""Acts on tokens: each is one transaction with its row in the trail, and asks itself whether the person may."""

from __future__ import annotations

import secrets
from collections.abc import Collection
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import QuerySet

from compat.api.models import Token
from compat.api.scopes import Scope
from shared.calc.errors import InputError
from shared.canonical import sha256_hex
from shared.models import Organisation, Person
from shared.permissions import NotAllowedError, administers, check_member
from shared.trail import Fact, record

LONGEST_DAYS = 366
MOST_TOKENS = 20
_PREFIX = "accord_"
_LONGEST_NAME = 60


def tokens_seen_by(person: Person) -> QuerySet[Token]:
    """Return a person's own tokens; an administrator sees all of the organisation."""
    if not person.is_active or person.organisation is None:
        return Token.objects.none()
    tokens = Token.objects.filter(organisation=person.organisation).select_related("person")
    return tokens if administers(person, person.organisation) else tokens.filter(person=person)


@transaction.atomic
def make_token(*, by: Person, now: datetime, name: str, scopes: Collection[Scope], days: int) -> tuple[Token, str]:
    """Make a token that acts for the person; return it with its words, which are shown once and never stored.

    Raises InputError for no name, no scope or ``days`` outside 1 to LONGEST_DAYS.
    """
    organisation = _organisation_of(by)
    words = _PREFIX + secrets.token_urlsafe(32)
    token = Token.objects.create(
        organisation=organisation,
        person=by,
        name=_checked_name(name),
        sha256=sha256_hex(words.encode()),
        scopes=[str(scope) for scope in Scope if scope in _checked_scopes(scopes)],
        made_at=now,
        expires_at=now + timedelta(days=_checked_days(days)),
    )
    if Token.objects.filter(person=by, revoked_at=None, expires_at__gt=now).count() > MOST_TOKENS:
        raise InputError(f"You have {MOST_TOKENS} tokens that work; revoke one before making another.")
    facts: dict[str, Fact] = {
        "name": token.name,
        "scopes": list(token.scopes),
        "expires_at": token.expires_at.isoformat(),
    }
    record(act="token made", by=by, now=now, subject=f"token:{token.public_id}", facts=facts)
    return token, words


@transaction.atomic
def revoke_token(*, by: Person, now: datetime, token: Token) -> None:
    """End a token at once: its person may, and an administrator of the organisation."""
    if token.person_id != by.pk and not administers(by, token.organisation):
        raise NotAllowedError("Only the person of a token, or an administrator of the organisation, revokes it.")
    check_member(by, token.organisation)
    if not Token.objects.filter(pk=token.pk, revoked_at=None).update(revoked_at=now):
        raise InputError(f"The token {token} was revoked already; nothing was changed.")
    record(act="token revoked", by=by, now=now, subject=f"token:{token.public_id}", facts={"name": token.name})


def _organisation_of(person: Person) -> Organisation:
    if not person.is_active or person.organisation is None:
        raise NotAllowedError("Only people of an organisation make tokens.")
    return person.organisation


def _checked_name(name: str) -> str:
    text = name.strip()
    if not 1 <= len(text) <= _LONGEST_NAME:
        raise InputError(f"The name has {len(text)} characters; allowed: 1 to {_LONGEST_NAME}. Name the program.")
    return text


def _checked_scopes(scopes: Collection[Scope]) -> Collection[Scope]:
    if not scopes:
        raise InputError("No use is ticked; choose at least one thing that the token may be used for.")
    return scopes


def _checked_days(days: int) -> int:
    if not 1 <= days <= LONGEST_DAYS:
        raise InputError(f"A token of {days} days; allowed: 1 to {LONGEST_DAYS} days.")
    return days
