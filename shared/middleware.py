"""What comes first for a person: to choose an own secret, and to show a second factor where it is asked for."""

from __future__ import annotations

from collections.abc import Callable

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from shared.factors import has_second_factor, needs_second_factor
from shared.models import Person
from shared.sign_in_views import SHOWN

_ALWAYS_OPEN = frozenset({"sign-in", "sign-out"})
_SECRET_PAGES = frozenset({"own-secret"})
_FACTOR_PAGES = frozenset({"own-sign-in", "own-secret", "time-code-add", "passkey-add", "passkey-new-question"})


class FirstThingsMiddleware:
    """Lead a person to the page of what has to be done first."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on."""
        return self.get_response(request)

    def process_view(self, request: HttpRequest, *_: object) -> HttpResponse | None:
        """Redirect every page but those where it is done."""
        person = request.user
        page = request.resolver_match.url_name if request.resolver_match else None
        static = request.path.startswith(f"/{settings.STATIC_URL.strip('/')}/")
        if not isinstance(person, Person) or page in _ALWAYS_OPEN or static:
            return None
        if person.secret_is_initial:
            return None if page in _SECRET_PAGES else redirect("own-secret")
        if not needs_second_factor(person) or request.session.get(SHOWN):
            return None
        if has_second_factor(person):
            logout(request)
            messages.info(request, f"{person.acting_for} asks for your second factor; sign in again and show it.")
            return redirect("sign-in")
        return None if page in _FACTOR_PAGES else redirect("own-sign-in")
