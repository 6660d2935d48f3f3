"""What pages read about ships. A ship exists only for the people of her own operator."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Max, QuerySet

from shared.changes import Change, ShowQuantity, changes
from shared.models import Person
from vessels.facts import ShipFacts
from vessels.models import Vessel, VesselRevision


@dataclass(frozen=True)
class HistoryEntry:
    """A revision and what it changed against the one before it."""

    revision: VesselRevision
    changes: list[Change]


def vessels_seen_by(person: Person) -> QuerySet[Vessel]:
    """Return the ships of the person's own organisation, archived ones too."""
    return Vessel.objects.filter(organisation=person.organisation_id).select_related("organisation")


def vessel_list(person: Person, *, archived: bool) -> QuerySet[Vessel]:
    """Return ships with the number and time of their newest revision."""
    seen = vessels_seen_by(person).filter(archived=archived)
    return seen.annotate(revision=Max("revisions__number"), revised_at=Max("revisions__made_at"))


def latest_revision(vessel: Vessel) -> VesselRevision:
    """Return the ship's newest revision."""
    return vessel.revisions.select_related("made_by").latest("number")


def history(vessel: Vessel, show: ShowQuantity, *, newest: int | None = None) -> list[HistoryEntry]:
    """Return the ship's revisions, newest first, each with what it changed; all of them or the ``newest`` few."""
    wanted = vessel.revisions.select_related("made_by").order_by("-number")
    rows = list(wanted if newest is None else wanted[: newest + 1])
    facts: list[ShipFacts | None] = [row.ship_facts() for row in rows] + [None]
    entries = []
    for row, after, before in zip(rows, facts, facts[1:], strict=False):
        found = changes(before, after, show) if after is not None and before is not None else []
        entries.append(HistoryEntry(row, found))
    return entries[:newest]
