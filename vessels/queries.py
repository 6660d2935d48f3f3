"""What pages read about ships. A ship exists only for the people of her own operator."""

from __future__ import annotations

from django.db.models import Max, QuerySet

from shared.models import Person
from vessels.models import Vessel, VesselRevision


def vessels_seen_by(person: Person) -> QuerySet[Vessel]:
    """Return the ships of the person's own organisation, archived ones too."""
    return Vessel.objects.filter(organisation=person.organisation_id).select_related("organisation")


def vessel_list(person: Person, *, archived: bool) -> QuerySet[Vessel]:
    """Return ships with the number and time of their newest revision."""
    seen = vessels_seen_by(person).filter(archived=archived)
    found = seen.annotate(revision=Max("revisions__number"), revised_at=Max("revisions__made_at"))
    return found.order_by("name", "pk")  # grouping drops the model's own order


def latest_revision(vessel: Vessel) -> VesselRevision:
    """Return the ship's newest revision."""
    return vessel.revisions.select_related("made_by").latest("number")
