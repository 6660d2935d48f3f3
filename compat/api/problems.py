"""Every refusal in one form: problem details after RFC 9457, with the sentences that the pages show."""

from __future__ import annotations

import json
import logging
from collections.abc import Sequence
from http import HTTPStatus
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.views.defaults import page_not_found
from ninja import NinjaAPI, Schema
from ninja.errors import AuthenticationError, HttpError, Throttled, ValidationError

from shared.calc.errors import AccordError
from shared.permissions import NotAllowedError
from shared.reading import DocumentError
from shared.revisions import ChangedMeanwhileError

PROBLEM_TYPE = "application/problem+json"
_log = logging.getLogger("accord.api")


class Problem(Schema):
    """What went wrong: a title that is always the same for a status, and the sentences that say what to do."""

    type: str = "about:blank"
    title: str
    status: int
    detail: str
    sentences: list[str]


def problem(status: HTTPStatus, sentences: Sequence[str], headers: dict[str, str] | None = None) -> HttpResponse:
    """Return one problem as ``application/problem+json``."""
    body = Problem(title=status.phrase, status=status.value, detail=" ".join(sentences), sentences=list(sentences))
    text = json.dumps(body.model_dump(), ensure_ascii=False)
    return HttpResponse(text, status=status.value, content_type=PROBLEM_TYPE, headers=headers or {})


def answer_refusals(api: NinjaAPI) -> None:
    """Let the API answer every kind of refusal with a problem."""
    api.add_exception_handler(AccordError, _refusal)
    api.add_exception_handler(ValidationError, _unreadable)
    api.add_exception_handler(AuthenticationError, _no_token)
    api.add_exception_handler(Throttled, _too_many)
    api.add_exception_handler(Http404, _nothing_there)
    api.add_exception_handler(HttpError, _other)
    api.add_exception_handler(Exception, _failure)


def _refusal(_request: HttpRequest, error: Any) -> HttpResponse:
    if isinstance(error, NotAllowedError):
        return problem(HTTPStatus.FORBIDDEN, [str(error)])
    if isinstance(error, ChangedMeanwhileError):
        return problem(HTTPStatus.CONFLICT, [str(error)])
    told = error.problems if isinstance(error, DocumentError) else [str(error)]
    return problem(HTTPStatus.UNPROCESSABLE_ENTITY, told)


def _unreadable(_request: HttpRequest, error: Any) -> HttpResponse:
    return problem(HTTPStatus.UNPROCESSABLE_ENTITY, [_sentence(one) for one in error.errors])


def _sentence(error: dict[str, Any]) -> str:
    where = ".".join(str(part) for part in error.get("loc", ())[1:] if part not in {"payload", "body"})
    return f"{where or 'The request'}: {error.get('msg', 'is not usable')}."


def _no_token(_request: HttpRequest, _error: Any) -> HttpResponse:
    sentence = "Send a token that works as Authorization: Bearer …; your organisation's page makes one."
    return problem(HTTPStatus.UNAUTHORIZED, [sentence], {"WWW-Authenticate": 'Bearer realm="berth-accord"'})


def _too_many(_request: HttpRequest, error: Any) -> HttpResponse:
    wait = int(error.wait or 1) + 1
    sentence = f"This token has asked too often; ask again in {wait} seconds."
    return problem(HTTPStatus.TOO_MANY_REQUESTS, [sentence], {"Retry-After": str(wait)})


def _nothing_there(_request: HttpRequest, _error: Any) -> HttpResponse:
    return problem(HTTPStatus.NOT_FOUND, ["Nothing is there for you under this address."])


def no_such_address(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer an unknown address of the API as a problem, any other with the page that people read."""
    if request.path.startswith("/api/"):
        return _nothing_there(request, exception)
    return page_not_found(request, exception)


def _other(_request: HttpRequest, error: Any) -> HttpResponse:
    return problem(HTTPStatus(error.status_code), [str(error)])


def _failure(request: HttpRequest, error: Any) -> HttpResponse:
    _log.error("failed", exc_info=error, extra={"request": request})
    sentence = "The program failed here; an act is done wholly or not at all. Look before you try again."
    return problem(HTTPStatus.INTERNAL_SERVER_ERROR, [sentence])
