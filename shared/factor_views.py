"""Pages of one's own second factor, and of an organisation that asks for one."""

from __future__ import annotations

from typing import Any

import segno
from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shared import actions, factors, passkeys
from shared.calc.errors import AccordError
from shared.http import get_or_404, person_of, refusals_on, refusals_told
from shared.models import Passkey, Person, TimeCode
from shared.permissions import NotAllowedError, check_administrator
from shared.queries import people_seen_by
from shared.sealing import seal, unseal
from shared.sign_in_forms import NoticesForm, PasskeyForm, PresentForm, RequireForm, TimeCodeForm
from shared.sign_in_views import QUESTION, SHOWN

form_page = require_http_methods(["GET", "POST"])
_OFFERED = "time_code_offered"


@require_GET
def own_sign_in(request: HttpRequest) -> HttpResponse:
    """Show how one signs in: passkeys, time codes, recovery codes."""
    person = person_of(request)
    context = {
        "passkeys": list(person.passkeys.all()),
        "time_code": TimeCode.objects.filter(person=person).first(),
        "codes_left": person.recovery_codes.filter(used_at=None).count(),
        "has_factor": factors.has_second_factor(person),
        "needed": factors.needs_second_factor(person),
        "host": passkeys.host_for_passkeys(request),
    }
    return render(request, "shared/own_sign_in.html", context)


@never_cache
@sensitive_post_parameters()
@form_page
def time_code_add(request: HttpRequest) -> HttpResponse:
    """Show a secret as a picture and in letters, and take the first code."""
    person = person_of(request)
    form = TimeCodeForm(request.POST or None, act="Sign in with these codes")
    secret = _offered_secret(request)
    if form.is_valid():
        with refusals_on(form):
            now = timezone.now()
            factors.check_present(by=person, now=now, present=form.cleaned_data["present"])
            codes = factors.set_up_time_codes(by=person, now=now, secret=secret, code=form.cleaned_data["code"])
            del request.session[_OFFERED]
            return _enrolled(request, person, codes, "Time codes are set up.")
    picture = segno.make(factors.time_code_address(person, secret), error="m").svg_data_uri(scale=5, border=3)
    grouped = " ".join(secret[place : place + 4] for place in range(0, len(secret), 4))
    return render(request, "shared/time_code_add.html", {"form": form, "picture": picture, "secret": grouped})


def _offered_secret(request: HttpRequest) -> str:
    """Return the secret that this session was offered, so that a mistyped code does not mean another picture."""
    sealed = request.session.get(_OFFERED)
    if sealed:
        try:
            return unseal(sealed)
        except AccordError:
            pass
    secret = factors.new_time_secret()
    request.session[_OFFERED] = seal(secret)
    return secret


@never_cache
@form_page
def passkey_add(request: HttpRequest) -> HttpResponse:
    """Take a key that the device made."""
    person = person_of(request)
    form = PasskeyForm(request.POST or None, act="Make a passkey on this device")
    if form.is_valid():
        with refusals_on(form):
            now = timezone.now()
            state = request.session.pop(QUESTION, None)
            factors.check_present(by=person, now=now, present=form.cleaned_data["present"])
            key = passkeys.read_new(request, state, form.cleaned_data["credential"])
            host = passkeys.host_for_passkeys(request) or ""
            codes = factors.add_passkey(by=person, now=now, key=key, name=form.cleaned_data["name"], host=host)
            return _enrolled(request, person, codes, "The passkey is added.")
    return render(request, "shared/passkey_add.html", {"form": form, "host": passkeys.host_for_passkeys(request)})


@never_cache
@require_GET
def passkey_new_question(request: HttpRequest) -> JsonResponse:
    """Tell the browser what to make a key from."""
    try:
        options, state = passkeys.ask_for_new(request, person_of(request))
    except AccordError as error:
        return JsonResponse({"refused": str(error)}, status=409)
    request.session[QUESTION] = state
    return JsonResponse(options)


