"""Acts on the second factor: passkeys, time codes, recovery codes, and an organisation that asks for them."""

from __future__ import annotations

import secrets
from datetime import datetime

import pyotp
from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils.crypto import salted_hmac
from pyotp.exceptions import OTPVerificationError

from shared.factor_models import Passkey, RecoveryCode, TimeCode
from shared.lockout import begin_attempt, note_wrong
from shared.models import Organisation, Person
from shared.own_secrets import PeopleError
from shared.passkeys import NewKey
from shared.permissions import check_administrator, check_runs_installation, runs_installation
from shared.sealing import seal, unseal
from shared.trail import Fact, record

CODES_ON_A_LIST = 10
STEPS_OF_GRACE = 1  # a phone's clock may be half a minute off (RFC 6238, section 5.2)
_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"  # none that is read for another
_LONGEST_NAME = 60


def has_second_factor(person: Person) -> bool:
    """Tell whether the person signs in with more than a secret."""
    return TimeCode.objects.filter(person=person).exists() or Passkey.objects.filter(person=person).exists()


def needs_second_factor(person: Person) -> bool:
    """Tell whether the organisation that a person acts for asks for a second factor."""
    return person.acting_for is not None and person.acting_for.second_factor_required


def new_time_secret() -> str:
    """Return a new secret for time codes, in base 32."""
    return pyotp.random_base32()


def time_code_address(person: Person, secret: str) -> str:
    """Return what an app for time codes reads off a picture."""
    return pyotp.TOTP(secret).provisioning_uri(name=person.username, issuer_name="Berth Accord")


@transaction.atomic
def set_up_time_codes(*, by: Person, now: datetime, secret: str, code: str) -> list[str]:
    """Let a person sign in with time codes, once a first code shows that their app has the secret.

    Returns the recovery codes that came with a first factor, else an empty list. The person's secret was asked for
    before (``check_present``).
    """
    step = _matching_step(secret, code, now)
    if step is None:
        raise PeopleError("This code does not fit; check the clock of the device, and type the code it shows now.")
    first = not has_second_factor(by)
    TimeCode.objects.update_or_create(
        person=by, defaults={"sealed_secret": seal(secret), "last_step": step, "made_at": now}
    )
    return _enrolled("time codes set up", by=by, now=now, first=first)


@transaction.atomic
def add_passkey(*, by: Person, now: datetime, key: NewKey, name: str, host: str) -> list[str]:
    """Let a person sign in with a key of their device; returns recovery codes with a first factor."""
    told = " ".join(name.split())
    if not told or len(told) > _LONGEST_NAME:
        raise PeopleError(f"The passkey's name has {len(told)} characters; allowed: 1 to {_LONGEST_NAME}.")
    first = not has_second_factor(by)
    try:
        with transaction.atomic():
            Passkey.objects.create(
                person=by,
                name=told,
                credential_id=key.credential_id,
                public_data=key.public_data,
                host=host,
                counter=key.counter,
                made_at=now,
            )
    except IntegrityError as error:
        raise PeopleError("This passkey is known here already.") from error
    return _enrolled("passkey added", by=by, now=now, first=first, passkey=told)


@transaction.atomic
def remove_passkey(*, by: Person, now: datetime, passkey: Passkey) -> None:
    """Take one of one's own passkeys off; the last factor stays while the organisation asks for one."""
    if passkey.person_id != by.pk:
        raise PeopleError("This passkey is somebody else's.")
    name = passkey.name
    passkey.delete()
    _removed("passkey removed", by=by, now=now, passkey=name)


@transaction.atomic
def remove_time_codes(*, by: Person, now: datetime) -> None:
    """Take one's own time codes off; the last factor stays while the organisation asks for one."""
    if not TimeCode.objects.filter(person=by).delete()[0]:
        raise PeopleError("There are no time codes to remove.")
    _removed("time codes removed", by=by, now=now)


@transaction.atomic
def make_recovery_codes(*, by: Person, now: datetime) -> list[str]:
    """Return a new list of recovery codes, shown once; those of the list before work no longer."""
    if not has_second_factor(by):
        raise PeopleError("Recovery codes stand in for a second factor; set one up first.")
    RecoveryCode.objects.filter(person=by).delete()
    codes = [f"{_letters(5)}-{_letters(5)}" for _ in range(CODES_ON_A_LIST)]
    RecoveryCode.objects.bulk_create(RecoveryCode(person=by, code_hash=_code_hash(by, code)) for code in codes)
    record(act="recovery codes made", by=by, now=now, subject=by.subject, facts={"codes": CODES_ON_A_LIST})
    return codes


def takes_code(*, person: Person, now: datetime, code: str) -> bool:
    """Tell whether a typed code is the person's time code of now or an unused recovery code, and use it up."""
    typed = "".join(code.split()).lower()
    if typed.isdecimal():
        return _use_time_code(person, typed, now)
    return _use_recovery_code(person, typed, now)


