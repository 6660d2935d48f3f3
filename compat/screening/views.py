"""Pages of screenings: the list, a new one, its table, matrix, single pairs, what changed, files, and its acts."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from compat.assessing.actions import check_may_assess
from compat.assessing.queries import berths_to_assess, ships_to_assess
from compat.assessing.showing import answer_context
from compat.case.withholding import without_line_data
from compat.fit.showing import shown as fit_shown
from compat.fit.stored import sources_for
from compat.fit.withholding import without_arms
from compat.screening import actions, export, queries
from compat.screening.forms import TERMS, ChoiceForm, ShareForm
from compat.screening.pages import head, seen
from compat.screening.showing import (
    changes_of,
    counts_of,
    export_picked,
    matrix_of,
    shown,
    table_of,
    written,
)
from compat.screening.single import pair_answer
from compat.screening.terms import ScreeningTerms
from shared.document_forms import DocumentForm, facts_from
from shared.document_plan import Filling
from shared.http import get_or_404, person_of, refusals_on, refusals_told
from shared.lists import listing
from shared.sheet_files import download
from terminals.queries import sees_line_data

form_page = require_http_methods(["GET", "POST"])
_ALL_TICKED_UP_TO = 60
_CHANGES_SHOWN = 500


@require_GET
def screening_list(request: HttpRequest) -> HttpResponse:
    """Show the screenings that the person made or was given."""
    person = person_of(request)
    found = listing(
        request,
        queries.screenings_seen_by(person),
        search_in=["title", "made_by__full_name"],
        sort_by={"title": "title", "made": "made_at", "pairs": "total"},
    )
    return render(request, "screening/list.html", {"list": found, "may_screen": queries.may_screen(person)})


@form_page
def screening_new(request: HttpRequest) -> HttpResponse:
    """Take ships, berths, cargoes and terms; start the screening and show it."""
    person = person_of(request)
    check_may_assess(person)
    ships, berths = ships_to_assess(person).order_by("name", "pk"), berths_to_assess(person)
    posted = request.POST if request.method == "POST" else None
    filling = Filling(person.units, posted)
    rows = DocumentForm(TERMS, filling, "terms")
    choice = ChoiceForm(posted, ships=ships, berths=berths, initial=_ticked(ships, berths))
    if rows.is_answer:
        terms = facts_from(rows, ScreeningTerms, lambda stated: stated)
        if choice.is_valid() and terms is not None:
            with refusals_on(choice):
                made = actions.start_screening(
                    by=person,
                    now=timezone.now(),
                    title=choice.cleaned_data["title"],
                    terms=terms,
                    vessels=list(choice.cleaned_data["ships"]),
                    berths=list(choice.cleaned_data["berths"]),
                )
                return redirect("screening", made.public_id)
    problems = [] if not rows.is_answer else [*_problems(choice), *rows.problems]
    context = {"choice": choice, "terms": rows, "cargoes": rows.parts["cargoes"], "problems": problems}
    return render(request, "screening/new.html", context)


def _ticked(ships: Any, berths: Any) -> dict[str, Any]:
    """Tick everything where that is few enough to look through."""
    return {
        name: [str(row.public_id) for row in rows] if rows.count() <= _ALL_TICKED_UP_TO else []
        for name, rows in (("ships", ships), ("berths", berths))
    }


def _problems(choice: ChoiceForm) -> list[tuple[str, str]]:
    found = [("", str(sentence)) for sentence in choice.non_field_errors()]
    return found + [(f"choose-{field.name}", str(error)) for field in choice for error in field.errors]


@require_GET
def screening(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Show the table of a screening, sorted and filtered as the address asks."""
    row, person = seen(request, public_id), person_of(request)
    this = shown(row)
    table = table_of(this, request.GET, person.units)
    context = {
        **head(request, row),
        "list": table,
        "counts": counts_of(this.results),
        "several_cargoes": len(this.cargoes) > 1,
        "shares": row.shares.select_related("person"),
        "share_form": ShareForm(people=queries.colleagues_to_share_with(person, row)),
    }
    return render(request, "screening/screening.html", context)


