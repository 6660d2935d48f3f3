"""Readings of transfer records: what a gauge system on board or ashore sends, and what was kept of it."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Annotated, Any
from uuid import UUID

from django.http import Http404, HttpRequest
from django.utils import timezone
from ninja import Router, Schema
from pydantic import Field

from compat.accord.permissions import visible_to
from compat.api.access import TokenAccess, person_of_token, read_only
from compat.api.once import once
from compat.api.schemas import REFUSALS, Made, Text, document_of, takes
from compat.api.scopes import Scope
from compat.record.chain import record_of
from compat.record.models import Reading, Source, TransferRecord
from compat.record.taking import standing_readings, take_reading
from shared.calc.errors import InputError
from shared.facts import Facts, OptionalText
from shared.http import get_or_404
from shared.quantities import exact
from shared.reading import DocumentError

router = Router(tags=["records"])
writes = TokenAccess(Scope.RECORDS)
MOST_VALUES = 60


class ReadingFacts(Facts):
    """One reading: when, and what was read, each in the unit of its key; a pump's values carry its key after a colon.

    ``confirmed`` keeps a reading that would be asked about; without it the questions are the refusal.
    """

    at: Annotated[str, Field(max_length=40, description="date, time and zone, such as 2026-03-21T14:30Z")]
    values: Annotated[dict[str, float], Field(max_length=MOST_VALUES)]
    remark: OptionalText = ""
    confirmed: bool = False

    def moment(self) -> datetime:
        """Return when it was read; raise InputError for a time without its zone."""
        try:
            found = datetime.fromisoformat(self.at)
        except ValueError:
            found = None
        if found is None or found.tzinfo is None:
            raise DocumentError([f"at is {self.at!r}; write date, time and zone, such as 2026-03-21T14:30Z."])
        return found


class ReadingOut(Schema):
    """A reading as it was kept; numbers in ``values`` are decimal text in the unit of their key."""

    id: UUID
    side: str
    at: datetime
    values: dict[str, str]
    by: Text
    drifted: bool
    doubts: list[str]
    comparison: dict[str, Any] | None

    @staticmethod
    def resolve_id(reading: Reading) -> UUID:
        """Return the name of the reading."""
        return reading.draft


def _record(request: HttpRequest, accord: UUID) -> TransferRecord:
    found = record_of(get_or_404(visible_to(person_of_token(request)), public_id=accord))
    if found is None:
        raise Http404
    return found


@router.get(
    "/{uuid:accord}/record/readings",
    response={200: list[ReadingOut], **REFUSALS},
    auth=read_only,
    summary="List readings of a record",
)
def list_readings(request: HttpRequest, accord: UUID, limit: int = 100, offset: int = 0) -> list[Reading]:
    """The readings that count, in order of time, each with its comparison; at most 500 at once."""
    first = max(offset, 0)
    return list(
        standing_readings(_record(request, accord)).select_related("by")[first : first + min(max(limit, 1), 500)]
    )


@router.post(
    "/{uuid:accord}/record/readings",
    response={201: Made, **REFUSALS},
    auth=writes,
    summary="Write a reading",
    openapi_extra=takes(ReadingFacts),
)
@once
def write_reading(request: HttpRequest, accord: UUID) -> Made:
    """Keep a reading for the side of the token's person, compared with the plan in force."""
    sent = document_of(request, ReadingFacts)
    values: dict[str, Decimal] = {key: exact(value) for key, value in sent.values.items()}
    if not values:
        raise InputError("values is empty; state at least one.")
    reading = take_reading(
        by=person_of_token(request),
        now=timezone.now(),
        record=_record(request, accord),
        at=sent.moment(),
        values=values,
        remark=sent.remark,
        confirmed=sent.confirmed,
        source=Source.INTERFACE,
    )
    return Made(id=reading.draft)
