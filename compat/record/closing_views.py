"""Pages that close a record: settle, open again, sign, its PDF; and the change of watch, which is signed too."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from compat.accord.auditing import note_reading
from compat.accord.forms import ReasonForm
from compat.accord.keys import usable_key
from compat.accord.own_secret import locked_until
from compat.accord.permissions import check_acting_side, check_signing_side
from compat.record.closing import NotCompleteError, file_of, reopen_record, settle_record, sign_record
from compat.record.closing_forms import RecordSignForm, WatchForm
from compat.record.models import TransferRecord
from compat.record.moving import check_open
from compat.record.pages import Kept, address_of, base_context, kept_of
from compat.record.record_document import STATEMENTS
from compat.record.record_pdf import draft_pdf
from compat.record.record_view import record_view
from compat.record.states import FROZEN_STATES, Move, State, rule_for
from compat.record.watching import SAYS, standing_watch, take_watch
from shared.calc.errors import AccordError
from shared.http import refusals_on, refusals_told

form_page = require_http_methods(["GET", "POST"])


@require_POST
def settle(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Freeze the record for both signatures."""
    kept = kept_of(request, public_id)
    with refusals_told(request):
        try:
            settle_record(by=kept.person, now=timezone.now(), record=kept.record)
            messages.success(request, "The record is ready. Both sides can now read it and sign it.")
        except NotCompleteError as error:
            for sentence in error.left:
                messages.error(request, sentence)
    return redirect(address_of(kept, "close"))


@form_page
def reopen(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Open a record again that is not signed by both yet."""
    kept = kept_of(request, public_id)
    side = check_acting_side(kept.person, kept.record.accord)
    words = {
        "heading": "Open the record again",
        "lead": "Readings, checks and the time sheet can change again. A signature given so far becomes void.",
        "act": "Open it again",
    }
    form = ReasonForm(request.POST or None, act=words["act"], css_class="btn-danger")
    try:
        rule_for(Move.REOPEN, kept.state, side)
    except AccordError as error:
        messages.error(request, str(error))
        return redirect(address_of(kept, "close"))
    if form.is_valid():
        with refusals_on(form):
            reopen_record(by=kept.person, now=timezone.now(), record=kept.record, reason=form.cleaned_data["reason"])
            messages.success(request, "The record is open again.")
            return redirect(address_of(kept))
    return render(request, "record/reason.html", base_context(kept) | {"form": form, **words})


@form_page
def sign(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Read what is frozen, then sign it with one's own secret."""
    kept = kept_of(request, public_id)
    record, person = kept.record, kept.person
    side = check_signing_side(person, record.accord)
    try:
        rule_for(Move.SIGN, kept.state, side)
    except AccordError as error:
        messages.error(request, str(error))
        return redirect(address_of(kept, "close"))
    now = timezone.now()
    key = usable_key(person, record.accord.party(side).name, now)
    start = {"title": person.title, "seen_sha256": record.payload_sha256}
    form = RecordSignForm(request.POST or None, initial=start, key_needed=key is None)
    if form.is_valid():
        with refusals_on(form):
            sign_record(by=person, now=timezone.now(), record=record, **form.said())
            record.refresh_from_db(fields=["state"])
            closed = record.state == State.CLOSED
            done = "Signed by both sides: the record is closed." if closed else "Signed. The other side signs next."
            messages.success(request, done)
            return redirect(address_of(kept, "close"))
        form.look_again(record.payload_sha256)
    context = base_context(kept) | {
        "form": form,
        "view": record_view(file_of(record)),
        "statement": STATEMENTS[side],
        "key": key,
        "locked_until": locked_until(person, now),
    }
    return render(request, "record/sign.html", context)


@form_page
def watch(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Take over the watch of one's own side."""
    kept = kept_of(request, public_id)
    record, person, now = kept.record, kept.person, timezone.now()
    side = check_signing_side(person, record.accord)
    try:
        check_open(record)
    except AccordError as error:
        messages.error(request, str(error))
        return redirect(address_of(kept))
    key = usable_key(person, record.accord.party(side).name, now)
    form = WatchForm(request.POST or None, initial={"title": person.title}, key_needed=key is None)
    if form.is_valid():
        with refusals_on(form):
            take_watch(by=person, now=timezone.now(), record=record, **form.said())
            messages.success(request, f"You stand the watch for the {side}.")
            return redirect(address_of(kept, "watch"))
    context = base_context(kept) | {
        "form": form,
        "says": SAYS[side],
        "before": standing_watch(record, side, now).watch,
        "locked_until": locked_until(person, now),
    }
    return render(request, "record/watch.html", context)


@require_GET
def draft(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Give what is ready to sign, before both have signed, as a PDF marked as a draft."""
    kept = kept_of(request, public_id)
    if kept.state not in FROZEN_STATES - {State.CLOSED}:
        raise Http404("There is nothing to sign that could be drafted.")
    note_reading(by=kept.person, now=timezone.now(), accord=kept.shown, what="draft of the record")
    with refusals_told(request):
        return _pdf(draft_pdf(file_of(kept.record)), kept, "record-draft")
    return redirect(address_of(kept, "close"))


@require_GET
def document(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Give the record's PDF as both sides signed it."""
    kept = kept_of(request, public_id)
    if kept.state is not State.CLOSED:
        raise Http404("The record is not signed by both sides.")
    note_reading(by=kept.person, now=timezone.now(), accord=kept.shown, what="record PDF")
    signed = TransferRecord.objects.values_list("pdf", flat=True).get(pk=kept.record.pk)
    return _pdf(bytes(signed or b""), kept, "record")


def _pdf(data: bytes, kept: Kept, what: str) -> HttpResponse:
    accord = kept.record.accord
    name = slugify(f"{accord.ship_name} {accord.reference} {what}")
    headers = {"Content-Disposition": f'attachment; filename="{name}.pdf"'}
    return HttpResponse(data, content_type="application/pdf", headers=headers)
