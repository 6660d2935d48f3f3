"""Pages of values: put on the table, answered, accepted, taken back. They work with and without scripts."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from compat.accord import actions, queries
from compat.accord.auditing import note_reading
from compat.accord.bargaining import standing
from compat.accord.models import Accord, ProposalStatus, ValueProposal
from compat.accord.pages import accord_of, accord_page, address_of, is_htmx
from compat.accord.permissions import acting_side, check_acting_side, sees_line_data
from compat.accord.practice import newest_practice, usual_values_to_propose
from compat.accord.sending import sent_once
from compat.accord.states import State
from compat.accord.value_forms import ValueForm
from compat.accord.value_kinds import ValueDefinition
from compat.accord.value_showing import lying_open_for, meaning_of, value_card
from compat.accord.values import DEFINITIONS
from shared.calc.errors import AccordError
from shared.http import person_of, refusals_on, refusals_told

form_page = require_http_methods(["GET", "POST"])
ON_ITS_OWN = "alone"
"""The field of a form that stands on a page of its own."""


def _definition(accord: Accord, key: str) -> ValueDefinition:
    definition = DEFINITIONS.get(key)
    if definition is None or not definition.applies(accord.transfer_conditions()):
        raise Http404(f"There is no value {key} in this accord.")
    return definition


@form_page
def value(request: HttpRequest, public_id: UUID, key: str) -> HttpResponse:
    """Show one value with its history and the form to put another on the table, and put it there."""
    accord, person = accord_of(request, public_id), person_of(request)
    definition = _definition(accord, key)
    if request.method == "POST":
        return _propose(request, accord, definition)
    note_reading(by=person, now=timezone.now(), accord=accord, what=f"value {key}")
    return _value_page(request, accord, definition, None)


def _propose(request: HttpRequest, accord: Accord, definition: ValueDefinition) -> HttpResponse:
    person = person_of(request)
    check_acting_side(person, accord)
    form = ValueForm(request.POST, definition=definition, person=person)
    if form.is_valid():
        with refusals_on(form, "value"):
            with sent_once(request) as new:
                if new:
                    actions.propose_value(
                        by=person,
                        now=timezone.now(),
                        accord=accord,
                        key=definition.key,
                        value=form.cleaned_data["value"],
                        typed=form.typed(),
                        seen=form.cleaned_data["seen"],
                    )
            messages.success(request, f"{definition.label}: {form.typed()} is on the table.")
            return redirect(address_of(accord, f"value-{definition.key}"))
    accord.refresh_from_db()
    if ON_ITS_OWN in request.POST and not is_htmx(request):
        return _value_page(request, accord, definition, form)
    return accord_page(request, accord, bound={definition.key: form})


def _value_page(
    request: HttpRequest, accord: Accord, definition: ValueDefinition, form: ValueForm | None
) -> HttpResponse:
    person = person_of(request)
    side = acting_side(person, accord)
    card = value_card(accord, definition, person, side, line_data=sees_line_data(person, accord), form=form)
    context = {"accord": accord, "side": side, "card": card, "on_table": accord.state == State.ON_TABLE}
    return render(request, "accord/part_value_form.html" if is_htmx(request) else "accord/value.html", context)


@require_GET
def value_meaning(request: HttpRequest, public_id: UUID, key: str) -> HttpResponse:
    """Show what a value would mean before it is put on the table."""
    accord, person = accord_of(request, public_id), person_of(request)
    definition = _definition(accord, key)
    form = ValueForm(request.GET, definition=definition, person=person)
    context: dict[str, Any] = {"form": form, "meaning": None}
    if form.is_valid():
        given, line_data = form.cleaned_data["value"], sees_line_data(person, accord)
        context["meaning"] = meaning_of(accord, key, given, standing(accord), line_data=line_data)
    return render(request, "accord/part_preview.html", context)


@require_POST
def value_accept(request: HttpRequest, public_id: UUID, number: int) -> HttpResponse:
    """Accept the other side's open value."""
    accord = accord_of(request, public_id)
    proposal = get_object_or_404(accord.proposals, pk=number)
    with refusals_told(request):
        _accept_once(request, proposal)
    return redirect(address_of(accord, f"value-{proposal.key}"))


