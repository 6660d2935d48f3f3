"""Acts that close a record: freeze it, open it again, and sign it for both sides, as a plan is signed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from compat.accord.checklist.item import Side
from compat.accord.cms_signature import Office, merged
from compat.accord.keys import OpenedKey, open_key
from compat.accord.models import AnswerChoice
from compat.accord.moving import MeanwhileError, checked_reason
from compat.accord.own_secret import check_own_secret
from compat.accord.permissions import check_acting_side, check_signing_side
from compat.accord.plan_document import utc_text
from compat.accord.plan_file import PlanFile, SignedBy, read_record
from compat.accord.signing_bytes import checked_title, signed_over
from compat.record.chain import current_accord
from compat.record.checking import closing_items
from compat.record.models import RecordSignature, TransferRecord
from compat.record.moving import locked, move
from compat.record.record_document import STATEMENTS, record_payload
from compat.record.record_pdf import pdf_to_sign
from compat.record.states import Move, State, rule_for
from compat.record.taking import standing_readings
from shared import trail
from shared.calc.errors import AccordError
from shared.canonical import canonical_bytes, sha256_hex
from shared.models import Person
from shared.trail import check_clock
from shared.trail_heads import keep_head


class NotCompleteError(AccordError):
    """Something is still to be answered before a record is signed; ``left`` holds one sentence for each thing."""

    def __init__(self, left: list[str]) -> None:
        super().__init__("The record is not ready to sign. " + " ".join(left))
        self.left = left


class _OtherSideSignedError(AccordError):
    """The other side signed while this signature was being made."""


def what_keeps_from_signing(record: TransferRecord) -> list[str]:
    """Return what is left to do before a record can be signed, one sentence for each thing."""
    return [*_open_drifts(record), *_open_items(record)]


def _open_drifts(record: TransferRecord) -> Iterator[str]:
    for reading in standing_readings(record).filter(drifted=True, answer=None):
        yield f"The {reading.side}'s reading of {reading.at:%d %B %H:%M} UTC drifted; one side explains it."


def _open_items(record: TransferRecord) -> Iterator[str]:
    latest = {(check.item_key, check.side): check for check in record.checks.order_by("id")}
    for item in closing_items(current_accord(record)):
        for side in item.answered_by:
            given = latest.get((item.key, side))
            if given is None:
                yield f"The {side} answers: {item.statement}"
            elif given.answer == AnswerChoice.NO and item.severity.must:
                yield f"The {side} answered “no” to a required item, and answers it again: {item.statement}"


@transaction.atomic
def settle_record(*, by: Person, now: datetime, record: TransferRecord) -> TransferRecord:
    """Freeze a record into the bytes that both sides sign; raise NotCompleteError with everything that is left."""
    side = check_acting_side(by, record.accord)
    record = locked(record)
    rule_for(Move.SETTLE, State(record.state), side)
    left = what_keeps_from_signing(record)
    if left:
        raise NotCompleteError(left)
    payload = canonical_bytes(record_payload(record, now=now))
    digest = sha256_hex(payload)
    move(record, Move.SETTLE, side, now=now, payload=payload, payload_sha256=digest)
    facts: dict[str, trail.Fact] = {"side": str(side), "payload_sha256": digest}
    trail.record(act="record settled", by=by, now=now, subject=record.accord.subject, facts=facts)
    return record


@transaction.atomic
def reopen_record(*, by: Person, now: datetime, record: TransferRecord, reason: str) -> TransferRecord:
    """Open a record again that is not signed by both yet; a signature given so far becomes void, with the reason."""
    side = check_acting_side(by, record.accord)
    record = locked(record)
    rule_for(Move.REOPEN, State(record.state), side)
    told = checked_reason(reason)
    voided = record.given.filter(void_at=None).update(void_at=now, void_by=by, void_reason=told)
    digest = record.payload_sha256
    move(record, Move.REOPEN, side, now=now, reason=told, payload=None, payload_sha256="")
    facts: dict[str, trail.Fact] = {"side": str(side), "reason": told, "payload_sha256": digest}
    facts |= {"signatures_voided": voided}
    trail.record(act="record opened again", by=by, now=now, subject=record.accord.subject, facts=facts)
    return record


def file_of(record: TransferRecord) -> PlanFile:
    """Return the frozen bytes of a record with who signed them so far."""
    frozen = TransferRecord.objects.values_list("payload", flat=True).get(pk=record.pk)
    signed = tuple(
        SignedBy(Side(one.side), one.person_name, one.person_title, utc_text(one.signed_at))
        for one in record.given.filter(void_at=None).defer("cms", "signed_pdf")
    )
    return read_record(bytes(frozen or b""), signed)


@dataclass(frozen=True)
class _Made:
    """A signature as made, before it is kept: over which bytes, after which other signature, and what came of it."""

    payload_sha256: str
    after: int | None
    office: Office
    certificate_sha256: str
    cms: bytes
    pdf: bytes


def sign_record(
    *,
    by: Person,
    now: datetime,
    record: TransferRecord,
    secret: str,
    title: str,
    seen_sha256: str,
    consents: bool = False,
) -> RecordSignature:
    """Sign a record that is ready for the person's side; the second side's signature closes it.

    ``secret`` is the person's own, asked for again; ``seen_sha256`` names the bytes that they had before them;
    ``consents`` that a signing key is made for them if they have none. Raises WrongSecretError, SigningLockedError,
    KeyNeededError, MoveError, ClockError, PdfUnavailableError, or MeanwhileError if other bytes are frozen by now.
    """
    accord = record.accord
    side = check_signing_side(by, accord)
    rule_for(Move.SIGN, State(record.state), side)
    office = Office(side, checked_title(title))
    check_clock(now)
    check_own_secret(by=by, now=now, subject=accord.subject, secret=secret)
    _check_seen(record, seen_sha256)
    key = open_key(by=by, now=now, organisation=accord.party(side).name, secret=secret, consents=consents)
    try:
        return _keep(_make(record, key, office, seen_sha256, by=by, now=now), record, by=by, now=now)
    except _OtherSideSignedError:
        # Both signed the same bytes at the same moment: this one is made anew, after the other.
        return _keep(_make(record, key, office, seen_sha256, by=by, now=now), record, by=by, now=now)


def _make(
    record: TransferRecord, key: OpenedKey, office: Office, seen_sha256: str, *, by: Person, now: datetime
) -> _Made:
    """Sign PDF and data file as they stand now; nothing is locked meanwhile, and nothing kept."""
    record = TransferRecord.objects.select_related("accord").get(pk=record.pk)
    rule_for(Move.SIGN, State(record.state), office.side)
    _check_seen(record, seen_sha256)
    earlier = record.given.filter(void_at=None).first()
    file = file_of(record)
    before = bytes(earlier.signed_pdf) if earlier else pdf_to_sign(file)
    pdf, cms = signed_over(
        file, before, key, office, by=by, now=now, statement=STATEMENTS[office.side], first=earlier is None
    )
    return _Made(file.sha256, earlier.pk if earlier else None, office, key.certificate_sha256, cms, pdf)


@transaction.atomic
def _keep(made: _Made, record: TransferRecord, *, by: Person, now: datetime) -> RecordSignature:
    record = locked(record)
    side = made.office.side
    rule = rule_for(Move.SIGN, State(record.state), side)
    _check_seen(record, made.payload_sha256)
    earlier = record.given.filter(void_at=None).first()
    if (earlier.pk if earlier else None) != made.after:
        raise _OtherSideSignedError
    signature: RecordSignature = record.given.create(
        payload_sha256=made.payload_sha256,
        side=side,
        person=by,
        person_name=by.full_name,
        person_title=made.office.title,
        organisation_name=record.accord.party(side).name,
        certificate_sha256=made.certificate_sha256,
        cms=made.cms,
        signed_pdf=made.pdf,
        signed_at=now,
    )
    facts: dict[str, trail.Fact] = {
        "side": str(side),
        "title": made.office.title,
        "payload_sha256": made.payload_sha256,
        "certificate_sha256": made.certificate_sha256,
        "pdf_sha256": sha256_hex(made.pdf),
    }
    trail.record(act="record signed", by=by, now=now, subject=record.accord.subject, facts=facts)
    if rule.target is State.CLOSED:
        _close(record, made, side, by=by, now=now)
    else:
        move(record, Move.SIGN, side, now=now)
    return signature


def _close(record: TransferRecord, made: _Made, side: Side, *, by: Person, now: datetime) -> None:
    given = list(record.given.filter(void_at=None).order_by("signed_at", "id"))
    both = merged([bytes(one.cms) for one in given])
    move(record, Move.SIGN, side, now=now, closed_at=now, signatures=both, pdf=made.pdf)
    facts: dict[str, trail.Fact] = {"payload_sha256": made.payload_sha256, "pdf_sha256": sha256_hex(made.pdf)}
    keep_head(trail.record(act="record closed", by=by, now=now, subject=record.accord.subject, facts=facts))


def _check_seen(record: TransferRecord, seen_sha256: str) -> None:
    if record.payload_sha256 != seen_sha256:
        raise MeanwhileError(
            "Meanwhile the record was opened again, so these are other bytes than those you had before you. Nothing was"
            " signed; read it, then sign."
        )
