"""Acts on assessments. Each is one transaction with its row in the trail, and asks itself whether the person may."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from compat.assessing.models import Assessment
from compat.assessing.queries import may_assess
from compat.case.answer_parts import Answer
from compat.case.case_file import CaseFile, case_document
from compat.case.composing import Setting, compose_case
from compat.surge.limiting import answer_within_surge, times_within, with_times
from shared.calc.errors import InputError
from shared.models import Organisation, Person
from shared.permissions import NotAllowedError, check_acts_for
from shared.revisions import facts_sha256
from shared.trail import Fact, record
from terminals.models import Berth, BerthRevision
from vessels.models import Vessel, VesselRevision


def check_may_assess(person: Person) -> Organisation:
    """Return the person's organisation; raise NotAllowedError unless they act for a ship operator."""
    if not may_assess(person) or person.organisation is None:
        raise NotAllowedError("Only a ship operator's administrators and officers store assessments.")
    return person.organisation


def make_assessment(*, by: Person, now: datetime, vessel: Vessel, berth: Berth, setting: Setting) -> Assessment:
    """Assess one of the organisation's ships at a berth, on the newest data of both.

    Raises CaseError for a setting that does not fit ship or berth, InputError for one that is archived or has no data.
    """
    check_may_assess(by)
    check_acts_for(by, vessel.organisation)
    ship_data, berth_data = vessel.revisions.first(), berth.revisions.first()
    if ship_data is None or berth_data is None:
        raise InputError(f"{berth if ship_data else vessel} has no data yet; enter them before assessing.")
    if vessel.archived or berth.archived:
        raise InputError(f"{vessel if vessel.archived else berth} is archived; restore it before assessing.")
    return store_assessment(by=by, now=now, ship_data=ship_data, berth_data=berth_data, setting=setting, about={})


def keep_variant(*, by: Person, now: datetime, assessment: Assessment, setting: Setting) -> Assessment:
    """Store a variant of an assessment, on the same revisions of ship and berth, as an assessment of its own."""
    check_may_assess(by)
    check_acts_for(by, assessment.organisation)
    return store_assessment(
        by=by,
        now=now,
        ship_data=assessment.vessel_revision,
        berth_data=assessment.berth_revision,
        setting=setting,
        about={"variant_of": str(assessment.public_id)},
    )


def worked_out(case: CaseFile) -> Answer:
    """Return the answer that an assessment stores: within what surge allows, with the shortest closing times."""
    within = answer_within_surge(case)
    return with_times(within, times_within(within, safe=False))


def store_assessment(
    *,
    by: Person,
    now: datetime,
    ship_data: VesselRevision,
    berth_data: BerthRevision,
    setting: Setting,
    about: dict[str, Fact],
) -> Assessment:
    """Store an assessment on given revisions, for an act that has asked whether it may."""
    case = compose_case(ship_data.ship_facts(), berth_data.berth_facts(), setting)
    answer = worked_out(case)  # before the transaction: with surge it takes seconds, and nobody else could write
    facts: dict[str, Fact] = {
        "title": case.title,
        "ship": str(ship_data.vessel),
        "ship_revision": ship_data.number,
        "berth": str(berth_data.berth),
        "berth_revision": berth_data.number,
        "case_sha256": facts_sha256(case),
        "outcome": answer.outcome,
        "binding": answer.binding,
    }
    with transaction.atomic():
        made = Assessment.objects.create(
            organisation=ship_data.vessel.organisation,
            title=case.title,
            vessel_revision=ship_data,
            berth_revision=berth_data,
            case=case_document(case),
            answer=answer.document(),
            made_by=by,
            made_at=now,
        )
        record(act="assessment made", by=by, now=now, subject=f"assessment:{made.public_id}", facts=facts | about)
    return made
