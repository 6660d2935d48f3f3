"""The act of signing: a person enters their own secret again, and the second side's signature makes the plan."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.conf import settings
from django.db import transaction

from compat.accord.checklist.item import Side
from compat.accord.models import Accord, Plan, SecretAttempt, Signature
from compat.accord.moving import MeanwhileError, locked, move
from compat.accord.permissions import check_signing_side
from compat.accord.plan_document import STATEMENTS
from compat.accord.plan_file import SignedStatement, envelope, signature_statement
from compat.accord.states import Move, State, rule_for
from shared.calc.errors import AccordError, InputError
from shared.models import Person
from shared.signing import SigningKey, load_or_make_key
from shared.trail import Fact, record

MOST_WRONG_SECRETS = 5
LOCK_TIME = timedelta(minutes=15)
LONGEST_TITLE = 120


class WrongSecretError(AccordError):
    """The secret typed to sign was not this person's."""


class SigningLockedError(AccordError):
    """Too many wrong secrets: this person can't sign for a while."""


@dataclass(frozen=True)
class Signed:
    """What a signature led to; ``plan`` is there once both sides have signed."""

    signature: Signature
    plan: Plan | None


def sign(*, by: Person, now: datetime, accord: Accord, secret: str, title: str, seen_sha256: str) -> Signed:
    """Sign the settled bytes for the person's side; the second side's signature puts the plan in force.

    ``secret`` is the person's own, asked for again; ``seen_sha256`` names the bytes that they had before them.
    Raises WrongSecretError, SigningLockedError, MoveError, or MeanwhileError if other bytes are settled by now.
    """
    side = check_signing_side(by, accord)
    rule_for(Move.SIGN, State(accord.state), side)
    office = _checked_title(title)
    _check_secret(by=by, now=now, accord=accord, secret=secret)
    key = load_or_make_key(settings.SIGNING_KEY_FILE)
    with transaction.atomic():
        accord = locked(accord)
        rule = rule_for(Move.SIGN, State(accord.state), side)
        _check_seen(accord, seen_sha256)
        signature = _signature(accord, side, key, by=by, now=now, title=office)
        move(accord, Move.SIGN, side, now=now)
        facts: dict[str, Fact] = {"side": str(side), "title": office, "payload_sha256": accord.payload_sha256}
        record(act="plan signed", by=by, now=now, subject=accord.subject, facts=facts)
        plan = _put_in_force(accord, key, by=by, now=now) if rule.target is State.IN_FORCE else None
    return Signed(signature, plan)


def public_key_pem() -> str:
    """Return the installation's public key, with which anyone verifies its plans."""
    return load_or_make_key(settings.SIGNING_KEY_FILE).public_key_pem()


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


def _check_secret(*, by: Person, now: datetime, accord: Accord, secret: str) -> None:
    """Count the attempt before the secret is compared, so that guesses sent at once are all counted."""
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
        record(act="wrong secret at signing", by=by, now=now, subject=accord.subject, facts=facts)
    left = MOST_WRONG_SECRETS - wrong
    warning = f"{left} {'try' if left == 1 else 'tries'} left." if left > 0 else "Signing is locked for 15 minutes."
    raise WrongSecretError(f"This is not your secret; nothing was signed. {warning}")


def _checked_title(title: str) -> str:
    office = title.strip()
    if not office:
        raise InputError("Title is missing; write the office in which you sign, such as Chief Officer.")
    if len(office) > LONGEST_TITLE:
        raise InputError(f"Title has {len(office)} characters; allowed: up to {LONGEST_TITLE}. Shorten it.")
    return office


def _check_seen(accord: Accord, seen_sha256: str) -> None:
    if accord.payload_sha256 != seen_sha256:
        raise MeanwhileError(
            "Meanwhile the accord was taken back and settled anew, so these are other figures than those you had before"
            " you. Nothing was signed; read them, then sign."
        )


def _signature(accord: Accord, side: Side, key: SigningKey, *, by: Person, now: datetime, title: str) -> Signature:
    organisation = accord.party(side).name
    statement = signature_statement(
        payload_sha256=accord.payload_sha256,
        side=side,
        person=by.full_name,
        organisation=organisation,
        title=title,
        signed_at=now,
        statement=STATEMENTS[side],
    )
    signature: Signature = accord.signatures.create(
        payload_sha256=accord.payload_sha256,
        side=side,
        person=by,
        person_name=by.full_name,
        person_title=title,
        organisation_name=organisation,
        statement=statement,
        signature=key.sign(statement),
        signed_at=now,
    )
    return signature


def _put_in_force(accord: Accord, key: SigningKey, *, by: Person, now: datetime) -> Plan:
    """Make the plan from the bytes that both sides signed, and let it take the place of the one that it amends."""
    signatures = list(accord.signatures.filter(void_at=None).order_by("signed_at", "id"))
    statements = [SignedStatement(bytes(one.statement), one.signature) for one in signatures]
    payload = bytes(accord.payload or b"")
    plan = Plan.objects.create(
        accord=accord,
        number=accord.plan_number,
        payload=payload,
        sha256=accord.payload_sha256,
        envelope=envelope(payload, statements, key.public_key_pem()),
        signed_first_at=signatures[0].signed_at,
        signed_last_at=signatures[-1].signed_at,
    )
    facts: dict[str, Fact] = {"plan_number": plan.number, "payload_sha256": plan.sha256}
    record(act="plan in force", by=by, now=now, subject=accord.subject, facts=facts)
    if accord.amends is not None:
        _supersede(accord.amends, plan, by=by, now=now)
    return plan


def _supersede(amended: Accord, plan: Plan, *, by: Person, now: datetime) -> None:
    earlier = locked(amended)
    if earlier.state != State.IN_FORCE:
        return  # withdrawn meanwhile: it says so already
    Plan.objects.filter(accord=earlier).update(superseded_by=plan)
    move(earlier, Move.SUPERSEDE, None, now=now)
    facts: dict[str, Fact] = {
        "plan_number": earlier.plan_number,
        "superseded_by": plan.number,
        "payload_sha256": plan.sha256,
    }
    record(act="plan superseded", by=by, now=now, subject=earlier.subject, facts=facts)
