"""A person whose secret was chosen by someone else chooses their own before anything else."""

from __future__ import annotations

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

_OPEN_TO_ALL = frozenset({"own-secret", "sign-in", "sign-out"})


class OwnSecretMiddleware:
    """Lead a person with an initial secret to the page where they choose their own."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on."""
        return self.get_response(request)

    def process_view(self, request: HttpRequest, *_: object) -> HttpResponse | None:
        """Redirect every page but those of signing in while the secret is an initial one."""
        waits = getattr(request.user, "secret_is_initial", False)
        page = request.resolver_match.url_name if request.resolver_match else None
        if not waits or page in _OPEN_TO_ALL or request.path.startswith(f"/{settings.STATIC_URL.strip('/')}/"):
            return None
        return redirect("own-secret")