@require_GET
def progress(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Say how far a screening has come; asked for every second while it runs."""
    row = seen(request, public_id)
    answer = render(request, "screening/_progress.html", head(request, row))
    if row.state == "done":
        answer["HX-Refresh"] = "true"  # the table is complete: show it
    return answer


@require_GET
def matrix(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Show ships down and berths across for one cargo."""
    row = seen(request, public_id)
    this = shown(row)
    context = {**head(request, row), "matrix": matrix_of(this, request.GET), "cargoes": list(enumerate(this.cargoes))}
    return render(request, "screening/matrix.html", context)


@require_GET
def pair(request: HttpRequest, public_id: UUID, ship: int, berth: int, cargo: int) -> HttpResponse:
    """Show one pair: why she fits or not, what rate and why, and whom to ask."""
    person, row = person_of(request), seen(request, public_id)
    subjects, terms = queries.subjects_of(row), row.screening_terms()
    if ship >= len(subjects.ships) or berth >= len(subjects.berths) or cargo >= len(terms.cargoes):
        raise Http404("There is no such pair.")
    ship_data, berth_data = subjects.ships[ship], subjects.berths[berth]
    line_shown = sees_line_data(person, berth_data.berth)
    found = pair_answer(
        terms,
        terms.cargoes[cargo],
        ship_data.ship_facts(),
        berth_data.berth_facts(),
        sources_for(person, ship_data, berth_data, row.made_at.date()),
    )
    context: dict[str, Any] = {
        **head(request, row),
        "ship_data": ship_data,
        "berth_data": berth_data,
        "cargo": terms.cargoes[cargo],
        "places": (ship, berth, cargo),
        "reason": found.reason,
        "line_shown": line_shown,
        "fit": fit_shown(found.fit if line_shown else without_arms(found.fit)),
    }
    if found.case is not None and found.answer is not None:
        answer = found.answer.document()
        told = answer if line_shown else without_line_data(answer)
        context |= answer_context(found.case, told, line_shown=line_shown)
    return render(request, "screening/pair.html", context)


@require_GET
def changes(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Show what is different from the run before."""
    row = seen(request, public_id)
    this = shown(row)
    found = changes_of(this)
    earlier = [] if row.earlier_id is None else [row.earlier_id]
    if found is None or not queries.screenings_seen_by(person_of(request)).filter(pk__in=earlier).exists():
        raise Http404("This screening is no rerun.")
    before, every = found
    lines = [
        (change, written(before if change.kind == "gone" else this, [change.place])[0])
        for change in every[:_CHANGES_SHOWN]
    ]
    context = {
        **head(request, row),
        "before": before.row,
        "lines": lines,
        "total": len(every),
        "fits_changed": sum(change.kind == "changed" and change.fit_changed for change in every),
    }
    return render(request, "screening/changes.html", context)


@require_GET
def file(request: HttpRequest, public_id: UUID, kind: str) -> HttpResponse:
    """Send the rows that the table shows, on all its pages, as CSV or XLSX."""
    row, person = seen(request, public_id), person_of(request)
    this = shown(row)
    rows = export_picked(this, request.GET, person.units)
    made = export.as_csv(rows, person.units) if kind == "csv" else export.as_xlsx(this, rows, person.units)
    return download(made, row.title, kind)


@require_POST
def cancel(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Stop a screening."""
    row = seen(request, public_id)
    with refusals_told(request):
        actions.cancel_screening(by=person_of(request), now=timezone.now(), screening=row)
        messages.success(request, "The screening is cancelled; what was worked out stays.")
    return redirect("screening", public_id)


@require_POST
def go_on(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Take up a screening again."""
    row = seen(request, public_id)
    with refusals_told(request):
        actions.go_on(by=person_of(request), now=timezone.now(), screening=row)
    return redirect("screening", public_id)


@require_POST
def again(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Run a screening again on the newest data."""
    row = seen(request, public_id)
    with refusals_told(request):
        made = actions.run_again(by=person_of(request), now=timezone.now(), screening=row)
        return redirect("screening", made.public_id)
    return redirect("screening", public_id)


@require_POST
def share(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Give a screening to a colleague."""
    row, person = seen(request, public_id), person_of(request)
    form = ShareForm(request.POST, people=queries.colleagues_to_share_with(person, row))
    if not form.is_valid():
        messages.error(request, "Not shared: choose a colleague who does not see this screening yet.")
        return redirect("screening", public_id)
    with refusals_told(request):
        colleague = form.cleaned_data["person"]
        actions.share_screening(by=person, now=timezone.now(), screening=row, person=colleague)
        messages.success(request, f"{colleague} sees this screening now.")
    return redirect("screening", public_id)


@require_POST
def unshare(request: HttpRequest, public_id: UUID, username: str) -> HttpResponse:
    """Take a screening back from a colleague."""
    row, person = seen(request, public_id), person_of(request)
    given = get_or_404(row.shares.select_related("person"), person__username=username)
    with refusals_told(request):
        actions.unshare_screening(by=person, now=timezone.now(), screening=row, person=given.person)
        messages.success(request, f"{given.person} no longer sees this screening.")
    return redirect("screening-list") if given.person == person else redirect("screening", public_id)


@require_POST
def keep(request: HttpRequest, public_id: UUID, ship: int, berth: int, cargo: int) -> HttpResponse:
    """Store one pair as an assessment and show it."""
    row = seen(request, public_id)
    subjects = queries.subjects_of(row)
    if ship >= len(subjects.ships) or berth >= len(subjects.berths) or cargo >= len(row.terms["cargoes"]):
        raise Http404("There is no such pair.")
    with refusals_told(request):
        made = actions.keep_pair(
            by=person_of(request),
            now=timezone.now(),
            screening=row,
            cargo=cargo,
            ship=ship,
            berth=berth,
            subjects=subjects,
        )
        messages.success(request, f"“{made.title}” is kept as an assessment.")
        return redirect("assessment", made.public_id)
    return redirect("screening-pair", public_id, ship, berth, cargo)
