"""Pages of the checklist: items shown and answered. They work with and without scripts."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from compat.accord import actions
from compat.accord.accord_items import before_signing_of
from compat.accord.answering import latest_answers
from compat.accord.auditing import note_reading
from compat.accord.checklist import INTERVALS_NOTE
from compat.accord.checklist.coverage import EDITION_READ
from compat.accord.checklist.item import Item, Side
from compat.accord.coverage_showing import coverage_of
from compat.accord.forms import AnswerForm
from compat.accord.models import Accord, AnswerChoice
from compat.accord.pages import accord_of, is_htmx, zones_of
from compat.accord.permissions import acting_side, check_acting_side
from compat.accord.sending import sent_once
from compat.accord.showing import checklist_of, item_row
from compat.accord.states import State
from shared.http import person_of, refusals_on
from shared.permissions import NotAllowedError

form_page = require_http_methods(["GET", "POST"])


@require_GET
def checklist(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Show the checklist by phase, with each side's answers and progress."""
    accord, person = accord_of(request, public_id), person_of(request)
    note_reading(by=person, now=timezone.now(), accord=accord, what="checklist")
    side = acting_side(person, accord)
    may_answer = side is not None and accord.state == State.ON_TABLE
    only_open = may_answer and request.GET.get("show") == "open"
    context = {
        "accord": accord,
        "side": side,
        "on_table": accord.state == State.ON_TABLE,
        "may_answer": may_answer,
        "only_open": only_open,
        "checklist": checklist_of(accord, side, only_open=only_open),
        "conditions": accord.transfer_conditions().words(),
        "intervals": INTERVALS_NOTE,
    }
    return render(request, "accord/checklist.html", context)


@require_GET
def coverage(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Show how the accord meets 33 CFR 156.120 and 156.150, paragraph by paragraph."""
    accord = accord_of(request, public_id)
    note_reading(by=person_of(request), now=timezone.now(), accord=accord, what="coverage")
    context = {"accord": accord, "sections": coverage_of(accord), "edition": EDITION_READ}
    return render(request, "accord/coverage.html", context)


@form_page
def item_answer(request: HttpRequest, public_id: UUID, key: str) -> HttpResponse:
    """Answer one item for one's own side."""
    accord, person = accord_of(request, public_id), person_of(request)
    side = check_acting_side(person, accord)
    item = _item(accord, key)
    if side not in item.answered_by:
        raise NotAllowedError(f"This item is answered by the {item.answered_by_words()}, not by the {side}.")
    latest = latest_answers(accord).get((item.key, side))
    zones = zones_of(accord, person)
    form = AnswerForm(request.POST or None, item=item, latest=latest, person=person, zones=zones)
    if form.is_valid():
        with refusals_on(form):
            with sent_once(request) as new:
                if new:
                    actions.answer_item(
                        by=person,
                        now=timezone.now(),
                        accord=accord,
                        item_key=item.key,
                        answer=AnswerChoice(form.cleaned_data["answer"]),
                        values=form.values(),
                        remark=form.cleaned_data["remark"],
                        seen=form.cleaned_data["seen"],
                    )
            return _answered(request, accord, item, side)
    form.look_again(latest)
    anchor = item.key.replace(".", "-")
    context = {"accord": accord, "side": side, "item": item, "form": form, "latest": latest, "anchor": anchor}
    return render(request, "accord/part_item_form.html" if is_htmx(request) else "accord/item.html", context)


@require_GET
def item_show(request: HttpRequest, public_id: UUID, key: str) -> HttpResponse:
    """Show one item as its row: what a script puts back when an answer is given up."""
    accord, person = accord_of(request, public_id), person_of(request)
    if not is_htmx(request):
        return redirect(_checklist_address(accord, key))
    side = acting_side(person, accord) if accord.state == State.ON_TABLE else None
    context = {"accord": accord, "row": item_row(_item(accord, key), latest_answers(accord), side)}
    return render(request, "accord/part_item.html", context)


def _item(accord: Accord, key: str) -> Item:
    item = next((one for one in before_signing_of(accord) if one.key == key), None)
    if item is None:
        raise Http404(f"The item {key} is not answered in this accord.")
    return item


def _answered(request: HttpRequest, accord: Accord, item: Item, side: Side) -> HttpResponse:
    if not is_htmx(request):
        messages.success(request, "The answer is saved.")
        return redirect(_checklist_address(accord, _next_open(accord, item, side)))
    row = item_row(item, latest_answers(accord), side)
    context = {"accord": accord, "row": row, "checklist": checklist_of(accord, side), "side": side, "swapped": True}
    return render(request, "accord/part_item.html", context)


def _next_open(accord: Accord, answered: Item, side: Side) -> str:
    """Return the next item that this side has not answered, or the one just answered where none is left."""
    given = latest_answers(accord)
    items = [item for item in before_signing_of(accord) if side in item.answered_by]
    place = [item.key for item in items].index(answered.key)
    waiting = [item.key for item in items[place + 1 :] if (item.key, side) not in given]
    return waiting[0] if waiting else answered.key


def _checklist_address(accord: Accord, key: str) -> str:
    return reverse("accord-checklist", args=[accord.public_id]) + "#" + key.replace(".", "-")
