"""Refusals on their way to a page."""

from __future__ import annotations

import pytest
from django import forms
from django.contrib.auth.models import AnonymousUser
from django.contrib.messages import get_messages
from django.contrib.messages.storage.cookie import CookieStorage
from django.http import Http404, HttpRequest, HttpResponse
from django.test import RequestFactory

from shared.calc.errors import InputError, OutOfRangeError
from shared.http import RefusalMiddleware, get_or_404, person_of, refusals_on, refusals_told
from shared.models import Organisation, Person
from shared.permissions import NotAllowedError


class RateForm(forms.Form):
    rate = forms.CharField(required=False)


@pytest.fixture
def request_of_nobody(rf: RequestFactory) -> HttpRequest:
    request = rf.get("/")
    request.user = AnonymousUser()
    request._messages = CookieStorage(request)  # type: ignore[attr-defined]
    return request


@pytest.mark.parametrize("field", [None, "rate"])
def test_a_refusal_becomes_an_error_of_the_form(field: str | None) -> None:
    form = RateForm({"rate": "9"})
    with refusals_on(form, field):
        raise OutOfRangeError("Rate is 9 m³/h; allowed: 10 to 20 m³/h.")
    assert form.errors[field or "__all__"] == ["Rate is 9 m³/h; allowed: 10 to 20 m³/h."]
    assert form["rate"].value() == "9"


def test_a_refusal_becomes_a_message(request_of_nobody: HttpRequest) -> None:
    with refusals_told(request_of_nobody):
        raise InputError("That is not possible now.")
    assert [(message.level_tag, str(message)) for message in get_messages(request_of_nobody)] == [
        ("error", "That is not possible now.")
    ]


@pytest.mark.parametrize("error", [NotAllowedError("no"), ValueError("a defect"), Http404()])
def test_what_may_not_be_done_and_what_is_a_defect_pass_on(error: Exception, request_of_nobody: HttpRequest) -> None:
    for block in (refusals_on(RateForm({})), refusals_told(request_of_nobody)):
        with pytest.raises(type(error)), block:
            raise error


def test_nothing_happens_where_nothing_is_refused(request_of_nobody: HttpRequest) -> None:
    form = RateForm({})
    with refusals_on(form), refusals_told(request_of_nobody):
        pass
    assert form.is_valid()
    assert not list(get_messages(request_of_nobody))


@pytest.mark.django_db
def test_only_a_refusal_of_permission_is_the_403_page(request_of_nobody: HttpRequest) -> None:
    middleware = RefusalMiddleware(lambda request: HttpResponse())
    answer = middleware.process_exception(request_of_nobody, NotAllowedError("Only the harbour master may."))
    assert answer is not None
    assert (answer.status_code, "Only the harbour master may." in answer.text) == (403, True)
    assert middleware.process_exception(request_of_nobody, ValueError("a defect")) is None
    assert middleware.process_exception(request_of_nobody, InputError("an input")) is None


def test_a_page_without_a_person_is_a_programmers_error(request_of_nobody: HttpRequest) -> None:
    with pytest.raises(TypeError, match="has no person"):
        person_of(request_of_nobody)


def test_what_a_person_may_not_see_does_not_exist(ship_officer: Person) -> None:
    assert get_or_404(Organisation.objects.all(), name="Halvard Tankers") == ship_officer.organisation
    with pytest.raises(Http404):
        get_or_404(Organisation.objects.none(), name="Halvard Tankers")
