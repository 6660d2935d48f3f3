"""All addresses of the API, its description, and who may pass."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest
from ninja import NinjaAPI, Schema
from ninja.openapi.schema import OpenAPISchema

from compat.api import accords, assessments, berths, records, ships, trail
from compat.api.access import PerToken, read_only, token_of
from compat.api.models import Token
from compat.api.problems import PROBLEM_TYPE, answer_refusals
from compat.api.schemas import REFUSALS, Text, documents

_ABOUT = (
    "The same acts and answers as on the pages, with the same checks and sentences. Send a token as"
    " Authorization: Bearer …. A writing request may name an Idempotency-Key: sent again, it acts once."
    " Refusals are problem details (RFC 9457). Follow local regulations and the terminal's own procedures; the figures"
    " are an aid, and the persons in charge decide."
)


class AccordApi(NinjaAPI):
    """The API, described with the documents that its requests take."""

    def get_openapi_schema(self, **options: Any) -> OpenAPISchema:
        """Return the OpenAPI description."""
        schema = super().get_openapi_schema(**options)
        schema.setdefault("components", {}).setdefault("schemas", {}).update(documents())
        for operation in (one for path in schema["paths"].values() for one in path.values()):
            for status, answer in operation["responses"].items():
                if int(status) >= HTTPStatus.BAD_REQUEST:
                    answer["content"] = {PROBLEM_TYPE: answer["content"]["application/json"]}
        return schema


api = AccordApi(
    title="Berth Accord", version="1", description=_ABOUT, docs_url=None, throttle=[PerToken()], urls_namespace="api-v1"
)
answer_refusals(api)
api.add_router("/ships", ships.router)
api.add_router("/berths", berths.router)
api.add_router("/assessments", assessments.router)
api.add_router("/accords", accords.router)
api.add_router("/accords", records.router, tags=["records"])
api.add_router("/trail", trail.router)


class WhoOut(Schema):
    """For whom the token acts."""

    person: str
    organisation: str
    role: str
    token: Text
    scopes: list[str]
    expires_at: Any


@api.get("/me", response={200: WhoOut, **REFUSALS}, auth=read_only, summary="Who am I", tags=["token"])
def who(request: HttpRequest) -> dict[str, Any]:
    """The person for whom this token acts, and what it may be used for."""
    token: Token = token_of(request)
    return {
        "person": token.person.username,
        "organisation": str(token.organisation),
        "role": token.person.role,
        "token": token.name,
        "scopes": token.scopes,
        "expires_at": token.expires_at,
    }


def addresses() -> tuple[Any, str, str]:
    """Return the addresses; a token stands in the place of a signed-in session, so no page of signing in is offered."""
    patterns, app_name, namespace = api.urls
    for pattern in patterns:
        if pattern.callback is not None:
            pattern.callback = login_not_required(pattern.callback)
    return patterns, app_name, namespace
