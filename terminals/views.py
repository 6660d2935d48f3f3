"""Pages about berths: fetch or 404, form, act, message, redirect."""

from __future__ import annotations

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
from shared.permissions import acts_for, check_acts_for, is_member
from shared.picture_answers import picture_answer, units_on_pictures
from shared.revision_pages import FirstRevisionForm, Section, edit_revision, shower
from shared.revisions import SHORT_HISTORY, history
from shared.upload_pages import download, upload_new, upload_revision
from terminals import actions, forms, queries
from terminals.drawings import line_picture as draw_line
from terminals.facts import BerthFacts
from terminals.models import Berth, BerthRevision, Terminal

BERTH_FILE = FactsFile(BerthFacts, "berth-accord-berth/1", "berth")
form_page = require_http_methods(["GET", "POST"])


@require_GET
def berth_list(request: HttpRequest) -> HttpResponse:
    """List every berth, or with ``?whose=own`` those of the person's operator."""
    return _list(request, archived=False)


@require_GET
def archived_list(request: HttpRequest) -> HttpResponse:
    """List the operator's own berths that were taken off the list."""
    return _list(request, archived=True)


def _list(request: HttpRequest, *, archived: bool) -> HttpResponse:
    person = person_of(request)
    own = request.GET.get("whose") == "own"
    found = listing(
        request,
        queries.berth_list(person, own=own, archived=archived),
        search_in=["name", "terminal__name", "terminal__port"],
        sort_by={"name": "name", "terminal": "terminal__name", "port": "terminal__port"},
        keep={"whose": "own"} if own else {},
    )
    runs_berths = queries.own_terminals(person).exists()
    context = {
        "list": found,
        "berths": queries.with_sizes(found.page),
        "archived": archived,
        "own": own,
        "runs_berths": runs_berths,
        "may_add": actions.may_add_terminals(person),
    }
    return render(request, "terminals/list.html", context)


