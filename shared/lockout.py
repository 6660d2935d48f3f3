"""Closes a door for a while after wrong secrets: for the name that was typed, and for the address that typed them."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.conf import settings
from django.db import transaction
from django.http import HttpRequest

from shared.calc.errors import AccordError
from shared.factor_models import SignInAttempt
from shared.models import Person
from shared.trail import record

LOCK_TIME = timedelta(minutes=15)
MOST_BY_NAME = 5
MOST_BY_ADDRESS = 30  # a whole ship or control room may share one address
_KEPT = timedelta(days=1)


class LockedError(AccordError):
    """Too many wrong secrets: nobody is let in by this name or from this address for a while."""


def address_of(request: HttpRequest) -> str:
    """Return the address that asks: as the proxy in front names it where there is one, else the connection's own."""
    if settings.SECURE_PROXY_SSL_HEADER:
        forwarded = request.headers.get("X-Forwarded-For", "").rsplit(",", 1)[-1].strip()
        if forwarded:
            return forwarded[:45]
    return str(request.META.get("REMOTE_ADDR", ""))[:45]


def begin_attempt(*, name: str, address: str, now: datetime) -> SignInAttempt:
    """Count an attempt before its secret is compared, so that guesses sent at once are all counted.

    Raises LockedError, with the time of release, where name or address had too many. Delete the attempt, or call
    ``forget_attempts``, when the secret was right.
    """
    with transaction.atomic():
        until = locked_until(name=name, address=address, now=now)
        if until is not None:
            raise LockedError(
                f"Too many wrong secrets or codes were typed for this name or from this place."
                f" Nothing was checked; try again after {until:%H:%M} UTC."
            )
        SignInAttempt.objects.filter(at__lt=now - _KEPT).delete()
        return SignInAttempt.objects.create(name=_key(name), address=address, at=now)


def forget_attempts(name: str) -> None:
    """Forget the wrong attempts of a name, whose person is in now."""
    SignInAttempt.objects.filter(name=_key(name)).delete()


def note_wrong(*, name: str, now: datetime) -> None:
    """Write into the trail that a name is locked, when the attempt just failed was the last one allowed."""
    if _wrong(now, name=_key(name)) != MOST_BY_NAME:
        return
    person = Person.objects.filter(username__iexact=name.strip()).first()
    if person is not None:
        minutes = int(LOCK_TIME.total_seconds() // 60)
        with transaction.atomic():
            facts = {"wrong_secrets": MOST_BY_NAME, "locked_minutes": minutes}
            record(act="sign-in locked", by=None, now=now, subject=person.subject, facts=facts)


def locked_until(*, name: str, address: str, now: datetime) -> datetime | None:
    """Return until when name or address is locked, or None."""
    ends = [_end(now, MOST_BY_NAME, name=_key(name))]
    if address:
        ends.append(_end(now, MOST_BY_ADDRESS, address=address))
    return max((end for end in ends if end is not None), default=None)


def _end(now: datetime, most: int, **who: str) -> datetime | None:
    """Return when the lock after the last ``most`` wrong attempts within the lock time ends, if it has not yet."""
    times = list(SignInAttempt.objects.filter(at__lte=now, **who).order_by("-at").values_list("at", flat=True)[:most])
    if len(times) < most or times[0] - times[-1] > LOCK_TIME:
        return None
    until = times[0] + LOCK_TIME
    return until if until > now else None


def _wrong(now: datetime, **who: str) -> int:
    return SignInAttempt.objects.filter(at__gt=now - LOCK_TIME, at__lte=now, **who).count()


def _key(name: str) -> str:
    return name.strip().lower()[:150]
