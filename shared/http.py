"""Between acts and pages: who asks, fetch or 404, and refusals as answers."""

from __future__ import annotations

from collections.abc import Callable
from types import TracebackType
from typing import Any, TypeVar

from django.contrib import messages
from django.db.models import Model, QuerySet
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from shared.calc.errors import AccordError
from shared.models import Person
from shared.permissions import NotAllowedError

M = TypeVar("M", bound=Model)


def person_of(request: HttpRequest) -> Person:
    """Return the signed-in person; every page but sign-in has one."""
    if not isinstance(request.user, Person):
        raise TypeError("This page is open without signing in and has no person.")
    return request.user


def get_or_404(seen_by_person: QuerySet[M], **lookup: Any) -> M:
    """Return one row of what the person may see; anything else does not exist for them (404)."""
    return get_object_or_404(seen_by_person, **lookup)


class refusals_on:  # noqa: N801  (reads as a phrase: with refusals_on(form))
    """Turn a refusal inside the block into an error of the form; NotAllowedError passes on to be a 403."""

    def __init__(self, form: BaseForm, field: str | None = None) -> None:
        self.form, self.field = form, field

    def __enter__(self) -> None:
        """Start watching."""

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> bool:
        """Swallow an AccordError after putting its sentence on the form."""
        if not isinstance(error, AccordError) or isinstance(error, NotAllowedError):
            return False
        self.form.add_error(self.field, str(error))
        return True


class refusals_told:  # noqa: N801  (reads as a phrase: with refusals_told(request))
    """Turn a refusal inside the block into a message on the next page; NotAllowedError passes on to be a 403."""

    def __init__(self, request: HttpRequest) -> None:
        self.request = request

    def __enter__(self) -> None:
        """Start watching."""

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> bool:
        """Swallow an AccordError after telling its sentence."""
        if not isinstance(error, AccordError) or isinstance(error, NotAllowedError):
            return False
        messages.error(self.request, str(error))
        return True


class RefusalMiddleware:
    """Answer a NotAllowedError from anywhere with a 403 page that says who may."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on."""
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
        """Return the 403 page for a NotAllowedError, nothing for other errors."""
        if not isinstance(error, NotAllowedError):
            return None
        return render(request, "shared/not_allowed.html", {"reason": str(error)}, status=403)
