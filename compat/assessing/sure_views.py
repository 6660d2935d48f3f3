"""The page that tells how sure an assessment's rate is, from tolerances that are typed there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from compat.assessing import actions, queries
from compat.assessing.sure_forms import TolerancesForm
from compat.assessing.sure_showing import SAMPLES, drawn_spread, spread_lines
from compat.assessing.variant_forms import KeepForm
from compat.assessing.variants import Stored, stored_for
from compat.case.case_file import CaseError, CaseFile
from compat.case.composing import setting_of
from compat.case.sampling import Spread, spread_of
from compat.surge.limiting import held_within_surge
from shared.facts import SHORT_TEXT_LENGTH
from shared.http import person_of
from shared.picture_answers import picture_answer, units_on_pictures
from shared.revisions import facts_sha256

_SPREADS_HELD = 64


@require_http_methods(["GET", "POST"])
def sure(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Show the form of tolerances and the spread of the rate; a post keeps the tolerances with a new assessment."""
    stored = stored_for(person_of(request), public_id)
    if request.method == "POST":
        return _keep(request, stored)
    return render(request, "assessing/sure.html", _page(stored, request.GET))


@require_GET
def picture(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Draw the chance of making at least a rate, and how often each limit sets it."""
    person = person_of(request)
    page, units = _page(stored_for(person, public_id), request.GET), units_on_pictures(person)
    if page["spread"] is None:
        raise Http404("There is no spread to draw.")
    shows = f"sure:{facts_sha256(page['case'])}:{units}"
    return picture_answer(request, shows, lambda: drawn_spread(page, units))


def _form(stored: Stored, sent: Mapping[str, str]) -> TolerancesForm:
    asked = sent if any(name.startswith("by_") for name in sent) else None
    return TolerancesForm(stored.case, stored.person.units, asked, line_shown=stored.line_shown)


def _page(stored: Stored, sent: Mapping[str, str]) -> dict[str, Any]:
    form = _form(stored, sent)
    case, spread, problems = stored.case, None, []
    if form.is_bound and form.is_valid():
        case = case.model_copy(update={"tolerances": form.tolerances()})
    if not form.errors:
        try:
            spread = _spread(case.model_dump_json())
        except CaseError as error:
            problems = error.problems
    lines = {} if spread is None else spread_lines(case, stored.answer, spread)
    return {
        "rate": stored.answer["total_flow_m3_per_h"] or 0.0,
        **lines,
        "assessment": stored.row,
        "line_shown": stored.line_shown,
        "may_assess": queries.may_assess(stored.person),
        "form": form,
        "case": case,
        "spread": spread,
        "problems": [*problems, *(str(text) for texts in form.errors.values() for text in texts)],
        "picture_address": _picture_address(stored, form) if spread else "",
        "changed": case.tolerances != stored.case.tolerances,
        "keep_title": f"{stored.row.title}, how sure"[:SHORT_TEXT_LENGTH],
    }


def _picture_address(stored: Stored, form: TolerancesForm) -> str:
    address = reverse("assessment-sure-picture", args=[stored.row.public_id])
    return f"{address}?{urlencode(form.sent)}" if form.is_bound else address


def _keep(request: HttpRequest, stored: Stored) -> HttpResponse:
    actions.check_may_assess(stored.person)
    form, title = _form(stored, request.POST), KeepForm(request.POST)
    problems = [str(text) for errors in (form.errors, title.errors) for texts in errors.values() for text in texts]
    if form.is_bound and not problems:
        setting = replace(
            setting_of(stored.case, stored.berth),
            title=title.cleaned_data["title"],
            tolerances=tuple(form.tolerances()),
        )
        try:
            made = actions.keep_variant(by=stored.person, now=timezone.now(), assessment=stored.row, setting=setting)
        except CaseError as error:
            problems = error.problems
        else:
            messages.success(request, f"“{made.title}” is kept as an assessment of its own, with its tolerances.")
            return redirect("assessment-sure", made.public_id)
    for sentence in problems:
        messages.error(request, f"Not kept: {sentence}")
    return redirect(f"{reverse('assessment-sure', args=[stored.row.public_id])}?{urlencode(form.sent)}")


@lru_cache(maxsize=_SPREADS_HELD)
def _spread(case_json: str) -> Spread | None:
    return spread_of(held_within_surge(CaseFile.model_validate_json(case_json)).case, SAMPLES)
