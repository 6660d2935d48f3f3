"""What pages read about assessments. An assessment exists only for the people of the organisation that made it."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import QuerySet

from compat.assessing.models import Assessment
from shared.models import Person
from shared.permissions import acts_for
from shared.roles import Kind
from terminals.models import Berth
from terminals.queries import berths_seen_by
from vessels.models import Vessel
from vessels.queries import vessels_seen_by


@dataclass(frozen=True)
class Revised:
    """A newer revision of the ship or the berth than the one that was assessed."""

    subject: str
    assessed: int
    newest: int


def assessments_seen_by(person: Person) -> QuerySet[Assessment]:
    """Return the assessments of the person's own organisation."""
    if not person.is_active or person.organisation_id is None:
        return Assessment.objects.none()
    return Assessment.objects.filter(organisation=person.organisation_id).select_related(
        "organisation", "made_by", "vessel_revision__vessel", "berth_revision__berth__terminal"
    )


def ships_to_assess(person: Person) -> QuerySet[Vessel]:
    """Return the ships of the person's own organisation that stand on its list and have data."""
    return vessels_seen_by(person).filter(archived=False, revisions__isnull=False).distinct()


def berths_to_assess(person: Person) -> QuerySet[Berth]:
    """Return the berths of every terminal that stand on its list and have data."""
    return berths_seen_by(person).filter(archived=False, revisions__isnull=False).distinct()


def may_assess(person: Person) -> bool:
    """Tell whether the person stores assessments: administrators and officers of ship operators do."""
    organisation = person.organisation
    return organisation is not None and organisation.kind == Kind.SHIP and acts_for(person, organisation)


def revised_since(assessment: Assessment) -> list[Revised]:
    """Return ship and berth where they were revised after the assessment was made."""
    vessel, berth = assessment.vessel_revision.vessel, assessment.berth_revision.berth
    pairs = (
        (str(vessel), assessment.vessel_revision.number, vessel.revisions),
        (str(berth), assessment.berth_revision.number, berth.revisions),
    )
    found = [
        (subject, number, revisions.values_list("number", flat=True).first()) for subject, number, revisions in pairs
    ]
    return [Revised(subject, number, newest) for subject, number, newest in found if newest and newest > number]
