"""The trail's page, and its export as files that verify elsewhere."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.db import transaction
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from shared.http import person_of
from shared.lists import listing
from shared.models import TrailRow
from shared.trail import Fact, clock_set_back, facts_of, record, rows_for, trail_head, verify_trail
from shared.trail_files import as_csv, as_lines
from shared.trail_search import TrailForm

_ROWS_ON_A_PAGE = 50


@require_GET
def trail_page(request: HttpRequest) -> HttpResponse:
    """Show the acts that this person may read, newest first."""
    form = TrailForm(request.GET)
    rows = form.narrow(rows_for(person_of(request)))
    asked = form.kept()
    found = listing(
        request,
        rows,
        keep={name: value for name, value in asked.items() if name != "search"},
        rows_on_a_page=_ROWS_ON_A_PAGE,
    )
    context: dict[str, Any] = {
        "form": form,
        "asked": asked,
        "query": urlencode(asked),
        "list": found,
        "rows": [(row, facts_of(row)) for row in found.page],
    }
    if "check" in request.GET:
        context |= {"checked": True, "broken": verify_trail(), "head": trail_head(), "set_back": clock_set_back()}
    return render(request, "shared/trail.html", context)


@require_GET
def export_csv(request: HttpRequest) -> HttpResponseBase:
    """Give what was looked for as CSV."""
    return _export(request, as_csv, "text/csv; charset=utf-8", "csv")


@require_GET
def export_lines(request: HttpRequest) -> HttpResponseBase:
    """Give what was looked for as lines of JSON."""
    return _export(request, as_lines, "application/jsonl; charset=utf-8", "jsonl")


def _export(
    request: HttpRequest, write: Callable[[QuerySet[TrailRow]], Iterator[str]], content_type: str, ending: str
) -> HttpResponseBase:
    """Stream the rows up to the present head, and note in the trail that they were taken out."""
    person, form = person_of(request), TrailForm(request.GET)
    if not form.is_valid():
        for errors in form.errors.values():
            messages.error(request, " ".join(str(error) for error in errors))
        return redirect("trail")
    position, _ = trail_head()
    rows = form.narrow(rows_for(person)).filter(position__lte=position)
    with transaction.atomic():
        facts: dict[str, Fact] = {"rows": rows.count(), "up_to_row": position, "asked_for": dict(form.kept())}
        record(act="trail exported", by=person, now=timezone.now(), subject=person.subject, facts=facts)
    name = f"trail-up-to-row-{position}.{ending}"
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return StreamingHttpResponse(write(rows), content_type=content_type, headers=headers)
