"""A person's own secret, asked for again when they sign: wrong ones are counted, and too many lock signing."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import transaction

from compat.accord.key_models import SecretAttempt
from shared.calc.errors import AccordError
from shared.models import Person
from shared.trail import Fact, record

MOST_WRONG_SECRETS = 5
LOCK_TIME = timedelta(minutes=15)


class WrongSecretError(AccordError):
    """The secret typed to sign was not this person's."""


class SigningLockedError(AccordError):
    """Too many wrong secrets: this person can't sign for a while."""


def locked_until(person: Person, now: datetime) -> datetime | None:
    """Return until when a person can't sign after too many wrong secrets, or None."""
    attempts = list(
        SecretAttempt.objects.filter(person=person, at__lte=now)
        .order_by("-at")
        .values_list("at", flat=True)[:MOST_WRONG_SECRETS]
    )
    if len(attempts) < MOST_WRONG_SECRETS or attempts[0] - attempts[-1] > LOCK_TIME:
        return None
    until = attempts[0] + LOCK_TIME
    return until if until > now else None


def check_own_secret(*, by: Person, now: datetime, subject: str, secret: str) -> None:
    """Raise WrongSecretError or SigningLockedError unless ``secret`` is the person's own.

    The attempt is counted before the secret is compared, so that guesses sent at once are all counted.
    """
    with transaction.atomic():
        Person.objects.select_for_update(of=("self",)).get(pk=by.pk)
        until = locked_until(by, now)
        if until is not None:
            raise SigningLockedError(
                f"{MOST_WRONG_SECRETS} wrong secrets were typed; you can sign again after {until:%H:%M} UTC."
            )
        attempt = SecretAttempt.objects.create(person=by, at=now)
    if by.check_password(secret):
        attempt.delete()
        return
    wrong = SecretAttempt.objects.filter(person=by, at__gt=now - LOCK_TIME, at__lte=now).count()
    with transaction.atomic():
        facts: dict[str, Fact] = {"wrong_in_15_minutes": wrong}
        record(act="wrong secret at signing", by=by, now=now, subject=subject, facts=facts)
    left = MOST_WRONG_SECRETS - wrong
    warning = f"{left} {'try' if left == 1 else 'tries'} left." if left > 0 else "Signing is locked for 15 minutes."
    raise WrongSecretError(f"This is not your secret; nothing was signed. {warning}")
