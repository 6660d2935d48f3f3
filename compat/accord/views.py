"""Pages of an accord: the list, the accord itself, opening one, its pictures and files."""

from __future__ import annotations

import json
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_GET, require_http_methods

from compat.accord import actions, queries
from compat.accord.auditing import note_reading
from compat.accord.bargaining import standing, values_on_table
from compat.accord.ending import expire_due
from compat.accord.forms import OpenForm
from compat.accord.keys import authority
from compat.accord.models import Accord, Plan
from compat.accord.opening import OpeningSource, assessment_source, earlier_source, proposals_of
from compat.accord.pages import accord_of, accord_page, address_of, zones_for
from compat.accord.permissions import check_sees_line_data, side_of
from compat.accord.plan_copies import draft_pdf, file_of, package, plan_pdf
from compat.accord.plan_file import AUTHORITY_NAME
from compat.accord.plan_gathering import changes_so_far
from compat.accord.plan_picture import diagram_picture
from compat.accord.states import FROZEN_STATES, State, across
from compat.accord.values import DEFINITIONS, case_with
from compat.assessing.pictures import line_picture, operating_picture
from compat.assessing.queries import assessments_seen_by
from compat.case.case_file import CaseError, CaseFile, case_document, check_case
from compat.case.diagram_document import diagram_document
from compat.surge.limiting import held_within_surge
from shared.calc.errors import AccordError, InputError
from shared.http import get_or_404, person_of, refusals_on, refusals_told
from shared.lists import listing
from shared.models import Person
from shared.permissions import NotAllowedError
from shared.picture_answers import picture_answer, units_on_pictures
from shared.roles import ACTING_ROLES, Kind

MOST_EARLIER = 25
form_page = require_http_methods(["GET", "POST"])


@require_GET
def accord_list(request: HttpRequest) -> HttpResponse:
    """List the accords that exist for this person."""
    person = person_of(request)
    expire_due(now=timezone.now())
    state = request.GET.get("state", "")
    found = listing(
        request,
        queries.accord_list(person, state=state),
        search_in=["reference", "ship_name", "berth_name", "cargo_name", "ship_party__name", "terminal_party__name"],
        sort_by={"ship": "ship_name", "berth": "berth_name", "start": "planned_start", "state": "state"},
        keep={"state": state},
    )
    rows = [_row(accord, person) for accord in found.page]
    context = {"list": found, "rows": rows, "states": list(State), "state": state, "may_open": may_open(person)}
    return render(request, "accord/list.html", context)


def _row(accord: Accord, person: Person) -> tuple[Accord, str, str]:
    """Return an accord with its other party and whose turn it is; an auditor is told both parties."""
    side = side_of(person, accord)
    parties = str(accord.party(across(side))) if side else f"{accord.ship_party} and {accord.terminal_party}"
    return accord, parties, queries.turn_words(accord, side)


def may_open(person: Person) -> bool:
    """Tell whether a person's role and organisation let them open accords at all."""
    organisation = person.organisation
    return organisation is not None and organisation.kind != Kind.AUDIT and person.role in ACTING_ROLES


@require_GET
def accord_new(request: HttpRequest) -> HttpResponse:
    """Choose the assessment, or the earlier accord, on which to open an accord."""
    person = _person_who_may_open(request)
    assessments = listing(request, assessments_seen_by(person), search_in=["title"], sort_by={"made": "made_at"})
    context = {
        "list": assessments,
        "earlier": queries.accord_list(person).filter(amends=None)[:MOST_EARLIER],
        "assesses": person.organisation is not None and person.organisation.kind == Kind.SHIP,
    }
    return render(request, "accord/new.html", context)


@form_page
def accord_open(request: HttpRequest, assessment: UUID) -> HttpResponse:
    """Open an accord on an assessment."""
    person = _person_who_may_open(request)
    return _open(request, person, assessment_source(get_or_404(assessments_seen_by(person), public_id=assessment)))


