"""Pages on which people make tokens for programs and end them."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from compat.api import actions
from compat.api.forms import TokenForm
from compat.api.scopes import Scope
from shared.http import get_or_404, person_of, refusals_on, refusals_told
from shared.permissions import NotAllowedError


@never_cache
@require_http_methods(["GET", "POST"])
def tokens(request: HttpRequest) -> HttpResponse:
    """List tokens and make one; its words are shown on this one answer only."""
    person, now, words = person_of(request), timezone.now(), ""
    if person.organisation is None:
        raise NotAllowedError("Only people of an organisation make tokens.")
    form = TokenForm(request.POST or None)
    if form.is_valid():
        with refusals_on(form):
            chosen = [Scope(scope) for scope in form.cleaned_data["scopes"]]
            _, words = actions.make_token(
                by=person, now=now, name=form.cleaned_data["name"], scopes=chosen, days=form.cleaned_data["days"]
            )
            form = TokenForm()
    rows = [(token, token.state_at(now)) for token in actions.tokens_seen_by(person)]
    return render(request, "api/tokens.html", {"form": form, "rows": rows, "words": words})


@require_POST
def token_revoke(request: HttpRequest, token: UUID) -> HttpResponse:
    """End a token at once."""
    found = get_or_404(actions.tokens_seen_by(person_of(request)), public_id=token)
    with refusals_told(request):
        actions.revoke_token(by=person_of(request), now=timezone.now(), token=found)
        messages.success(request, f"The token {found} works no more.")
    return redirect("tokens")
