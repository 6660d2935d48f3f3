"""Pages about terminals themselves."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from shared.http import get_or_404, person_of, refusals_on
from shared.lists import listing
from shared.permissions import acts_for, check_acts_for
from terminals import actions, queries
from terminals.forms import TerminalForm
from terminals.models import Terminal

form_page = require_http_methods(["GET", "POST"])


@require_GET
def terminal_list(request: HttpRequest) -> HttpResponse:
    """List the terminals of the person's own organisation."""
    person = person_of(request)
    found = listing(
        request,
        queries.own_terminals(person),
        search_in=["name", "port"],
        sort_by={"name": "name", "port": "port"},
    )
    context = {"list": found, "may_add": actions.may_add_terminals(person)}
    return render(request, "terminals/terminal_list.html", context)


@form_page
def terminal_add(request: HttpRequest) -> HttpResponse:
    """Add a terminal."""
    person = person_of(request)
    actions.check_may_add_terminals(person)
    form = TerminalForm(request.POST or None)
    if form.is_valid():
        with refusals_on(form):
            terminal = actions.add_terminal(by=person, now=timezone.now(), **form.cleaned_data)
            messages.success(request, f"{terminal} was added. Add its berths now.")
            return redirect("terminal", terminal.public_id)
    return render(request, "terminals/terminal_form.html", {"form": form})


@require_GET
def terminal_page(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Show a terminal and its berths."""
    person = person_of(request)
    terminal = _terminal(request, public_id)
    berths = queries.berth_list(person, own=False, archived=False).filter(terminal=terminal)
    rows = queries.with_sizes(berths)
    context = {"terminal": terminal, "berths": rows, "may_change": acts_for(person, terminal.organisation)}
    return render(request, "terminals/terminal.html", context)


@form_page
def terminal_change(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Change a terminal's name, port and address."""
    person = person_of(request)
    terminal = _terminal(request, public_id)
    check_acts_for(person, terminal.organisation)
    form = TerminalForm(request.POST or None, initial=_stated(terminal))
    if form.is_valid():
        with refusals_on(form):
            actions.change_terminal(by=person, now=timezone.now(), terminal=terminal, **form.cleaned_data)
            messages.success(request, "Saved.")
            return redirect("terminal", terminal.public_id)
    return render(request, "terminals/terminal_form.html", {"form": form, "terminal": terminal})


def _stated(terminal: Terminal) -> dict[str, str]:
    return {"name": terminal.name, "port": terminal.port, "address": terminal.address, "zone": terminal.zone}


def _terminal(request: HttpRequest, public_id: UUID) -> Terminal:
    return get_or_404(queries.terminals_seen_by(person_of(request)), public_id=public_id)
