"""Pages of signing in: secret, second step, and passkeys in place of both."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import LoginView
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.shortcuts import redirect, render, resolve_url
from django.urls import reverse
from django.utils import timezone
from django.utils.crypto import constant_time_compare
from django.utils.http import url_has_allowed_host_and_scheme, urlencode
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shared import factors, passkeys
from shared.calc.errors import AccordError
from shared.lockout import address_of, begin_attempt, forget_attempts
from shared.models import Person
from shared.sign_in_forms import CodeForm, SignInForm

BACKEND = "django.contrib.auth.backends.ModelBackend"
TIME_FOR_SECOND_STEP = timedelta(minutes=10)
# What a session holds: half a sign-in, the question put to a passkey, and that the second factor was shown.
HALF, QUESTION, SHOWN = "half_signed_in", "passkey_question", "second_factor_shown"


class SignIn(LoginView):
    """The sign-in page; whoever has a second factor goes on to the second step."""

    template_name = "shared/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def form_valid(self, form: Any) -> HttpResponse:
        """Sign in at once, or remember for a while that the secret was right."""
        person: Person = form.get_user()
        if not factors.has_second_factor(person):
            forget_attempts(person.username)
            return super().form_valid(form)
        self.request.session[HALF] = {
            "person": person.pk,
            "hash": person.get_session_auth_hash(),
            "at": timezone.now().isoformat(),
        }
        asked_for = self.get_redirect_url()
        query = f"?{urlencode({'next': asked_for})}" if asked_for else ""
        return redirect(reverse("second-step") + query)


def _half_signed_in(request: HttpRequest) -> Person | None:
    """Return the person whose secret was right a moment ago and who may still sign in."""
    half = request.session.get(HALF)
    if not half or timezone.now() - datetime.fromisoformat(half["at"]) > TIME_FOR_SECOND_STEP:
        return None
    person = Person.objects.filter(pk=half["person"], is_active=True).first()
    same = person is not None and constant_time_compare(half["hash"], person.get_session_auth_hash())
    return person if same else None


@login_not_required
@never_cache
@require_http_methods(["GET", "POST"])
def second_step(request: HttpRequest) -> HttpResponse:
    """Ask for a code or a passkey after the secret."""
    person = _half_signed_in(request)
    if person is None:
        messages.error(request, "Sign in with your secret first; the second step follows within ten minutes.")
        return redirect("sign-in")
    form = CodeForm(request.POST or None, person=person, address=address_of(request))
    if form.is_valid():
        return _let_in(request, person)
    has_keys = person.passkeys.exists() and passkeys.host_for_passkeys(request) is not None
    context = {"form": form, "has_keys": has_keys, "next": request.GET.get("next", "")}
    return render(request, "shared/second_step.html", context)


@login_not_required
@never_cache
@require_GET
def passkey_question(request: HttpRequest) -> JsonResponse:
    """Tell the browser what a passkey is to sign: one of the person half signed in, or any that the device has."""
    person = _half_signed_in(request)
    try:
        options, state = passkeys.ask_for_proof(request, list(person.passkeys.all()) if person else [])
    except AccordError as error:
        return JsonResponse({"refused": str(error)}, status=409)
    request.session[QUESTION] = state
    return JsonResponse(options)


@login_not_required
@never_cache
@require_POST
def passkey_sign_in(request: HttpRequest) -> HttpResponse:
    """Sign in with a passkey, alone or as the second step."""
    half = _half_signed_in(request)
    try:
        # Guessing is hopeless here; counting keeps a broken script from asking for ever.
        attempt = begin_attempt(
            name=f"passkey from {address_of(request)}", address=address_of(request), now=timezone.now()
        )
        answer = request.POST.get("credential", "")
        passkey, counter = passkeys.read_proof(request, request.session.pop(QUESTION, None), answer)
        person = passkey.person
        if not person.is_active or (half is not None and half.pk != person.pk):
            raise passkeys.PasskeyError("This passkey does not open this access.")
    except AccordError as error:
        messages.error(request, str(error))
        return redirect("second-step" if half else "sign-in")
    attempt.delete()
    factors.note_passkey_used(now=timezone.now(), passkey=passkey, counter=counter)
    return _let_in(request, person)


def _let_in(request: HttpRequest, person: Person) -> HttpResponseRedirect:
    request.session.pop(HALF, None)
    forget_attempts(person.username)
    login(request, person, backend=BACKEND)
    request.session[SHOWN] = True
    wanted = request.POST.get("next") or request.GET.get("next") or ""
    safe = url_has_allowed_host_and_scheme(wanted, {request.get_host()}, require_https=request.is_secure())
    return HttpResponseRedirect(wanted if safe else resolve_url("home"))