@transaction.atomic
def note_passkey_used(*, now: datetime, passkey: Passkey, counter: int) -> None:
    """Keep when a passkey was last used and how far its counter is."""
    Passkey.objects.filter(pk=passkey.pk).update(used_at=now, counter=counter)


def reset_second_factor(*, by: Person, now: datetime, person: Person) -> None:
    """Take every second factor off a person who lost theirs; an administrator does that, and it ends their sessions."""
    if person.acting_for is not None and not runs_installation(by):
        check_administrator(by, person.acting_for)
    else:
        check_runs_installation(by)
    if by.pk == person.pk:
        raise PeopleError("Remove your own second factor on the page of your sign-in, where your secret is asked for.")
    take_off_everything(person, by=by, now=now)


def take_off_everything(person: Person, *, by: Person | None, now: datetime) -> None:
    """Remove every second factor and end the person's sessions; ``by`` is None for the command of the installation."""
    with transaction.atomic():
        for model in (Passkey, TimeCode, RecoveryCode):
            model.objects.filter(person=person).delete()
        _end_sessions(person)
        facts: dict[str, Fact] = {"person": person.full_name}
        record(act="second factor reset", by=by, now=now, subject=person.subject, facts=facts)


def require_second_factor(*, by: Person, now: datetime, organisation: Organisation, required: bool) -> None:
    """Ask every member and guest of the organisation for a second factor, or no longer."""
    check_administrator(by, organisation)
    with transaction.atomic():
        changed = Organisation.objects.filter(pk=organisation.pk, second_factor_required=not required)
        if not changed.update(second_factor_required=required):
            raise PeopleError(f"{organisation} {'asks' if required else 'does not ask'} for a second factor already.")
        organisation.second_factor_required = required
        act = "second factor required" if required else "second factor no longer required"
        record(act=act, by=by, now=now, subject=organisation.subject, facts={"organisation": organisation.name})


def check_present(*, by: Person, now: datetime, present: str) -> None:
    """Raise PeopleError unless ``present`` is the person's secret; wrong ones count as at sign-in (LockedError)."""
    attempt = begin_attempt(name=by.username, address="", now=now)
    if not by.check_password(present):
        note_wrong(name=by.username, now=now)
        raise PeopleError("The present secret is not right; type the one you sign in with.")
    attempt.delete()


def _matching_step(secret: str, code: str, now: datetime) -> int | None:
    typed = "".join(code.split())
    try:
        return pyotp.TOTP(secret).verify_and_get_timecode(typed, for_time=now, valid_window=STEPS_OF_GRACE)
    except OTPVerificationError:
        return None


def _use_time_code(person: Person, code: str, now: datetime) -> bool:
    kept = TimeCode.objects.filter(person=person).first()
    step = _matching_step(unseal(kept.sealed_secret), code, now) if kept else None
    if kept is None or step is None:
        return False
    # A code that was seen over a shoulder must not work a second time (RFC 6238, section 5.2).
    return TimeCode.objects.filter(pk=kept.pk, last_step__lt=step).update(last_step=step) == 1


@transaction.atomic
def _use_recovery_code(person: Person, code: str, now: datetime) -> bool:
    unused = RecoveryCode.objects.filter(person=person, code_hash=_code_hash(person, code), used_at=None)
    if unused.update(used_at=now) != 1:
        return False
    left = RecoveryCode.objects.filter(person=person, used_at=None).count()
    record(act="recovery code used", by=person, now=now, subject=person.subject, facts={"left": left})
    return True


def _code_hash(person: Person, code: str) -> str:
    plain = code.replace("-", "").strip().lower()
    return salted_hmac(f"shared.factors.recovery.{person.pk}", plain, algorithm="sha256").hexdigest()


def _letters(count: int) -> str:
    return "".join(secrets.choice(_LETTERS) for _ in range(count))


def _enrolled(act: str, *, by: Person, now: datetime, first: bool, **facts: Fact) -> list[str]:
    """Record it, end sessions that were opened with less, and make recovery codes for a first factor."""
    record(act=act, by=by, now=now, subject=by.subject, facts=facts)
    _end_sessions(by)
    return make_recovery_codes(by=by, now=now) if first else []


def _removed(act: str, *, by: Person, now: datetime, **facts: Fact) -> None:
    if not has_second_factor(by):
        if needs_second_factor(by):
            raise PeopleError(f"{by.acting_for} asks for a second factor; add another one before you remove this one.")
        RecoveryCode.objects.filter(person=by).delete()
    record(act=act, by=by, now=now, subject=by.subject, facts=facts)
    _end_sessions(by)


def _end_sessions(person: Person) -> None:
    Person.objects.filter(pk=person.pk).update(session_number=F("session_number") + 1)
    person.refresh_from_db(fields=["session_number"])
