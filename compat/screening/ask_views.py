"""What a screening leaves open, and whom to ask, as a page and as a file to send."""

from __future__ import annotations

from uuid import UUID

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from compat.screening import queries
from compat.screening.asking import Asked, Asking
from compat.screening.models import Screening
from compat.screening.pages import head, seen
from shared.http import person_of
from shared.lazy import Lazily
from shared.models import Person
from shared.sheet_files import Value, csv_bytes, download
from terminals.queries import sees_line_data

_ON_A_PAGE = 25
_HEADS = ("Whom", "About", "Question", "Pairs that wait for it", "Of them for nothing else")


@require_GET
def asks(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Show what to ask of whom, those first for whom most pairs wait."""
    row, person = seen(request, public_id), person_of(request)
    subjects = queries.subjects_of(row)
    asking = _asking(row, subjects, person)
    page = Paginator(asking.asked(), _ON_A_PAGE).get_page(request.GET.get("page"))
    listed = [(_called(subjects, one), one, asking.questions(one)) for one in page]
    context = {**head(request, row), "listed": [entry for entry in listed if entry[2]], "page": page}
    return render(request, "screening/asks.html", context)


@require_GET
def asks_file(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Send every question as CSV."""
    row, person = seen(request, public_id), person_of(request)
    subjects = queries.subjects_of(row)
    asking = _asking(row, subjects, person)
    lines: list[list[Value]] = [
        [*_called(subjects, one), question.text, question.pairs, question.alone]
        for one in asking.asked()
        for question in asking.questions(one)
    ]
    return download(csv_bytes(list(_HEADS), lines), f"{row.title}, what to ask", "csv")


def _asking(row: Screening, subjects: queries.Subjects, person: Person) -> Asking:
    return Asking(
        row.screening_terms(),
        queries.results_of(row),
        Lazily(subjects.ships, lambda one: one.ship_facts()),
        Lazily(subjects.berths, lambda one: one.berth_facts()),
        lambda place: sees_line_data(person, subjects.berths[place].berth),
    )


def _called(subjects: queries.Subjects, one: Asked) -> tuple[str, str]:
    """Return whom to ask, and about what."""
    if one.holder == "ship":
        ship = subjects.ships[one.place].vessel
        return str(ship.organisation), f"Ship {ship}"
    if one.holder == "terminal":
        berth = subjects.berths[one.place].berth
        return str(berth.terminal.organisation), f"Berth {berth}"
    return "Whoever screens", "The terms of this screening"
