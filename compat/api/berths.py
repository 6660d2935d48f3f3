"""Berths and what is stated about them; line data that a terminal keeps to itself is not told."""

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
from terminals import actions
from terminals.facts import BerthFacts
from terminals.models import Berth, Terminal
from terminals.queries import (
    berth_list,
    berths_seen_by,
    latest_revision,
    own_terminals,
    sees_line_data,
    terminals_seen_by,
)

router = Router(tags=["berths"])
writes = TokenAccess(Scope.BERTHS)


class TerminalOut(Schema):
    """A terminal and its operator."""

    id: UUID
    name: str
    port: str
    operator: str

    @staticmethod
    def resolve_id(terminal: Terminal) -> UUID:
        """Return the public name of the terminal."""
        return terminal.public_id

    @staticmethod
    def resolve_operator(terminal: Terminal) -> str:
        """Return the name of the organisation."""
        return str(terminal.organisation)


class BerthOut(Schema):
    """A berth on the list."""

    id: UUID
    name: str
    terminal: TerminalOut
    line_data_shared: bool

    @staticmethod
    def resolve_id(berth: Berth) -> UUID:
        """Return the public name of the berth."""
        return berth.public_id


class BerthFactsOut(Schema):
    """A berth and what is stated about it: everything, or its size only where the terminal keeps the rest."""

    id: UUID
    name: str
    revision: RevisionOut
    line_data_kept: bool
    facts: dict[str, Any]


@router.get("/terminals", response={200: list[TerminalOut], **REFUSALS}, auth=read_only, summary="List terminals")
@paginate(Pages)
def list_terminals(request: HttpRequest) -> QuerySet[Terminal]:
    """Every terminal, by name."""
    return terminals_seen_by(person_of_token(request))


@router.get("", response={200: list[BerthOut], **REFUSALS}, auth=read_only, summary="List berths")
@paginate(Pages)
def list_berths(request: HttpRequest, own: bool = False, search: str = "") -> QuerySet[Berth]:
    """Berths of every terminal, or of your own only."""
    rows = berth_list(person_of_token(request), own=own, archived=False)
    return rows.filter(name__icontains=search.strip()[:100])


@router.get("/{berth}", response={200: BerthFactsOut, **REFUSALS}, auth=read_only, summary="Read a berth")
def read_berth(request: HttpRequest, berth: UUID) -> BerthFactsOut:
    """What is stated about a berth, in its newest revision."""
    person = person_of_token(request)
    found = get_or_404(berths_seen_by(person), public_id=berth)
    stated, whole = latest_revision(found), sees_line_data(person, found)
    facts = stated.facts if whole else {key: stated.facts[key] for key in ("name", "size") if key in stated.facts}
    told = RevisionOut.from_orm(stated)
    return BerthFactsOut(id=found.public_id, name=found.name, revision=told, line_data_kept=not whole, facts=facts)


@router.post(
    "/terminals/{terminal}/berths",
    response={201: Made, **REFUSALS},
    auth=writes,
    summary="Add a berth",
    openapi_extra=takes(BerthFacts),
)
@once
def add_berth(request: HttpRequest, terminal: UUID, line_data_shared: bool = False, note: str = "") -> Made:
    """Add a berth to one of your terminals; its line data are kept unless you say that they are shared."""
    by = person_of_token(request)
    found = get_or_404(own_terminals(by), public_id=terminal)
    facts = document_of(request, BerthFacts)
    made = actions.add_berth(
        by=by, now=timezone.now(), terminal=found, facts=facts, line_data_shared=line_data_shared, note=note
    )
    return Made(id=made.public_id, revision=1)


@router.post(
    "/{berth}/revisions",
    response={201: Made, **REFUSALS},
    auth=writes,
    summary="Revise a berth",
    openapi_extra=takes(BerthFacts),
)
@once
def revise_berth(request: HttpRequest, berth: UUID, started_from: Number, note: str = "") -> Made:
    """Write the next revision; ``started_from`` is the number of the one that was read."""
    by = person_of_token(request)
    found = get_or_404(berths_seen_by(by), public_id=berth)
    facts = document_of(request, BerthFacts)
    made = actions.revise_berth(
        by=by, now=timezone.now(), berth=found, started_from=started_from, facts=facts, note=note
    )
    return Made(id=found.public_id, revision=made.number)