def _accept_once(request: HttpRequest, proposal: ValueProposal) -> None:
    definition = DEFINITIONS[proposal.key]
    actions.work_out_acceptance(proposal)
    with sent_once(request) as new:
        if new:
            actions.accept_value(by=person_of(request), now=timezone.now(), proposal=proposal)
    messages.success(request, f"{definition.label}: {definition.shown(proposal.given)} is agreed.")


@require_POST
def value_take_back(request: HttpRequest, public_id: UUID, number: int) -> HttpResponse:
    """Take one's own side's open value off the table."""
    accord = accord_of(request, public_id)
    proposal: ValueProposal = get_object_or_404(accord.proposals, pk=number)
    with refusals_told(request):
        with sent_once(request) as new:
            if new:
                actions.take_back_proposal(by=person_of(request), now=timezone.now(), proposal=proposal)
        messages.success(request, "The value is off the table.")
    return redirect(address_of(accord, f"value-{proposal.key}"))


@form_page
def values_open(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Show everything that waits for one's own side, and accept what is ticked, one act for each."""
    accord, person = accord_of(request, public_id), person_of(request)
    side = check_acting_side(person, accord)
    if request.method == "POST":
        numbers = [int(text) for text in request.POST.getlist("accept") if text.isdecimal()]
        wanted = {proposal.pk: proposal for proposal in accord.proposals.filter(pk__in=numbers)}
        if not wanted:
            messages.error(request, "Nothing was ticked, so nothing was accepted.")
        refused = False
        for proposal in wanted.values():
            actions.work_out_acceptance(proposal)
        with sent_once(request) as new:
            for number in numbers if new else []:
                if number in wanted:
                    refused = not _accepted(request, wanted[number]) or refused
        if wanted and not refused:
            return redirect(address_of(accord, "values"))
        return redirect("accord-values-open", public_id)
    cards = lying_open_for(accord, person, side, line_data=sees_line_data(person, accord))
    return render(request, "accord/values_open.html", {"accord": accord, "side": side, "cards": cards})


def _accepted(request: HttpRequest, proposal: ValueProposal) -> bool:
    """Accept one of several; what is refused is told, and the others go on."""
    try:
        actions.accept_value(by=person_of(request), now=timezone.now(), proposal=proposal)
    except AccordError as error:
        messages.error(request, str(error))
        return False
    definition = DEFINITIONS[proposal.key]
    messages.success(request, f"{definition.label}: {definition.shown(proposal.given)} is agreed.")
    return True


@form_page
def values_usual(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Show the terminal's usual values that are not on the table yet, and put there what is ticked."""
    accord, person = accord_of(request, public_id), person_of(request)
    check_acting_side(person, accord)
    if request.method == "POST":
        with refusals_told(request):
            with sent_once(request) as new:
                put = (
                    actions.propose_usual_values(
                        by=person, now=timezone.now(), accord=accord, keys=request.POST.getlist("usual")
                    )
                    if new
                    else []
                )
            messages.success(request, f"{len(put)} usual values are on the table; the ship accepts or answers each.")
            return redirect(address_of(accord, "values"))
    terminal = accord.berth_revision.berth.terminal
    ready = usual_values_to_propose(accord)
    context = {
        "accord": accord,
        "practice": newest_practice(terminal),
        "terminal": terminal,
        "usual": [(DEFINITIONS[key], given) for key, given in ready.items()],
    }
    return render(request, "accord/values_usual.html", context)


@require_GET
def values_history(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Show every step on every value in one look."""
    accord, person = accord_of(request, public_id), person_of(request)
    note_reading(by=person, now=timezone.now(), accord=accord, what="history of values")
    rows = [row for row in queries.value_rows(accord) if row.history]
    open_status = ProposalStatus.OPEN
    return render(request, "accord/values_history.html", {"accord": accord, "rows": rows, "open": open_status})
