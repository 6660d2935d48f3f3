"""Pages of what a terminal prepares for its accords: usual values, and checklist items of its own."""

from __future__ import annotations

from uuid import UUID, uuid4

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_GET, require_http_methods

from compat.accord import actions
from compat.accord.checklist.own_items import OwnItem
from compat.accord.practice import newest_practice, own_items, usual_values
from compat.accord.practice_forms import UsualValuesForm, form_of
from compat.accord.values import DEFINITIONS
from shared.http import get_or_404, person_of, refusals_on, refusals_told
from shared.permissions import acts_for, check_acts_for
from terminals.models import Terminal
from terminals.queries import own_terminals

form_page = require_http_methods(["GET", "POST"])
LONGEST_KEY = 40


@require_GET
def practice(request: HttpRequest, terminal: UUID) -> HttpResponse:
    """Show what a terminal prepares, to its own people."""
    person, own = person_of(request), _terminal(request, terminal)
    newest = newest_practice(own)
    usual = usual_values(newest)
    context = {
        "terminal": own,
        "practice": newest,
        "usual": [(definition, usual[key]) for key, definition in DEFINITIONS.items() if key in usual],
        "items": [(item.key, item.as_item()) for item in own_items(newest)],
        "may_change": acts_for(person, own.organisation),
    }
    return render(request, "accord/practice.html", context)


@form_page
def practice_values(request: HttpRequest, terminal: UUID) -> HttpResponse:
    """Fill in the values that the terminal usually proposes."""
    person, own = person_of(request), _terminal(request, terminal)
    check_acts_for(person, own.organisation)
    newest = newest_practice(own)
    form = UsualValuesForm(request.POST or None, usual=usual_values(newest), person=person)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            actions.keep_usual_values(
                by=person, now=timezone.now(), terminal=own, started_from=_started_from(request), values=form.values()
            )
            messages.success(request, "Kept. Nothing goes on any table by itself: propose them in an accord.")
            return redirect("practice", own.public_id)
    context = {"terminal": own, "form": form, "started_from": newest.number if newest else 0}
    return render(request, "accord/practice_values.html", context)


@form_page
def practice_item(request: HttpRequest, terminal: UUID, key: str = "") -> HttpResponse:
    """Add an item of the terminal's own, or state one anew."""
    person, own = person_of(request), _terminal(request, terminal)
    check_acts_for(person, own.organisation)
    newest = newest_practice(own)
    stated = _item(own_items(newest), key) if key else None
    form = form_of(stated, request.POST or None)
    if form.is_valid():
        with refusals_on(form):
            item = form.item(key or _new_key(form.cleaned_data["statement"]))
            actions.keep_own_item(
                by=person, now=timezone.now(), terminal=own, started_from=_started_from(request), item=item
            )
            messages.success(request, "Kept. Accords opened from now on carry it; those that are open do not change.")
            return redirect("practice", own.public_id)
    context = {"terminal": own, "form": form, "item": stated, "started_from": newest.number if newest else 0}
    return render(request, "accord/practice_item.html", context)


@require_http_methods(["POST"])
def practice_item_drop(request: HttpRequest, terminal: UUID, key: str) -> HttpResponse:
    """Leave an item out of later accords."""
    person, own = person_of(request), _terminal(request, terminal)
    with refusals_told(request):
        actions.drop_own_item(by=person, now=timezone.now(), terminal=own, started_from=_started_from(request), key=key)
        messages.success(request, "Left out of later accords; those that are open keep it.")
    return redirect("practice", own.public_id)


def _terminal(request: HttpRequest, public_id: UUID) -> Terminal:
    return get_or_404(own_terminals(person_of(request)), public_id=public_id)


def _started_from(request: HttpRequest) -> int:
    given = request.POST.get("started_from", "")
    return int(given) if given.isdecimal() else 0


def _item(items: list[OwnItem], key: str) -> OwnItem:
    found = next((item for item in items if item.key == key), None)
    if found is None:
        raise Http404(f"There is no item {key}.")
    return found


def _new_key(statement: str) -> str:
    """Name a new item by its first words and something that no other item has."""
    words = slugify(statement).split("-")[:4]
    return "-".join([*words, uuid4().hex[:6]])[-LONGEST_KEY:].strip("-")
