"""Pages about ships: fetch or 404, form, act, message, redirect."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shared.document_forms import DocumentForm, facts_from
from shared.document_plan import Filling
from shared.facts_files import FactsFile
from shared.http import get_or_404, person_of, refusals_told
from shared.lists import listing
from shared.permissions import acts_for, check_acts_for
from shared.picture_answers import picture_answer, units_on_pictures
from shared.revision_pages import FirstRevisionForm, Section, edit_revision, shower
from shared.revisions import SHORT_HISTORY, history
from shared.upload_pages import download, upload_new, upload_revision
from vessels import actions, forms, queries
from vessels.drawings import pump_picture as draw_pump
from vessels.facts import PumpFacts, ShipFacts
from vessels.models import Vessel, VesselRevision
from vessels.plausible import size_questions

SHIP_FILE = FactsFile(ShipFacts, "berth-accord-ship/1", "ship")
form_page = require_http_methods(["GET", "POST"])


@require_GET
def vessel_list(request: HttpRequest) -> HttpResponse:
    """List the ships of the person's operator."""
    return _list(request, archived=False)


@require_GET
def archived_list(request: HttpRequest) -> HttpResponse:
    """List the ships that were taken off the list."""
    return _list(request, archived=True)


def _list(request: HttpRequest, *, archived: bool) -> HttpResponse:
    person = person_of(request)
    found = listing(
        request,
        queries.vessel_list(person, archived=archived),
        search_in=["name", "imo_number"],
        sort_by={"name": "name", "imo": "imo_number", "revised": "revised_at"},
    )
    context = {"list": found, "archived": archived, "may_add": actions.may_add(person)}
    return render(request, "vessels/list.html", context)


@form_page
def vessel_add(request: HttpRequest) -> HttpResponse:
    """Add a ship by form."""
    person = person_of(request)
    actions.check_may_add(person)
    posted = request.POST if request.method == "POST" else None
    form = DocumentForm(forms.WHOLE_SHIP, Filling(person.units, posted), "facts")
    about = FirstRevisionForm(posted)
    if form.is_answer:
        facts = facts_from(form, ShipFacts, lambda stated: stated)
        if about.is_valid() and facts is not None:
            with form.refusals():
                vessel = actions.add_vessel(by=person, now=timezone.now(), facts=facts, note=about.cleaned_data["note"])
                messages.success(request, f"{vessel} was added.")
                return redirect("vessel", vessel.public_id)
    return render(request, "vessels/add.html", {"form": form, "about": about})


@form_page
def vessel_add_file(request: HttpRequest) -> HttpResponse:
    """Add a ship from a facts file."""
    person = person_of(request)
    actions.check_may_add(person)

    def add(facts: ShipFacts) -> str:
        vessel = actions.add_vessel(by=person, now=timezone.now(), facts=facts, note="From a facts file")
        messages.success(request, f"{vessel} was added from the file.")
        return reverse("vessel", args=[vessel.public_id])

    context = {
        "heading": "Add a ship from a file",
        "lead": "She is added at once with all that the file states.",
        "act": "Add the ship",
        "subject": "Ships",
        "done": reverse("vessel-list"),
    }
    return upload_new(request, kind=SHIP_FILE, add=add, context=context)


