"""Acts that let auditors read an accord, end that, and note each reading."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import IntegrityError, transaction

from compat.accord.models import Accord, AuditGrant
from compat.accord.moving import MeanwhileError
from compat.accord.permissions import can_be_granted, check_own_side, side_of
from shared.calc.errors import InputError
from shared.canonical import canonical_bytes
from shared.models import Organisation, Person, TrailRow
from shared.permissions import NotAllowedError
from shared.trail import Fact, name_in_trail, record

READING = "accord read by auditor"
ONE_READING = timedelta(hours=1)  # a page that is opened again meanwhile is the same reading


@transaction.atomic
def grant_audit(*, by: Person, now: datetime, accord: Accord, organisation: Organisation) -> AuditGrant:
    """Let the people of an audit organisation read this accord; either party may, each for itself."""
    side = check_own_side(by, accord)
    if not can_be_granted(organisation):
        raise InputError(f"{organisation} does not audit; choose an organisation that does.")
    try:
        with transaction.atomic():
            grant: AuditGrant = accord.audit_grants.create(
                organisation=organisation, granted_side=side, granted_by=by, granted_at=now
            )
    except IntegrityError as error:
        raise MeanwhileError(f"{organisation} may read this accord for the {side} already.") from error
    facts: dict[str, Fact] = {"side": str(side), "organisation": organisation.name}
    record(act="audit granted", by=by, now=now, subject=accord.subject, facts=facts)
    return grant


@transaction.atomic
def end_audit_grant(*, by: Person, now: datetime, grant: AuditGrant) -> None:
    """End what one's own side granted; what was read stays in the trail."""
    side = check_own_side(by, grant.accord)
    if grant.granted_side != side:
        raise NotAllowedError(
            f"The {grant.granted_side} let {grant.organisation} in, so the {grant.granted_side} ends it."
        )
    if AuditGrant.objects.filter(pk=grant.pk, ended_at=None).update(ended_at=now, ended_by=by) != 1:
        raise MeanwhileError(f"{grant.organisation} could not read this accord any more already; nothing was changed.")
    facts: dict[str, Fact] = {"side": str(side), "organisation": grant.organisation.name}
    record(act="audit grant ended", by=by, now=now, subject=grant.accord.subject, facts=facts)


def note_reading(*, by: Person, now: datetime, accord: Accord, what: str) -> None:
    """Write into the trail that an auditor read ``what`` of an accord, once in an hour; nothing for the parties."""
    if side_of(by, accord) is not None:
        return
    facts: dict[str, Fact] = {"read": what}
    noted = TrailRow.objects.filter(
        subject=accord.subject,
        act=READING,
        person=name_in_trail(by),
        facts=canonical_bytes(facts).decode(),
        at__gt=now - ONE_READING,
    )
    with transaction.atomic():
        if not noted.exists():
            record(act=READING, by=by, now=now, subject=accord.subject, facts=facts)