@form_page
def berth_add(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Add a berth by form."""
    person = person_of(request)
    terminal = _terminal_to_change(request, public_id)
    posted = request.POST if request.method == "POST" else None
    form = DocumentForm(forms.WHOLE_BERTH, Filling(person.units, posted), "facts")
    about = FirstRevisionForm(posted)
    share = forms.SharingForm(posted)
    if form.is_answer:
        facts = facts_from(form, BerthFacts, lambda stated: stated)
        if about.is_valid() and share.is_valid() and facts is not None:
            with form.refusals():
                berth = actions.add_berth(
                    by=person,
                    now=timezone.now(),
                    terminal=terminal,
                    facts=facts,
                    line_data_shared=share.cleaned_data["shared"],
                    note=about.cleaned_data["note"],
                )
                messages.success(request, f"{berth} was added.")
                return redirect("berth", berth.public_id)
    return render(request, "terminals/add.html", {"form": form, "about": about, "share": share, "terminal": terminal})


@form_page
def berth_add_file(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Add a berth from a facts file."""
    terminal = _terminal_to_change(request, public_id)

    def add(facts: BerthFacts) -> str:
        berth = actions.add_berth(
            by=person_of(request),
            now=timezone.now(),
            terminal=terminal,
            facts=facts,
            line_data_shared=False,
            note="From a facts file",
        )
        messages.success(request, f"{berth} was added from the file; its line data are kept to your organisation.")
        return reverse("berth", args=[berth.public_id])

    context = {
        "heading": "Add a berth from a file",
        "lead": f"The berth is added at once to {terminal}, with all that the file states.",
        "act": "Add the berth",
        "subject": terminal,
        "done": reverse("terminal", args=[terminal.public_id]),
    }
    return upload_new(request, kind=BERTH_FILE, add=add, context=context)


@require_GET
def berth_page(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Show a berth as its newest revision states it: all of it, or what its terminal shares."""
    berth = _berth(request, public_id)
    return _show(request, berth, queries.latest_revision(berth))


@require_GET
def revision_page(request: HttpRequest, public_id: UUID, number: int) -> HttpResponse:
    """Show a berth as one revision stated it, to its own people."""
    berth = _own_berth(request, public_id)
    return _show(request, berth, _revision(berth, number))


def _show(request: HttpRequest, berth: Berth, revision: BerthRevision) -> HttpResponse:
    person = person_of(request)
    latest = queries.latest_revision(berth)
    newest = revision.number == latest.number
    own = is_member(person, berth.terminal.organisation)
    acts = acts_for(person, berth.terminal.organisation)
    context = {
        "berth": berth,
        "revision": revision,
        "latest": latest,
        "is_newest": newest,
        "is_own": own,
        "sees_line": queries.sees_line_data(person, berth),
        "facts": revision.berth_facts(),
        "plans": forms,
        "history": history(berth.revisions, BerthFacts, shower(person), newest=SHORT_HISTORY) if own and newest else [],
        "may_change": acts and not berth.archived,
        "may_restore": acts and berth.archived,
    }
    return render(request, "terminals/berth.html", context)


@require_GET
def berth_history(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Show every revision of a berth with who made it and what it changed, to its own people."""
    berth = _own_berth(request, public_id)
    entries = history(berth.revisions, BerthFacts, shower(person_of(request)))
    return render(request, "terminals/history.html", {"berth": berth, "history": entries})


@form_page
def name_edit(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Edit name, size and limits."""
    return _edit(request, public_id, forms.NAME_SECTION)


@form_page
def arms_edit(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Edit arms and hoses."""
    return _edit(request, public_id, forms.ARMS_SECTION)


@form_page
def line_edit(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Edit the shore line and where it ends."""
    return _edit(request, public_id, forms.LINE_SECTION)


@form_page
def berthing_edit(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Edit what is stated about ships at the berth."""
    return _edit(request, public_id, forms.BERTHING_SECTION)


def _edit(request: HttpRequest, public_id: UUID, section: Section) -> HttpResponse:
    berth = _berth_to_change(request, public_id)
    return edit_revision(
        request,
        section=section,
        revisions=berth.revisions,
        model=BerthFacts,
        save=_save(request, berth),
        done=reverse("berth", args=[berth.public_id]),
        context={"subject": berth},
    )


def _save(request: HttpRequest, berth: Berth):  # type: ignore[no-untyped-def]
    def save(facts: BerthFacts, note: str, started_from: int) -> None:
        actions.revise_berth(
            by=person_of(request), now=timezone.now(), berth=berth, started_from=started_from, facts=facts, note=note
        )

    return save


@form_page
def sharing(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Share the line data with ship operators, or only answers."""
    berth = _berth_to_change(request, public_id)
    form = forms.SharingForm(request.POST or None, initial={"shared": "yes" if berth.line_data_shared else "no"})
    if form.is_valid():
        with refusals_told(request):
            shared = form.cleaned_data["shared"]
            actions.share_line_data(by=person_of(request), now=timezone.now(), berth=berth, shared=shared)
            told = "now visible to every organisation" if shared else "kept to your organisation; others see answers"
            messages.success(request, f"Arms, shore line and limits of {berth} are {told}.")
        return redirect("berth", public_id)
    return render(request, "terminals/sharing.html", {"form": form, "berth": berth})


@form_page
def berth_archive(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Take a berth off the list, after asking."""
    berth = _berth_to_change(request, public_id)
    if request.method == "POST":
        with refusals_told(request):
            actions.archive_berth(by=person_of(request), now=timezone.now(), berth=berth)
            messages.success(request, f"{berth} is archived. It can be restored from the archived berths.")
        return redirect("berth-list")
    return render(request, "terminals/archive.html", {"berth": berth})


@require_POST
def berth_restore(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Bring an archived berth back."""
    berth = _berth_to_change(request, public_id)
    with refusals_told(request):
        actions.restore_berth(by=person_of(request), now=timezone.now(), berth=berth)
        messages.success(request, f"{berth} is on the list again.")
    return redirect("berth", public_id)


@require_POST
def revision_again(request: HttpRequest, public_id: UUID, number: int) -> HttpResponse:
    """Make an earlier revision the newest again, as a new revision."""
    berth = _berth_to_change(request, public_id)
    with refusals_told(request):
        made = actions.revise_berth(
            by=person_of(request),
            now=timezone.now(),
            berth=berth,
            started_from=queries.latest_revision(berth).number,
            facts=_revision(berth, number).berth_facts(),
            note=f"Revision {number} again",
        )
        messages.success(request, f"Revision {number} is current again, as revision {made.number}.")
    return redirect("berth", public_id)


@require_GET
def facts_file(request: HttpRequest, public_id: UUID, number: int) -> HttpResponse:
    """Download one revision as a facts file."""
    berth, revision = _line_data(request, public_id, number)
    return download(BERTH_FILE, revision.berth_facts(), f"{berth} revision {number}")


@form_page
def berth_upload(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Take a facts file as the next revision, after showing what it changes."""
    berth = _berth_to_change(request, public_id)
    context = {
        "heading": "Take data from a file",
        "lead": "What it changes is shown before anything is saved; terminal and port stay as the terminal has them.",
        "act": "Show what it changes",
        "subject": berth,
    }
    done = reverse("berth", args=[berth.public_id])
    save = _save(request, berth)
    return upload_revision(request, kind=BERTH_FILE, revisions=berth.revisions, save=save, done=done, context=context)


@require_GET
def line_picture(request: HttpRequest, public_id: UUID, number: int) -> HttpResponse:
    """Draw the shore line as one revision stated it."""
    _, revision = _line_data(request, public_id, number)
    units = units_on_pictures(person_of(request))
    return picture_answer(request, f"line {revision.pk} {units}", lambda: draw_line(revision.berth_facts(), units))


def _berth(request: HttpRequest, public_id: UUID) -> Berth:
    return get_or_404(queries.berths_seen_by(person_of(request)), public_id=public_id)


def _own_berth(request: HttpRequest, public_id: UUID) -> Berth:
    berth = _berth(request, public_id)
    if not is_member(person_of(request), berth.terminal.organisation):
        raise Http404
    return berth


def _line_data(request: HttpRequest, public_id: UUID, number: int) -> tuple[Berth, BerthRevision]:
    """Return what the person may see of the line: its own people any revision, others the newest if it is shared."""
    person, berth = person_of(request), _berth(request, public_id)
    revision = _revision(berth, number)
    own = is_member(person, berth.terminal.organisation)
    if not own and not (berth.line_data_shared and revision == queries.latest_revision(berth)):
        raise Http404
    return berth, revision


def _berth_to_change(request: HttpRequest, public_id: UUID) -> Berth:
    berth = _berth(request, public_id)
    check_acts_for(person_of(request), berth.terminal.organisation)
    return berth


def _terminal_to_change(request: HttpRequest, public_id: UUID) -> Terminal:
    terminal = get_or_404(queries.terminals_seen_by(person_of(request)), public_id=public_id)
    check_acts_for(person_of(request), terminal.organisation)
    return terminal


def _revision(berth: Berth, number: int) -> BerthRevision:
    return get_object_or_404(berth.revisions.select_related("made_by", "berth"), number=number)
