"""Every page of the shared room as each of the cast."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from shared.models import Person

PAGES = ["home", "own-secret", "own-units", "organisation", "trail"]


@pytest.mark.parametrize("page", PAGES)
@pytest.mark.parametrize("who", ["ship_reader", "terminal_officer", "auditor", "ship_admin"])
def test_every_member_sees_their_own_pages(
    page: str, who: str, request: pytest.FixtureRequest, client_of: Callable[[Person | None], Client]
) -> None:
    answer = client_of(request.getfixturevalue(who)).get(reverse(page))
    assert answer.status_code == 200
    assert "they win." in answer.text


@pytest.mark.django_db
@pytest.mark.parametrize("page", [*PAGES, "organisation-list", "organisation-add", "person-add"])
def test_nobody_sees_a_page_without_signing_in(page: str, client_of: Callable[[Person | None], Client]) -> None:
    answer = client_of(None).get(reverse(page))
    assert (answer.status_code, answer["Location"]) == (302, f"{reverse('sign-in')}?next={reverse(page)}")
