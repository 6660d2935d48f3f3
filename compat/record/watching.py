"""The act of taking over the watch of one side: signed with one's own key, like a plan."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import transaction

from compat.accord.checklist.item import Side
from compat.accord.cms_signature import Office
from compat.accord.keys import open_key
from compat.accord.own_secret import check_own_secret
from compat.accord.permissions import check_signing_side
from compat.accord.plan_document import utc_text
from compat.accord.signing_bytes import checked_title, signature_over
from compat.record.chain import current_accord, plan_in_force
from compat.record.models import TransferRecord, Watch
from compat.record.moving import check_open, locked
from shared import trail
from shared.calc.errors import InputError
from shared.canonical import BYTE_RULE, canonical_bytes, sha256_hex
from shared.models import Person
from shared.trail import check_clock

STATEMENT_TYPE = "berth-accord-watch"
LONGEST_REMARK = 300
SAYS: dict[Side, str] = {
    side: (
        f"I take over the watch as person in charge for the {side}. I have read the plan that is named here, its values"
        " and its stop procedure, the checks that are due and what is open, and was told by the one I relieve how the"
        " transfer stands."
    )
    for side in Side
}
"""What a signature at the change of watch certifies; 33 CFR 156.150(c)(5) asks each person in charge for one."""


@dataclass(frozen=True)
class Standing:
    """Who stands the watch of one side, and when relief is due; ``watch`` is None before anyone took it over."""

    side: Side
    watch: Watch | None
    relief_due: datetime | None
    overdue: bool


def standing_watch(record: TransferRecord, side: Side, now: datetime) -> Standing:
    """Return who stands the watch of a side, by the agreed length of a watch."""
    watch = record.watches.filter(side=side).defer("statement", "signature").last()
    if watch is None:
        return Standing(side, None, None, overdue=False)
    due = watch.at + timedelta(hours=record.arranged().watch_h)
    return Standing(side, watch, due, overdue=record.ended_at is None and now > due)


def take_watch(
    *,
    by: Person,
    now: datetime,
    record: TransferRecord,
    secret: str,
    title: str,
    remark: str = "",
    consents: bool = False,
) -> Watch:
    """Take over the watch of one's own side, signed with one's own key.

    Raises WrongSecretError, SigningLockedError, KeyNeededError, ClockError, and MeanwhileError once the record is
    frozen.
    """
    accord = record.accord
    side = check_signing_side(by, accord)
    office, told = Office(side, checked_title(title)), remark.strip()
    if len(told) > LONGEST_REMARK:
        raise InputError(f"The remark has {len(told)} characters; allowed: up to {LONGEST_REMARK}. Shorten it.")
    check_open(record)
    check_clock(now)
    check_own_secret(by=by, now=now, subject=accord.subject, secret=secret)
    key = open_key(by=by, now=now, organisation=accord.party(side).name, secret=secret, consents=consents)
    statement = _statement(record, office, told, by=by, now=now)
    signature = signature_over(statement, key, office, now=now)
    with transaction.atomic():
        record = locked(record)
        check_open(record)
        watch: Watch = record.watches.create(
            side=side,
            person=by,
            person_name=by.full_name,
            person_title=office.title,
            at=now,
            remark=told,
            statement=statement,
            signature=signature,
            certificate_sha256=key.certificate_sha256,
        )
        facts: dict[str, trail.Fact] = {
            "side": str(side),
            "title": office.title,
            "remark": told,
            "statement_sha256": sha256_hex(statement),
            "certificate_sha256": key.certificate_sha256,
        }
        trail.record(act="watch taken over", by=by, now=now, subject=accord.subject, facts=facts)
    return watch


def _statement(record: TransferRecord, office: Office, remark: str, *, by: Person, now: datetime) -> bytes:
    """Return the canonical bytes that are signed: who, for which side, under which plan, when, and what they say."""
    plan = plan_in_force(current_accord(record))
    document = {
        "type": STATEMENT_TYPE,
        "byte_rule": BYTE_RULE,
        "accord": str(record.accord.public_id),
        "reference": record.accord.reference,
        "plan": {"number": plan.number, "sha256": plan.sha256} if plan else None,
        "side": str(office.side),
        "person": by.full_name,
        "title": office.title,
        "organisation": record.accord.party(office.side).name,
        "at": utc_text(now),
        "remark": remark,
        "says": SAYS[office.side],
    }
    return canonical_bytes(document)