@form_page
def accord_open_like(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Open another accord of the same ship at the same berth, on the newest data of both."""
    person = _person_who_may_open(request)
    accord = accord_of(request, public_id)
    try:
        source = earlier_source(accord)
    except AccordError as error:
        messages.error(request, str(error))
        return redirect("accord", public_id)
    return _open(request, person, source)


def _person_who_may_open(request: HttpRequest) -> Person:
    person = person_of(request)
    if not may_open(person):
        raise NotAllowedError("Only an administrator or officer of a ship or terminal operator opens an accord.")
    return person


def _open(request: HttpRequest, person: Person, source: OpeningSource) -> HttpResponse:
    berth = source.berth_revision.berth
    zones = zones_for(person, berth.terminal.zone)
    form = OpenForm(request.POST or None, initial={"place": f"{berth.terminal}, {berth.terminal.port}"}, zones=zones)
    if form.is_valid():
        with refusals_on(form):
            accord = actions.open_accord(
                by=person,
                now=timezone.now(),
                vessel_revision=source.vessel_revision,
                berth_revision=source.berth_revision,
                case=source.case,
                conditions=form.conditions(),
                ship_zone=form.cleaned_data["ship_zone"],
                place=form.cleaned_data["place"],
                planned_start=form.cleaned_data["planned_start"],
                holds_until=form.cleaned_data["holds_until"],
                proposals=proposals_of(source.case) if form.cleaned_data["propose"] else {},
            )
            messages.success(request, f"The accord {accord.reference} is open; {accord.terminal_party} and you see it.")
            return redirect("accord", accord.public_id)
    context = {
        "form": form,
        "source": source,
        "ship_party": source.vessel_revision.vessel.organisation,
        "terminal_party": berth.terminal.organisation,
        "values": [(DEFINITIONS[key], value) for key, value in proposals_of(source.case).items()],
    }
    return render(request, "accord/open.html", context)


@require_GET
def accord_show(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Show an accord."""
    return accord_page(request, accord_of(request, public_id))


def _case_on_table(accord: Accord) -> CaseFile:
    values = values_on_table(standing(accord))
    try:
        return check_case(case_with(accord.case, values), accord.title)
    except CaseError as error:
        raise Http404(str(error)) from error  # no answer yet: a value that it needs is not on the table


@require_GET
def diagram(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Draw manifold pressure over rate, with the values on the table or as the plan froze it."""
    accord = accord_of(request, public_id)
    if accord.payload:
        return _frozen_diagram(request, accord)
    case, drawn = _drawn(accord)
    units = units_on_pictures(person_of(request))
    title = f"{accord.title}: manifold pressure over rate"

    def draw() -> bytes:
        return operating_picture(drawn, title=title, units=units)

    return picture_answer(request, f"accord-diagram:{case.model_dump_json()}:{units}", draw)


def _frozen_diagram(request: HttpRequest, accord: Accord) -> HttpResponse:
    frozen = file_of(accord).payload["diagram"]
    if not frozen:
        raise Http404("There is no operating point to draw.")
    return picture_answer(request, f"plan-diagram:{accord.payload_sha256}", lambda: diagram_picture(frozen))


def _drawn(accord: Accord) -> tuple[CaseFile, dict[str, Any]]:
    case = _case_on_table(accord)
    found = diagram_document(case, held_within_surge(case).answer.document())
    if found is None:
        raise Http404("There is no operating point to draw.")
    return case, found


@require_GET
def profile(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Draw elevations and pressures along the shore line, where this person may see it."""
    accord = accord_of(request, public_id)
    check_sees_line_data(person_of(request), accord)
    case = _case_on_table(accord)
    units = units_on_pictures(person_of(request))
    title = f"{accord.berth_name}: line and hydraulic grade line"

    def draw() -> bytes:
        return line_picture(held_within_surge(case).answer.document()["profile"], title=title, units=units)

    return picture_answer(request, f"accord-profile:{case.model_dump_json()}:{units}", draw)


@require_GET
def case_file(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Give the case with the values on the table as a file for the command, where this person may see the line."""
    accord = accord_of(request, public_id)
    person = person_of(request)
    check_sees_line_data(person, accord)
    note_reading(by=person, now=timezone.now(), accord=accord, what="case file")
    text = json.dumps(case_document(_case_on_table(accord)), indent=2, ensure_ascii=False) + "\n"
    return _file(text.encode(), "application/json", f"{_stem(accord)}-case.json")


@require_GET
def plan_data(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Give the plan's data file with its signatures, and how the plan stands now."""
    accord = accord_of(request, public_id)
    plan = get_object_or_404(Plan.objects.select_related("superseded_by__accord"), accord=accord)
    note_reading(by=person_of(request), now=timezone.now(), accord=accord, what="plan data file")
    return _file(package(accord, plan), "application/zip", f"{_plan_stem(accord, plan)}.zip")


@require_GET
def plan_document(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Give the plan's PDF as it was signed, or a marked copy of a plan that no longer holds."""
    accord = accord_of(request, public_id)
    plan = get_object_or_404(Plan.objects.select_related("superseded_by__accord"), accord=accord)
    note_reading(by=person_of(request), now=timezone.now(), accord=accord, what="plan PDF")
    with refusals_told(request):
        return _file(plan_pdf(accord, plan), "application/pdf", f"{_plan_stem(accord, plan)}.pdf")
    return redirect(address_of(accord, "plan"))


@require_GET
def draft(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Give what is settled, before it is signed by both, as a PDF marked as a draft."""
    accord = accord_of(request, public_id)
    if accord.state not in FROZEN_STATES:
        raise Http404("Nothing is settled that could be drafted.")
    note_reading(by=person_of(request), now=timezone.now(), accord=accord, what="draft")
    with refusals_told(request):
        return _file(draft_pdf(accord), "application/pdf", f"{_stem(accord)}-draft.pdf")
    return redirect(address_of(accord, "sign"))


@require_GET
def changes(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Show what an amendment changes against the plan before it, as it stands now."""
    accord = accord_of(request, public_id)
    if accord.amends is None:
        raise Http404("This accord amends no plan.")
    note_reading(by=person_of(request), now=timezone.now(), accord=accord, what="changes")
    context: dict[str, Any] = {"accord": accord, "found": [], "problem": ""}
    try:
        context["found"] = changes_so_far(accord, timezone.now())
    except InputError as error:
        context["problem"] = str(error)
    return render(request, "accord/changes.html", context)


@login_not_required
@require_GET
def authority_certificate(_: HttpRequest) -> HttpResponse:
    """Publish the certificate with which anyone verifies what was signed here."""
    pem = authority().pem().encode("ascii")
    return _file(pem, "application/x-pem-file", AUTHORITY_NAME)


def _plan_stem(accord: Accord, plan: Plan) -> str:
    """Name a plan's files; one that no longer holds says so in its name too."""
    ended = "" if accord.state == State.IN_FORCE else f"-{accord.state}"
    return f"{_stem(accord)}-plan-{plan.number}{ended}"


def _stem(accord: Accord) -> str:
    return slugify(f"{accord.ship_name} {accord.reference}")


def _file(data: bytes, content_type: str, name: str) -> HttpResponse:
    return HttpResponse(
        data, content_type=content_type, headers={"Content-Disposition": f'attachment; filename="{name}"'}
    )
