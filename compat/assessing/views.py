"""Pages of assessments: the list, a new one, one with its variants, its pictures and files, a case file's answer."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from compat.assessing import actions, queries
from compat.assessing.forms import STATED, AssessForm, StatedFacts, assess_form
from compat.assessing.pictures import DIAGRAM, operating_picture, profile_drawn
from compat.assessing.showing import answer_context, difference, glance, step_lines, way_lines
from compat.assessing.slider import pressure_slider
from compat.assessing.variant_forms import KeepForm
from compat.assessing.variants import Stored, Variant, seen_answer, stored_for, variant_of
from compat.case.case_file import CaseError
from compat.case.diagram_document import diagram_document
from compat.fit.showing import FitShown, shown
from compat.fit.stored import fit_of_case
from shared.calc.errors import InputError
from shared.document_forms import DocumentForm, facts_from
from shared.document_plan import Filling
from shared.facts import SHORT_TEXT_LENGTH
from shared.http import get_or_404, person_of, refusals_on
from shared.lists import listing
from shared.picture_answers import picture_answer, units_on_pictures
from shared.revisions import facts_sha256
from terminals.models import Berth
from terminals.queries import sees_line_data

form_page = require_http_methods(["GET", "POST"])
_BERTHS_ON_A_PAGE = 12
_OUTCOME_WORDS = (
    ("", "All"),
    ("answered", "With a rate"),
    ("throttled", "Throttling needed"),
    ("none", "No operating point"),
)
_OUTCOMES = {"answered": "found", "throttled": "throttling needed", "none": "no operating point"}


@require_GET
def assessment_list(request: HttpRequest) -> HttpResponse:
    """Show the organisation's assessments."""
    person = person_of(request)
    rows = queries.assessments_seen_by(person)
    outcome = request.GET.get("outcome", "")
    if outcome in _OUTCOMES:
        rows = rows.filter(answer__outcome=_OUTCOMES[outcome])
    found = listing(
        request,
        rows,
        search_in=[
            "title",
            "vessel_revision__vessel__name",
            "berth_revision__berth__name",
            "berth_revision__berth__terminal__name",
            "made_by__full_name",
        ],
        sort_by={
            "title": "title",
            "ship": "vessel_revision__vessel__name",
            "berth": "berth_revision__berth__terminal__name",
            "rate": "answer__total_flow_m3_per_h",
            "made": "made_at",
        },
        keep={"outcome": outcome} if outcome in _OUTCOMES else {},
    )
    shown = [(row, glance(row.case_file(), seen_answer(person, row))) for row in found.page]
    context = {
        "list": found,
        "rows": shown,
        "outcome": outcome,
        "outcomes": _OUTCOME_WORDS,
        "may_assess": queries.may_assess(person),
    }
    return render(request, "assessing/list.html", context)


@require_GET
def choose(request: HttpRequest) -> HttpResponse:
    """Choose ship and berth; the button leads to the form made for these two."""
    person = person_of(request)
    actions.check_may_assess(person)
    ships = queries.ships_to_assess(person)
    listed = queries.berths_to_assess(person)
    berths = listing(
        request,
        listed,
        search_in=["name", "terminal__name", "terminal__port"],
        rows_on_a_page=_BERTHS_ON_A_PAGE,
        keep={"ship": request.GET.get("ship", "")},
    )
    ship = next((row for row in ships if str(row.public_id) == request.GET.get("ship")), None)
    berth = next(
        (row for row in queries.berths_to_assess(person) if str(row.public_id) == request.GET.get("berth")), None
    )
    if ship and berth and "go" in request.GET:
        return redirect("assessment-values", ship.public_id, berth.public_id)
    missing = "go" in request.GET and ("ship" if not ship else "berth")
    context = {"ships": ships, "ship": ship, "berth": berth, "list": berths, "missing": missing}
    page = "assessing/_berths.html" if request.headers.get("HX-Request") else "assessing/choose.html"
    return render(request, page, context)