def _enrolled(request: HttpRequest, person: Person, codes: list[str], told: str) -> HttpResponse:
    request.session[SHOWN] = True
    update_session_auth_hash(request, person)
    if codes:
        return render(request, "shared/recovery_codes.html", {"codes": codes, "told": told})
    messages.success(request, told)
    return redirect("own-sign-in")


@form_page
def passkey_remove(request: HttpRequest, number: int) -> HttpResponse:
    """Take one of one's passkeys off."""
    passkey = get_object_or_404(Passkey, pk=number, person=person_of(request))
    what = f"The passkey “{passkey.name}” opens nothing here any more. Remove it on the device as well."
    return _remove(request, what, lambda person, now: factors.remove_passkey(by=person, now=now, passkey=passkey))


@form_page
def time_code_remove(request: HttpRequest) -> HttpResponse:
    """Take one's time codes off."""
    what = "Codes from your app open nothing here any more. Remove the entry in the app as well."
    return _remove(request, what, lambda person, now: factors.remove_time_codes(by=person, now=now))


def _remove(request: HttpRequest, what: str, act: Any) -> HttpResponse:
    person = person_of(request)
    form = PresentForm(request.POST or None, act="Remove it", css_class="btn-danger")
    if form.is_valid():
        with refusals_on(form):
            now = timezone.now()
            factors.check_present(by=person, now=now, present=form.cleaned_data["present"])
            act(person, now)
            update_session_auth_hash(request, person)
            messages.success(request, "Removed; sessions elsewhere have ended.")
            return redirect("own-sign-in")
    return render(request, "shared/factor_act.html", {"form": form, "heading": "Remove it", "lead": what})


@never_cache
@form_page
def recovery_codes(request: HttpRequest) -> HttpResponse:
    """Make a new list of recovery codes and show it once."""
    person = person_of(request)
    form = PresentForm(request.POST or None, act="Make new recovery codes")
    if form.is_valid():
        with refusals_on(form):
            now = timezone.now()
            factors.check_present(by=person, now=now, present=form.cleaned_data["present"])
            codes = factors.make_recovery_codes(by=person, now=now)
            return render(request, "shared/recovery_codes.html", {"codes": codes, "told": "A new list is made."})
    lead = "Ten new codes, each good once. Those of an earlier list work no longer."
    return render(request, "shared/factor_act.html", {"form": form, "heading": "New recovery codes", "lead": lead})


@form_page
def own_notices(request: HttpRequest) -> HttpResponse:
    """Choose where mail goes, and about what."""
    person = person_of(request)
    form = NoticesForm(request.POST or None, initial={"email": person.email, "notices": person.notices})
    if form.is_valid():
        with refusals_on(form):
            actions.choose_notices(by=person, now=timezone.now(), **form.cleaned_data)
            messages.success(request, "Saved." if person.email else "Saved; without a mail address nothing is sent.")
            return redirect("own-notices")
    return render(request, "shared/own_notices.html", {"form": form})


@form_page
def second_factor_required(request: HttpRequest) -> HttpResponse:
    """Let an administrator ask everybody of the organisation for a second factor."""
    person = person_of(request)
    organisation = person.organisation
    if organisation is None:
        raise NotAllowedError("You belong to no organisation.")
    check_administrator(person, organisation)
    form = RequireForm(request.POST or None, organisation=organisation)
    if form.is_valid():
        with refusals_on(form):
            required: bool = form.cleaned_data["required"]
            factors.require_second_factor(by=person, now=timezone.now(), organisation=organisation, required=required)
            asked = "is asked of everybody" if required else "is up to each person"
            messages.success(request, f"A second factor {asked} from now on.")
            return redirect("organisation")
    return render(request, "shared/second_factor_required.html", {"form": form, "organisation": organisation})


@require_POST
def person_reset_factor(request: HttpRequest, username: str) -> HttpResponse:
    """Take every second factor off a person who lost theirs."""
    shown = get_or_404(people_seen_by(person_of(request)), username=username)
    with refusals_told(request):
        factors.reset_second_factor(by=person_of(request), now=timezone.now(), person=shown)
        messages.success(request, f"{shown} signs in with the secret alone, and can set up a second factor anew.")
    return redirect("person", username=username)
