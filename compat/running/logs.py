"""One line of JSON for each event, with the request it belongs to and without anything secret."""

from __future__ import annotations

import logging
import re
import time
import uuid
from collections.abc import Callable
from contextvars import ContextVar
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from compat.running.metrics import count_answer

_NO_REQUEST = ""
_request_id: ContextVar[str] = ContextVar("request_id", default=_NO_REQUEST)
_GIVEN_ID = re.compile(r"[A-Za-z0-9-]{8,64}")
_NO_ADDRESS = "no such address"
_requests = logging.getLogger("accord.requests")


class RequestFacts(logging.Filter):
    """Add the request's id to each record, and put the pattern of an address in place of the address.

    An address may hold the one-time key of an invitation or what somebody searched for; its pattern never does.
    """

    def filter(self, record: logging.LogRecord) -> bool:
        """Let every record through, completed."""
        request = getattr(record, "request", None)
        record.request_id = _request_id.get() or getattr(request, "request_id", None)
        if isinstance(request, HttpRequest) and isinstance(record.args, tuple):
            record.args = tuple(route_of(request) if given == request.path else given for given in record.args)
        record.__dict__.pop("request", None)
        return True


class RequestLog:
    """Give each request an id, tell it to the browser, and log how it was answered.

    A proxy may send an id of its own as X-Request-ID (8 to 64 letters, digits and hyphens).
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer, and write one line about it."""
        given = request.headers.get("X-Request-ID", "")
        number = given if _GIVEN_ID.fullmatch(given) else uuid.uuid4().hex
        token = _request_id.set(number)
        request.request_id = number  # type: ignore[attr-defined]  # for what Django logs once this is done
        began = time.perf_counter()
        try:
            response = self.get_response(request)
            seconds = time.perf_counter() - began
            response.headers["X-Request-ID"] = number
            facts = _facts_of(request, response, seconds)
            _requests.info("answered", extra=facts)
            count_answer(facts["route"], facts["method"], response.status_code, seconds)
        finally:
            _request_id.reset(token)
        return response


def _facts_of(request: HttpRequest, response: HttpResponse, seconds: float) -> dict[str, Any]:
    # Who asked, where a page wanted to know; asking now would read a session that nothing needed.
    person = getattr(request, "_cached_user", None)
    return {
        "method": request.method if request.method in _METHODS else "other",
        "route": route_of(request),
        "status": response.status_code,
        "ms": round(1000 * seconds, 1),
        "person": person.get_username() if person is not None and person.is_authenticated else None,
    }


_METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"})


def route_of(request: HttpRequest) -> str:
    """Return the pattern of the request's address, such as ``accords/<uuid:key>/``."""
    found = request.resolver_match
    return f"/{found.route}" if found else _NO_ADDRESS


def something_went_wrong(request: HttpRequest) -> HttpResponse:
    """Answer a failure with a page that names the request's id, by which the logs find it."""
    return render(request, "500.html", {"request_id": _request_id.get()}, status=500)
