"""Pages of signing in, home, people, organisations, units and the trail."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shared import actions
from shared.factors import has_second_factor
from shared.forms import (
    OrganisationAddForm,
    OwnSecretForm,
    PersonAddForm,
    RoleForm,
    SecretRenewForm,
    UnitsForm,
)
from shared.http import get_or_404, person_of, refusals_on, refusals_told
from shared.lists import listing
from shared.models import Organisation
from shared.permissions import NotAllowedError, administers, check_administrator, check_runs_installation
from shared.queries import organisations_seen_by, people_seen_by, waiting_for
from shared.roles import Kind, Role

form_page = require_http_methods(["GET", "POST"])


@require_GET
def home(request: HttpRequest) -> HttpResponse:
    """Show what waits for this person and where to begin."""
    person = person_of(request)
    return render(request, "shared/home.html", {"waiting": waiting_for(person), "organisation": person.organisation})


@form_page
def own_secret(request: HttpRequest) -> HttpResponse:
    """Change one's own secret; this session goes on, others end."""
    person = person_of(request)
    form = OwnSecretForm(request.POST or None)
    if form.is_valid():
        with refusals_on(form):
            actions.change_own_secret(
                by=person,
                now=timezone.now(),
                present=form.cleaned_data["present"],
                secret=form.cleaned_data["secret"],
            )
            update_session_auth_hash(request, person)
            messages.success(request, "Your secret is changed; sessions elsewhere have ended.")
            return redirect("home")
    return render(request, "shared/own_secret.html", {"form": form})


@form_page
def own_units(request: HttpRequest) -> HttpResponse:
    """Choose one's units and zone."""
    person = person_of(request)
    form = UnitsForm(request.POST or None, person=person)
    if form.is_valid():
        with refusals_on(form):
            units = dict(form.cleaned_data)
            zone = units.pop("zone")
            actions.choose_units(by=person, now=timezone.now(), units=units)
            actions.choose_zone(by=person, now=timezone.now(), zone=zone)
            messages.success(request, "Quantities and times are shown in these units and this zone from now on.")
            return redirect("own-units")
    return render(request, "shared/own_units.html", {"form": form})


@require_GET
def own_organisation(request: HttpRequest) -> HttpResponse:
    """Show one's own organisation and its people."""
    person = person_of(request)
    if person.organisation is None:
        return redirect("organisation-list")
    people = listing(
        request,
        people_seen_by(person),
        search_in=["full_name", "title", "username"],
        sort_by={"name": "full_name", "role": "role", "username": "username"},
    )
    context = {
        "organisation": person.organisation,
        "list": people,
        "administers": administers(person, person.organisation),
    }
    return render(request, "shared/organisation.html", context)


def _own_organisation_to_change(request: HttpRequest) -> Organisation:
    person = person_of(request)
    if person.organisation is None:
        raise NotAllowedError("You belong to no organisation; add one with its first administrator instead.")
    check_administrator(person, person.organisation)
    return person.organisation


@form_page
def person_add(request: HttpRequest) -> HttpResponse:
    """Add a person to one's own organisation."""
    organisation = _own_organisation_to_change(request)
    form = PersonAddForm(request.POST or None)
    if form.is_valid():
        with refusals_on(form):
            added = actions.add_person(
                by=person_of(request),
                now=timezone.now(),
                organisation=organisation,
                **_person_values(form.cleaned_data),
            )
            messages.success(request, f"{added} can sign in now as {added.username}, with the initial secret.")
            return redirect("organisation")
    return render(request, "shared/person_add.html", {"form": form, "organisation": organisation})


@form_page
def person_change(request: HttpRequest, username: str) -> HttpResponse:
    """Show a person of one's organisation; an administrator changes the role here."""
    shown = get_or_404(people_seen_by(person_of(request)), username=username)
    if request.method == "POST":
        _own_organisation_to_change(request)
    form = RoleForm(request.POST or None, initial={"role": shown.role})
    if form.is_valid():
        with refusals_on(form, "role"):
            actions.change_role(
                by=person_of(request), now=timezone.now(), person=shown, role=Role(form.cleaned_data["role"])
            )
            messages.success(request, f"{shown} is now {shown.role}.")
            return redirect("organisation")
    viewer = person_of(request)
    may_change = viewer.organisation is not None and administers(viewer, viewer.organisation)
    context = {"shown": shown, "form": form, "administers": may_change, "has_factor": has_second_factor(shown)}
    return render(request, "shared/person.html", context)


@form_page
def person_secret(request: HttpRequest, username: str) -> HttpResponse:
    """Give a person who lost theirs a new initial secret."""
    shown = get_or_404(people_seen_by(person_of(request)), username=username)
    _own_organisation_to_change(request)
    form = SecretRenewForm(request.POST or None)
    if form.is_valid():
        with refusals_on(form):
            actions.renew_secret(
                by=person_of(request), now=timezone.now(), person=shown, secret=form.cleaned_data["secret"]
            )
            messages.success(request, f"{shown} signs in with the new initial secret and then chooses their own.")
            return redirect("person", username=username)
    return render(request, "shared/person_secret.html", {"form": form, "shown": shown})


@form_page
def person_deactivate(request: HttpRequest, username: str) -> HttpResponse:
    """Ask once, then close a person's access."""
    shown = get_or_404(people_seen_by(person_of(request)), username=username)
    _own_organisation_to_change(request)
    if request.method == "GET":
        return render(request, "shared/person_deactivate.html", {"shown": shown})
    with refusals_told(request):
        actions.deactivate_person(by=person_of(request), now=timezone.now(), person=shown)
        messages.success(request, f"{shown} can't sign in any more.")
    return redirect("person", username=username)


@require_POST
def person_reactivate(request: HttpRequest, username: str) -> HttpResponse:
    """Open a person's access again."""
    shown = get_or_404(people_seen_by(person_of(request)), username=username)
    with refusals_told(request):
        actions.reactivate_person(by=person_of(request), now=timezone.now(), person=shown)
        messages.success(request, f"{shown} can sign in again.")
    return redirect("person", username=username)


@require_GET
def organisation_list(request: HttpRequest) -> HttpResponse:
    """Show every organisation to who runs the installation."""
    person = person_of(request)
    check_runs_installation(person)
    found = listing(
        request, organisations_seen_by(person), search_in=["name"], sort_by={"name": "name", "kind": "kind"}
    )
    return render(request, "shared/organisation_list.html", {"list": found})


@form_page
def organisation_add(request: HttpRequest) -> HttpResponse:
    """Add an organisation and its first administrator."""
    person = person_of(request)
    check_runs_installation(person)
    form = OrganisationAddForm(request.POST or None)
    if form.is_valid():
        with refusals_on(form):
            values = dict(form.cleaned_data)
            added = actions.add_organisation(by=person, now=timezone.now(), kind=Kind(values.pop("kind")), **values)
            messages.success(request, f"{added} is added; its administrator can sign in.")
            return redirect("organisation-list")
    return render(request, "shared/organisation_add.html", {"form": form})


def _person_values(values: dict[str, Any]) -> dict[str, Any]:
    return {**values, "role": Role(values["role"])}
