"""Who asks: the token of a request, the person it acts for, and how often it may ask."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest
from django.utils import timezone
from ninja.security import HttpBearer
from ninja.throttling import AuthRateThrottle

from compat.api.models import Token
from compat.api.scopes import WORDS, Scope
from shared.canonical import sha256_hex
from shared.models import Person
from shared.permissions import NotAllowedError


class TokenAccess(HttpBearer):
    """Let a request pass that carries a working token with the scope, as the person of the token."""

    def __init__(self, scope: Scope) -> None:
        super().__init__()
        self.scope = scope

    def authenticate(self, request: HttpRequest, token: str) -> Token | None:
        """Return the token, or None where it does not work; raise NotAllowedError where its scope is another."""
        now = timezone.now()
        found = (
            Token.objects.select_related("person__organisation", "organisation")
            .filter(sha256=sha256_hex(token.encode()), revoked_at=None, expires_at__gt=now)
            .first()
        )
        if found is None or not _still_belongs(found):
            return None
        if self.scope not in found.scopes:
            raise NotAllowedError(f"This token may not: {WORDS[self.scope]}. Make one with the scope {self.scope}.")
        if found.used_at is None or (now - found.used_at).total_seconds() > _NOTED_EVERY_S:
            Token.objects.filter(pk=found.pk).update(used_at=now)
        found.person.through = found.name
        request.user = found.person
        return found


_NOTED_EVERY_S = 300


def _still_belongs(token: Token) -> bool:
    person = token.person
    return person.is_active and not person.secret_is_initial and person.organisation_id == token.organisation_id


def token_of(request: HttpRequest) -> Token:
    """Return the token that the request carried."""
    found = getattr(request, "auth", None)
    if not isinstance(found, Token):
        raise TypeError("This address is open without a token.")
    return found


def person_of_token(request: HttpRequest) -> Person:
    """Return the person for whom the request acts."""
    return token_of(request).person


class PerToken(AuthRateThrottle):
    """Count requests by token."""

    def __init__(self) -> None:
        super().__init__(f"{settings.API_REQUESTS_PER_MINUTE}/min")

    def get_cache_key(self, request: HttpRequest) -> str:
        """Return the name under which the token's requests are counted."""
        return f"api-requests-{token_of(request).pk}"


read_only = TokenAccess(Scope.READ)