@require_GET
def vessel_page(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Show a ship as her newest revision states her."""
    vessel = _vessel(request, public_id)
    return _show(request, vessel, queries.latest_revision(vessel))


@require_GET
def revision_page(request: HttpRequest, public_id: UUID, number: int) -> HttpResponse:
    """Show a ship as one revision stated her."""
    vessel = _vessel(request, public_id)
    return _show(request, vessel, _revision(vessel, number))


def _show(request: HttpRequest, vessel: Vessel, revision: VesselRevision) -> HttpResponse:
    person = person_of(request)
    latest = queries.latest_revision(vessel)
    newest = revision.number == latest.number
    context = {
        "vessel": vessel,
        "revision": revision,
        "latest": latest,
        "is_newest": newest,
        "facts": revision.ship_facts(),
        "plans": forms,
        "questions": size_questions(revision.ship_facts()) if newest else (),
        "history": history(vessel.revisions, ShipFacts, shower(person), newest=SHORT_HISTORY) if newest else [],
        "may_change": acts_for(person, vessel.organisation) and not vessel.archived,
        "may_restore": acts_for(person, vessel.organisation) and vessel.archived,
    }
    return render(request, "vessels/vessel.html", context)


@require_GET
def vessel_history(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Show every revision of a ship with who made it and what it changed."""
    vessel = _vessel(request, public_id)
    entries = history(vessel.revisions, ShipFacts, shower(person_of(request)))
    return render(request, "vessels/history.html", {"vessel": vessel, "history": entries})


@form_page
def particulars_edit(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Edit particulars, manifold and tanks."""
    return _edit(request, _vessel_to_change(request, public_id), forms.PARTICULARS_SECTION)


@form_page
def common_line_edit(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Edit the common line."""
    return _edit(request, _vessel_to_change(request, public_id), forms.COMMON_LINE_SECTION)


@form_page
def berthing_edit(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Edit what berths ask of the ship."""
    return _edit(request, _vessel_to_change(request, public_id), forms.BERTHING_SECTION)


@form_page
def pump_edit(request: HttpRequest, public_id: UUID, key: str) -> HttpResponse:
    """Edit one pump."""
    vessel = _vessel_to_change(request, public_id)
    facts = queries.latest_revision(vessel).ship_facts()
    if request.method == "GET":
        _pump(facts, key)
    return _edit(request, vessel, forms.pump_section(facts, key))


@form_page
def pump_add(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Add a pump, blank or as a copy of another one (``?copy=key``)."""
    vessel = _vessel_to_change(request, public_id)
    facts = queries.latest_revision(vessel).ship_facts()
    source = request.GET.get("copy")
    copied = forms.copy_of(_pump(facts, source), facts) if source else None
    lead = f"A copy of pump {source}. Nothing is added until you save." if source else ""
    return _edit(request, vessel, forms.new_pump_section(facts, copied), lead=lead)


def _edit(request: HttpRequest, vessel: Vessel, section: Section, **context: Any) -> HttpResponse:
    def save(facts: ShipFacts, note: str, started_from: int) -> None:
        actions.revise_vessel(
            by=person_of(request),
            now=timezone.now(),
            vessel=vessel,
            started_from=started_from,
            facts=facts,
            note=note,
        )

    return edit_revision(
        request,
        section=section,
        revisions=vessel.revisions,
        model=ShipFacts,
        save=save,
        done=reverse("vessel", args=[vessel.public_id]),
        context={**context, "subject": vessel},
    )


@form_page
def pump_take_off(request: HttpRequest, public_id: UUID, key: str) -> HttpResponse:
    """Take a pump off, after asking."""
    vessel = _vessel_to_change(request, public_id)
    latest = queries.latest_revision(vessel)
    facts = latest.ship_facts()
    pump = _pump(facts, key)
    if request.method == "POST":
        with refusals_told(request):
            actions.take_pump_off(
                by=person_of(request), now=timezone.now(), vessel=vessel, started_from=latest.number, key=key
            )
            messages.success(request, f"{pump.name} was taken off. Revision {latest.number} still holds it.")
        return redirect("vessel", public_id)
    return render(request, "vessels/pump_take_off.html", {"vessel": vessel, "pump": pump})


@form_page
def vessel_archive(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Take a ship off the list, after asking."""
    vessel = _vessel_to_change(request, public_id)
    if request.method == "POST":
        with refusals_told(request):
            actions.archive_vessel(by=person_of(request), now=timezone.now(), vessel=vessel)
            messages.success(request, f"{vessel} is archived. She can be restored from the archived ships.")
        return redirect("vessel-list")
    return render(request, "vessels/archive.html", {"vessel": vessel})


@require_POST
def vessel_restore(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Bring an archived ship back."""
    vessel = _vessel_to_change(request, public_id)
    with refusals_told(request):
        actions.restore_vessel(by=person_of(request), now=timezone.now(), vessel=vessel)
        messages.success(request, f"{vessel} is on the list again.")
    return redirect("vessel", public_id)


@require_POST
def revision_again(request: HttpRequest, public_id: UUID, number: int) -> HttpResponse:
    """Make an earlier revision the newest again, as a new revision."""
    vessel = _vessel_to_change(request, public_id)
    with refusals_told(request):
        made = actions.revise_vessel(
            by=person_of(request),
            now=timezone.now(),
            vessel=vessel,
            started_from=queries.latest_revision(vessel).number,
            facts=_revision(vessel, number).ship_facts(),
            note=f"Revision {number} again",
        )
        messages.success(request, f"Revision {number} is current again, as revision {made.number}.")
    return redirect("vessel", public_id)


@require_GET
def facts_file(request: HttpRequest, public_id: UUID, number: int) -> HttpResponse:
    """Download one revision as a facts file."""
    revision = _revision(_vessel(request, public_id), number)
    return download(SHIP_FILE, revision.ship_facts(), f"{revision.vessel.name} revision {number}")


@form_page
def vessel_upload(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Take a facts file as the next revision, after showing what it changes."""
    vessel = _vessel_to_change(request, public_id)

    def save(facts: ShipFacts, note: str, started_from: int) -> None:
        actions.revise_vessel(
            by=person_of(request), now=timezone.now(), vessel=vessel, started_from=started_from, facts=facts, note=note
        )

    context = {
        "heading": "Take data from a file",
        "lead": "What it changes is shown before anything is saved.",
        "act": "Show what it changes",
        "subject": vessel,
    }
    done = reverse("vessel", args=[vessel.public_id])
    return upload_revision(request, kind=SHIP_FILE, revisions=vessel.revisions, save=save, done=done, context=context)


@require_GET
def pump_picture(request: HttpRequest, public_id: UUID, number: int, key: str) -> HttpResponse:
    """Draw a pump's curves as one revision stated them."""
    revision = _revision(_vessel(request, public_id), number)
    pump = _pump(revision.ship_facts(), key)
    units = units_on_pictures(person_of(request))
    return picture_answer(request, f"pump {revision.pk} {key} {units}", lambda: draw_pump(pump, units))


def _vessel(request: HttpRequest, public_id: UUID) -> Vessel:
    return get_or_404(queries.vessels_seen_by(person_of(request)), public_id=public_id)


def _vessel_to_change(request: HttpRequest, public_id: UUID) -> Vessel:
    vessel = _vessel(request, public_id)
    check_acts_for(person_of(request), vessel.organisation)
    return vessel


def _revision(vessel: Vessel, number: int) -> VesselRevision:
    return get_object_or_404(vessel.revisions.select_related("made_by", "vessel"), number=number)


def _pump(facts: ShipFacts, key: str) -> PumpFacts:
    for pump in facts.pumps:
        if pump.key == key:
            return pump
    raise Http404
