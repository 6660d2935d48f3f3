"""The trail, as far as the person of the token may read it."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db.models import QuerySet
from django.http import HttpRequest
from ninja import Router, Schema
from ninja.pagination import paginate

from compat.api.access import person_of_token, read_only
from compat.api.schemas import REFUSALS, Pages
from shared.models import TrailRow
from shared.trail import facts_of, rows_for

router = Router(tags=["trail"])


class TrailRowOut(Schema):
    """One act, with the hashes by which the chain is checked."""

    position: int
    at: datetime
    person: str
    organisation: str
    act: str
    subject: str
    facts: dict[str, Any]
    previous_sha256: str
    sha256: str

    @staticmethod
    def resolve_facts(row: TrailRow) -> dict[str, Any]:
        """Return the facts as they were recorded."""
        return facts_of(row)


@router.get("", response={200: list[TrailRowOut], **REFUSALS}, auth=read_only, summary="Read the trail")
@paginate(Pages)
def read_trail(request: HttpRequest, subject: str = "", act: str = "") -> QuerySet[TrailRow]:
    """Rows that you may read, newest first; of one subject or one act where these are named."""
    rows = rows_for(person_of_token(request))
    if subject:
        rows = rows.filter(subject=subject)
    return rows.filter(act=act) if act else rows
