"""What every page of a screening begins with."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.http import HttpRequest
from django.utils import timezone

from compat.screening import queries
from compat.screening.models import Screening
from compat.screening.showing import progress_of
from shared.http import get_or_404, person_of


def seen(request: HttpRequest, public_id: UUID) -> Screening:
    """Return a screening that the person sees, or raise Http404."""
    return get_or_404(queries.screenings_seen_by(person_of(request)), public_id=public_id)


def head(request: HttpRequest, row: Screening) -> dict[str, Any]:
    """Return what stands above every page of a screening."""
    person = person_of(request)
    return {
        **progress_of(row, timezone.now()),
        "may_work": queries.may_work_on(person, row),
        "is_maker": row.made_by_id == person.pk,
    }