@form_page
def assess(request: HttpRequest, ship: UUID, berth: UUID) -> HttpResponse:
    """Take cargo, draught, tanks, pumps, arms and limits; store the assessment and show it."""
    person = person_of(request)
    vessel = get_or_404(queries.ships_to_assess(person), public_id=ship)
    chosen = get_or_404(queries.berths_to_assess(person), public_id=berth)
    actions.check_may_assess(person)
    ship_data, berth_data = vessel.revisions.latest("number"), chosen.revisions.latest("number")
    facts = ship_data.ship_facts(), berth_data.berth_facts()
    filling = Filling(person.units, request.POST if request.method == "POST" else None)
    form = assess_form(*facts, filling, person, limit_shown=sees_line_data(person, chosen))
    rows = DocumentForm(STATED, filling, "stated")
    stated = facts_from(rows, StatedFacts, lambda document: document) if rows.is_answer else None
    if form.is_valid() and stated is not None:
        try:
            made = actions.make_assessment(
                by=person, now=timezone.now(), vessel=vessel, berth=chosen, setting=form.setting(stated)
            )
        except CaseError as error:
            form.place_problems(error.problems)
        except InputError as error:
            form.place_problems([str(error)])
        else:
            messages.success(request, f"“{made.title}” is assessed and kept.")
            return redirect("assessment", made.public_id)
    context = {
        "form": form,
        "cargo": rows.parts["cargo"],
        "own_limits": rows.parts["own_limits"],
        "visit": rows.parts["visit"],
        "problems": [*(rows.problems if rows.is_answer else []), *_problems(form)],
        "vessel": vessel,
        "berth": chosen,
        "ship_data": ship_data,
        "berth_data": berth_data,
        "keel": _keel(form, chosen),
    }
    return render(request, "assessing/values.html", context)


@require_POST
def keel(request: HttpRequest, ship: UUID, berth: UUID) -> HttpResponse:
    """Say what draught and water level mean for keel and manifold, while they are typed."""
    person = person_of(request)
    vessel = get_or_404(queries.ships_to_assess(person), public_id=ship)
    chosen = get_or_404(queries.berths_to_assess(person), public_id=berth)
    facts = vessel.revisions.latest("number").ship_facts(), chosen.revisions.latest("number").berth_facts()
    form = assess_form(*facts, Filling(person.units, request.POST), person, limit_shown=False)
    form.is_valid()
    return render(request, "assessing/_keel.html", {"keel": _keel(form, chosen)})


