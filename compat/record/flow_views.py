"""Pages on which the flow is started, stopped and ended, checks are answered and the time sheet is kept."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from compat.accord.forms import AnswerForm
from compat.accord.models import AnswerChoice
from compat.accord.permissions import check_acting_side
from compat.record.checking import give_check, item_of
from compat.record.flowing import correct_event, end_flow, log_event, say_go, stop_flow
from compat.record.forms import EndForm, EventCorrectionForm, EventForm, StopForm, minute
from compat.record.pages import Kept, address_of, base_context, kept_of
from compat.record.states import State
from shared.http import refusals_on, refusals_told

form_page = require_http_methods(["GET", "POST"])


@require_POST
def go(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Say go for one's own side."""
    kept = kept_of(request, public_id)
    with refusals_told(request):
        if say_go(by=kept.person, now=timezone.now(), record=kept.record):
            messages.success(request, "Both sides have said go: oil flows.")
        else:
            messages.success(request, "Your side has said go; oil flows when the other side has said so too.")
    return redirect(address_of(kept))


@form_page
def stop(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Log that flow was stopped."""
    kept = kept_of(request, public_id)
    check_acting_side(kept.person, kept.record.accord)
    form = StopForm(request.POST or None, initial={"at": minute(timezone.now()), "caused_by": kept.side})
    if form.is_valid():
        with refusals_on(form):
            said = form.cleaned_data
            stop_flow(by=kept.person, now=timezone.now(), record=kept.record, **said)
            messages.success(request, "The stop is logged. Flow goes on when both sides have said go.")
            return redirect(address_of(kept))
    return _form(request, kept, form, "Log a stop", "Flow was stopped")


@form_page
def end(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Log that flow has ended for good."""
    kept = kept_of(request, public_id)
    check_acting_side(kept.person, kept.record.accord)
    form = EndForm(request.POST or None, initial={"at": minute(timezone.now())})
    if form.is_valid():
        with refusals_on(form):
            end_flow(by=kept.person, now=timezone.now(), record=kept.record, **form.cleaned_data)
            messages.success(request, "The end of flow is logged; closing items and the time sheet follow.")
            return redirect(address_of(kept, "closing"))
    return _form(request, kept, form, "End of flow", "Flow has ended")


@form_page
def event(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Write one line of the time sheet."""
    kept = kept_of(request, public_id)
    check_acting_side(kept.person, kept.record.accord)
    form = EventForm(request.POST or None, person=kept.person, initial={"at": minute(timezone.now())})
    if form.is_valid():
        with refusals_on(form):
            log_event(
                by=kept.person,
                now=timezone.now(),
                record=kept.record,
                kind=form.kind_given(),
                at=form.cleaned_data["at"],
                remark=form.cleaned_data["remark"],
                pressure_bar_gauge=form.cleaned_data["pressure"],
            )
            messages.success(request, "The line is on the time sheet.")
            return redirect(address_of(kept, "time-sheet"))
    return _form(request, kept, form, "A line of the time sheet", "Write it down")


@form_page
def event_correct(request: HttpRequest, public_id: UUID, number: int) -> HttpResponse:
    """Put a line of the time sheet right; the old one stays."""
    kept = kept_of(request, public_id)
    check_acting_side(kept.person, kept.record.accord)
    line = get_object_or_404(kept.record.events, pk=number)
    form = EventCorrectionForm(request.POST or None, initial={"at": line.at, "remark": line.remark})
    if form.is_valid():
        with refusals_on(form):
            correct_event(by=kept.person, now=timezone.now(), event=line, **form.cleaned_data)
            messages.success(request, "The correction is kept beside the old line.")
            return redirect(address_of(kept, "time-sheet"))
    return _form(request, kept, form, f"Correct “{line.kind}”", "Keep the correction")


def _form(request: HttpRequest, kept: Kept, form: Form, heading: str, act: str) -> HttpResponse:
    return render(request, "record/form.html", base_context(kept) | {"form": form, "heading": heading, "act": act})


@form_page
def check(request: HttpRequest, public_id: UUID, key: str) -> HttpResponse:
    """Answer one repeated or closing item for one's own side; a plain yes is one tap on the record's page."""
    kept = kept_of(request, public_id)
    check_acting_side(kept.person, kept.record.accord)
    before = kept.state
    with refusals_told(request):
        item = item_of(kept.accord, key)
        form = AnswerForm(request.POST or None, item=item, latest=None, person=kept.person)
        if form.is_valid():
            with refusals_on(form):
                give_check(
                    by=kept.person,
                    now=timezone.now(),
                    record=kept.record,
                    item_key=key,
                    answer=AnswerChoice(form.cleaned_data["answer"]),
                    values=form.values(),
                    remark=form.cleaned_data["remark"],
                )
                kept.record.refresh_from_db()
                if kept.state is State.HELD and before is not State.HELD:
                    messages.warning(request, "The transfer is held: flow goes on when both sides have said go.")
                else:
                    messages.success(request, "The answer is kept.")
                return redirect(address_of(kept, "due" if kept.record.ended_at is None else "closing"))
        return render(request, "record/check.html", base_context(kept) | {"item": item, "form": form})
    return redirect(address_of(kept))
