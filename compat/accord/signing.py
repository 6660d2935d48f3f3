"""The act of signing: a person's own key, opened with their secret, signs the PDF and the data file.

The second side's signature makes the plan. Everything slow is done before the accord is locked.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from compat.accord.cms_signature import Office, merged
from compat.accord.ending import check_holds, supersede
from compat.accord.keys import OpenedKey, open_key
from compat.accord.models import Accord, Plan, Signature
from compat.accord.moving import MeanwhileError, locked, move
from compat.accord.own_secret import check_own_secret
from compat.accord.permissions import check_signing_side
from compat.accord.plan_document import STATEMENTS
from compat.accord.plan_file import read_plan
from compat.accord.plan_pdf import pdf_to_sign
from compat.accord.signing_bytes import checked_title, signed_over
from compat.accord.states import Move, State, rule_for
from shared.calc.errors import AccordError
from shared.canonical import sha256_hex
from shared.models import Person
from shared.trail import Fact, check_clock, record
from shared.trail_heads import keep_head


class _OtherSideSignedError(AccordError):
    """The other side signed while this signature was being made."""


@dataclass(frozen=True)
class Signed:
    """What a signature led to; ``plan`` is there once both sides have signed."""

    signature: Signature
    plan: Plan | None


@dataclass(frozen=True)
class _Made:
    """A signature as made, before it is kept: over which bytes, after which other signature, and what came of it."""

    payload_sha256: str
    after: int | None
    office: Office
    certificate_sha256: str
    cms: bytes
    pdf: bytes


def sign(
    *,
    by: Person,
    now: datetime,
    accord: Accord,
    secret: str,
    title: str,
    seen_sha256: str,
    consents: bool = False,
) -> Signed:
    """Sign the settled bytes for the person's side; the second side's signature puts the plan in force.

    ``secret`` is the person's own, asked for again; ``seen_sha256`` names the bytes that they had before them;
    ``consents`` that a signing key is made for them if they have none. Raises WrongSecretError, SigningLockedError,
    KeyNeededError, MoveError, ClockError, PdfUnavailableError, or MeanwhileError if other bytes are settled by now.
    """
    side = check_signing_side(by, accord)
    rule_for(Move.SIGN, State(accord.state), side)
    office = Office(side, checked_title(title))
    check_clock(now)
    check_own_secret(by=by, now=now, subject=accord.subject, secret=secret)
    _check_seen(accord, seen_sha256)
    organisation = accord.party(side).name
    key = open_key(by=by, now=now, organisation=organisation, secret=secret, consents=consents)
    try:
        return _keep(_make(accord, key, office, seen_sha256, by=by, now=now), accord, by=by, now=now)
    except _OtherSideSignedError:
        # Both signed the same bytes at the same moment: this one is made anew, after the other.
        return _keep(_make(accord, key, office, seen_sha256, by=by, now=now), accord, by=by, now=now)


def _make(accord: Accord, key: OpenedKey, office: Office, seen_sha256: str, *, by: Person, now: datetime) -> _Made:
    """Sign PDF and data file as they stand now; nothing is locked meanwhile, and nothing kept."""
    accord = Accord.objects.get(pk=accord.pk)
    rule_for(Move.SIGN, State(accord.state), office.side)
    check_holds(accord, now)
    _check_seen(accord, seen_sha256)
    earlier = accord.signatures.filter(void_at=None).first()
    file = read_plan(bytes(accord.payload or b""))
    before = _pdf_of(earlier) if earlier else pdf_to_sign(file)
    pdf, cms = signed_over(
        file, before, key, office, by=by, now=now, statement=STATEMENTS[office.side], first=earlier is None
    )
    return _Made(file.sha256, earlier.pk if earlier else None, office, key.certificate_sha256, cms, pdf)


def _pdf_of(earlier: Signature) -> bytes:
    if earlier.pdf is None:
        raise AccordError(
            "The other side signed with an earlier version of this program. Take the accord back to the table and"
            " settle it anew, so that both sign with keys of their own."
        )
    return bytes(earlier.pdf)


@transaction.atomic
def _keep(made: _Made, accord: Accord, *, by: Person, now: datetime) -> Signed:
    accord = locked(accord)
    side = made.office.side
    rule = rule_for(Move.SIGN, State(accord.state), side)
    _check_seen(accord, made.payload_sha256)
    earlier = accord.signatures.filter(void_at=None).first()
    if (earlier.pk if earlier else None) != made.after:
        raise _OtherSideSignedError
    signature: Signature = accord.signatures.create(
        payload_sha256=made.payload_sha256,
        side=side,
        person=by,
        person_name=by.full_name,
        person_title=made.office.title,
        organisation_name=accord.party(side).name,
        certificate_sha256=made.certificate_sha256,
        cms=made.cms,
        pdf=made.pdf,
        signed_at=now,
    )
    move(accord, Move.SIGN, side, now=now)
    facts: dict[str, Fact] = {
        "side": str(side),
        "title": made.office.title,
        "payload_sha256": made.payload_sha256,
        "certificate_sha256": made.certificate_sha256,
        "pdf_sha256": sha256_hex(made.pdf),
    }
    record(act="plan signed", by=by, now=now, subject=accord.subject, facts=facts)
    plan = _put_in_force(accord, signature, by=by, now=now) if rule.target is State.IN_FORCE else None
    return Signed(signature, plan)


def _put_in_force(accord: Accord, last: Signature, *, by: Person, now: datetime) -> Plan:
    """Make the plan from what both sides signed, and let it take the place of the one that it amends."""
    signatures = list(accord.signatures.filter(void_at=None).order_by("signed_at", "id"))
    file = read_plan(bytes(accord.payload or b""))
    head = file.payload["accord"]["trail"]
    plan = Plan.objects.create(
        accord=accord,
        number=accord.plan_number,
        payload=file.data,
        trail_position=head["position"],
        trail_sha256=head["sha256"],
        sha256=accord.payload_sha256,
        signatures=merged([bytes(one.cms or b"") for one in signatures]),
        pdf=last.pdf,
        signed_first_at=signatures[0].signed_at,
        signed_last_at=signatures[-1].signed_at,
    )
    facts: dict[str, Fact] = {
        "plan_number": plan.number,
        "payload_sha256": plan.sha256,
        "pdf_sha256": sha256_hex(bytes(plan.pdf or b"")),
    }
    keep_head(record(act="plan in force", by=by, now=now, subject=accord.subject, facts=facts))
    if accord.amends is not None:
        supersede(accord.amends, plan, by=by, now=now)
    return plan


def _check_seen(accord: Accord, seen_sha256: str) -> None:
    if accord.payload_sha256 != seen_sha256:
        raise MeanwhileError(
            "Meanwhile the accord was taken back and settled anew, so these are other figures than those you had before"
            " you. Nothing was signed; read them, then sign."
        )
