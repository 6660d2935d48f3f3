"""Ships and what is stated about them."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.http import HttpRequest
from django.utils import timezone
from ninja import Router, Schema
from ninja.pagination import paginate

from compat.api.access import TokenAccess, person_of_token, read_only
from compat.api.once import once
from compat.api.schemas import REFUSALS, Made, Number, Pages, RevisionOut, document_of, takes
from compat.api.scopes import Scope
from shared.http import get_or_404
from vessels import actions
from vessels.facts import ShipFacts
from vessels.models import Vessel
from vessels.queries import latest_revision, vessel_list, vessels_seen_by

router = Router(tags=["ships"])
writes = TokenAccess(Scope.SHIPS)


class ShipOut(Schema):
    """A ship on the list."""

    id: UUID
    name: str
    imo_number: str
    archived: bool
    revision: int | None

    @staticmethod
    def resolve_id(ship: Vessel) -> UUID:
        """Return the public name of the ship."""
        return ship.public_id


class ShipFactsOut(Schema):
    """A ship and the newest revision of what is stated about her, or the one asked for."""

    id: UUID
    name: str
    revision: RevisionOut
    facts: dict[str, Any]


@router.get("", response={200: list[ShipOut], **REFUSALS}, auth=read_only, summary="List ships")
@paginate(Pages)
def list_ships(request: HttpRequest, archived: bool = False, search: str = "") -> QuerySet[Vessel]:
    """Ships of your organisation, by name."""
    return vessel_list(person_of_token(request), archived=archived).filter(name__icontains=search.strip()[:100])


@router.get("/{ship}", response={200: ShipFactsOut, **REFUSALS}, auth=read_only, summary="Read a ship")
def read_ship(request: HttpRequest, ship: UUID, revision: Number | None = None) -> ShipFactsOut:
    """What is stated about a ship: the newest revision, or the one whose number is given."""
    found = get_or_404(vessels_seen_by(person_of_token(request)), public_id=ship)
    stated = get_or_404(found.revisions.all(), number=revision) if revision else latest_revision(found)
    told = RevisionOut.from_orm(stated)
    return ShipFactsOut(id=found.public_id, name=found.name, revision=told, facts=stated.facts)


@router.post("", response={201: Made, **REFUSALS}, auth=writes, summary="Add a ship", openapi_extra=takes(ShipFacts))
@once
def add_ship(request: HttpRequest, note: str = "") -> Made:
    """Add a ship with the first revision of what is stated about her."""
    facts = document_of(request, ShipFacts)
    made = actions.add_vessel(by=person_of_token(request), now=timezone.now(), facts=facts, note=note)
    return Made(id=made.public_id, revision=1)


@router.post(
    "/{ship}/revisions",
    response={201: Made, **REFUSALS},
    auth=writes,
    summary="Revise a ship",
    openapi_extra=takes(ShipFacts),
)
@once
def revise_ship(request: HttpRequest, ship: UUID, started_from: Number, note: str = "") -> Made:
    """Write the next revision; ``started_from`` is the number of the one that was read."""
    by = person_of_token(request)
    found = get_or_404(vessels_seen_by(by), public_id=ship)
    facts = document_of(request, ShipFacts)
    made = actions.revise_vessel(
        by=by, now=timezone.now(), vessel=found, started_from=started_from, facts=facts, note=note
    )
    return Made(id=found.public_id, revision=made.number)
