"""Makes the PDF of a plan in force, once, from its data file; the plan holds with or without it."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from compat.accord.models import Accord, Plan
from compat.accord.permissions import check_acting_side
from compat.accord.plan_pdf import plan_pdf
from shared.calc.errors import AccordError
from shared.canonical import sha256_hex
from shared.models import Person
from shared.trail import Fact, record


class NoPlanError(AccordError):
    """There is no plan yet: both sides have to sign first."""


def issue_pdf(*, by: Person, now: datetime, accord: Accord) -> Plan:
    """Make and keep the PDF of an accord's plan; one that is there already stays as it is.

    Raises PdfUnavailableError, which says what to install, where this machine can't make one.
    """
    check_acting_side(by, accord)
    plan = Plan.objects.filter(accord=accord).first()
    if plan is None:
        raise NoPlanError("There is no plan yet; it is made when both sides have signed.")
    if plan.pdf is not None:
        return plan
    pdf = plan_pdf(bytes(plan.envelope))
    with transaction.atomic():
        if Plan.objects.filter(pk=plan.pk, pdf=None).update(pdf=pdf, pdf_made_at=now) == 1:
            facts: dict[str, Fact] = {"plan_number": plan.number, "payload_sha256": plan.sha256}
            facts["pdf_sha256"] = sha256_hex(pdf)
            record(act="plan pdf made", by=by, now=now, subject=accord.subject, facts=facts)
    plan.refresh_from_db()
    return plan