@require_GET
def assessment(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Show an assessment, or a variant of it where the address says what is moved."""
    stored = stored_for(person_of(request), public_id)
    variant = variant_of(stored, request.GET)
    moving = "HX-Request" in request.headers
    context = _shown(stored, variant)
    if not moving:
        context["steps"] = step_lines(variant.case, variant.answer, stored.person.units)
        context["ways"] = way_lines(variant.case)
        context["fit"] = _fit(stored, variant)
    page = "assessing/_moved.html" if moving else "assessing/assessment.html"
    answer = render(request, page, context)
    patch_vary_headers(answer, ["HX-Request"])
    if moving and variant.problems:
        answer["HX-Reswap"] = "none"  # the last good answer stays; only the sentences beside the form change
    return answer


@require_GET
def steps(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Tell what one step would buy; asked for after each move, so that the answer itself is not kept waiting."""
    stored = stored_for(person_of(request), public_id)
    variant = variant_of(stored, request.GET)
    lines = step_lines(variant.case, variant.answer, stored.person.units)
    return render(request, "assessing/_steps.html", {"steps": lines, "ways": way_lines(variant.case)})


@require_POST
def keep(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Store the variant that was sent as an assessment of its own."""
    person = person_of(request)
    stored = stored_for(person, public_id)
    actions.check_may_assess(person)
    form, title = stored.form(request.POST), KeepForm(request.POST)
    if form.is_valid() and title.is_valid():
        setting = replace(form.setting(), title=title.cleaned_data["title"])
        with refusals_on(form):
            made = actions.keep_variant(by=person, now=timezone.now(), assessment=stored.row, setting=setting)
            messages.success(request, f"“{made.title}” is kept as an assessment of its own.")
            return redirect("assessment", made.public_id)
    for errors in (form.errors, title.errors):
        for sentence in (text for texts in errors.values() for text in texts):
            messages.error(request, f"Not kept: {sentence}")
    return redirect(f"{reverse('assessment', args=[public_id])}?{urlencode(form.sent)}")


@require_GET
def diagram(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Draw manifold pressure over rate for an assessment or a variant of it."""
    person = person_of(request)
    variant, units = variant_of(stored_for(person, public_id), request.GET), units_on_pictures(person)
    drawn = diagram_document(variant.case, variant.answer)
    if drawn is None:
        raise Http404("There is no operating point to draw.")
    shows = f"diagram:{facts_sha256(variant.case)}:{units}"
    return picture_answer(request, shows, lambda: operating_picture(drawn, title=DIAGRAM, units=units))


@require_GET
def profile(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Draw the shore line with its grade line, where the person may see it."""
    person = person_of(request)
    stored = stored_for(person, public_id)
    stored.check_line_shown("the picture of that line is not shown")
    variant, units = variant_of(stored, request.GET), units_on_pictures(person)
    shows = f"profile:{facts_sha256(variant.case)}:{units}"
    return picture_answer(request, shows, lambda: profile_drawn(variant.answer, units))


@require_GET
def case_download(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Send the case file, which manage.py assess answers with the same numbers."""
    stored = stored_for(person_of(request), public_id)
    stored.check_line_shown("a case file, which carries that line, can't be downloaded")
    return json_file(stored.row.case, f"case-{public_id}.json")


@require_GET
def answer_download(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Send the answer; without the shore line where the terminal keeps it to itself."""
    stored = stored_for(person_of(request), public_id)
    return json_file(stored.answer, f"answer-{public_id}.json")


def _shown(stored: Stored, variant: Variant) -> dict[str, Any]:
    context = answer_context(variant.case, variant.answer, line_shown=stored.line_shown)
    row, units = stored.row, stored.person.units
    found = context["glance"].found
    changed = variant.moved and variant.case != stored.case
    first = glance(stored.case, stored.answer)
    return context | {
        "assessment": row,
        "berth": row.berth_revision.berth,
        "revised": queries.revised_since(row),
        "may_assess": queries.may_assess(stored.person),
        "variant": variant,
        "form": variant.form,
        "slider": pressure_slider(variant.case, variant.answer),
        "changed": changed,
        "difference": difference(first, context["glance"], units) if changed else None,
        "keep_title": f"{row.title}, changed"[:SHORT_TEXT_LENGTH],
        "diagram_address": reverse("assessment-diagram", args=[row.public_id]) + variant.query if found else "",
        "profile_address": reverse("assessment-profile", args=[row.public_id]) + variant.query,
        "steps_address": reverse("assessment-steps", args=[row.public_id]) + variant.query,
    }


def _fit(stored: Stored, variant: Variant) -> FitShown:
    row = stored.row
    revisions = row.vessel_revision, row.berth_revision
    return shown(fit_of_case(stored.person, variant.case, variant.answer, *revisions, row.made_at.date()))


def _problems(form: AssessForm) -> list[tuple[str, str]]:
    """Return every refusal of a form with the place on the page where it stands."""
    found = [("", str(sentence)) for sentence in form.non_field_errors()]
    return found + [(field.id_for_label, str(error)) for field in form for error in field.errors]


def _keel(form: AssessForm, berth: Berth) -> dict[str, Any] | None:
    """Return what the keel's height over the berth's zero means, or None while it is not known."""
    keel_m = form.keel_elevation_m() if form.is_bound else None
    if keel_m is None:
        return None
    depth = form.berth.size.depth_below_zero_m
    draught_m = float(form.cleaned_data["draught"])
    stated = (
        ("her summer draught", form.ship.particulars.summer_draught_m),
        ("the greatest draught that the berth accepts", form.berth.size.greatest_draught_m),
    )
    return {
        "deeper": [(words, limit) for words, limit in stated if limit is not None and draught_m > limit],
        "berth": berth,
        "keel_m": keel_m,
        "below_m": -keel_m,
        "manifold_m": keel_m + form.ship.manifold.elevation_m,
        "clearance_m": None if depth is None else depth + keel_m,
    }


def json_file(document: Mapping[str, Any], name: str) -> HttpResponse:
    """Send a JSON document as a file of this name."""
    text = json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return HttpResponse(text, content_type="application/json", headers=headers)
