"""Signing in: one step or two, what a session shows, and what an organisation asks for."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from shared import actions, factors
from shared.models import Person
from shared.sign_in_views import HALF, TIME_FOR_SECOND_STEP
from tests.builders import NOW, SECRET
from tests.shared.test_factors import SECRET_32, code_at

ClientOf = Callable[[Person | None], Client]


@pytest.fixture
def codes(ship_officer: Person) -> list[str]:
    """The recovery codes of an officer who has time codes."""
    yesterday = timezone.now() - timedelta(days=1)
    return factors.set_up_time_codes(by=ship_officer, now=yesterday, secret=SECRET_32, code=code_at(yesterday))


def first_step(client: Client, username: str = "ship-officer", query: str = "") -> Any:
    return client.post(reverse("sign-in") + query, {"username": username, "password": SECRET})


def second_step(client: Client, code: str, query: str = "") -> Any:
    return client.post(reverse("second-step") + query, {"code": code})


def test_without_a_second_factor_the_secret_is_enough(ship_officer: Person, client_of: ClientOf) -> None:
    client = client_of(None)
    assert first_step(client)["Location"] == reverse("home")
    assert client.get(reverse("home")).status_code == 200


@pytest.mark.usefixtures("codes")
def test_with_one_the_secret_opens_nothing_yet(client_of: ClientOf) -> None:
    client = client_of(None)
    answer = first_step(client, query="?next=/trail/")
    assert answer["Location"] == reverse("second-step") + "?next=%2Ftrail%2F"
    for page in ("home", "trail", "own-sign-in", "time-code-add", "recovery-codes"):
        assert client.get(reverse(page))["Location"].startswith(reverse("sign-in"))
    assert "does not fit" in second_step(client, "000000").text
    assert second_step(client, code_at(timezone.now()), "?next=/trail/")["Location"] == "/trail/"
    assert client.get(reverse("home")).status_code == 200
    assert client.get(reverse("second-step"))["Location"] == reverse("sign-in")


def test_a_recovery_code_is_as_good_once(codes: list[str], client_of: ClientOf) -> None:
    client = client_of(None)
    first_step(client)
    assert second_step(client, codes[0]).status_code == 302
    again = client_of(None)
    first_step(again)
    assert "was used already" in second_step(again, codes[0]).text


@pytest.mark.usefixtures("codes")
@pytest.mark.parametrize("elsewhere", ["https://elsewhere.example/", "//elsewhere.example/", "javascript:alert(1)"])
def test_the_second_step_leads_nowhere_else(elsewhere: str, client_of: ClientOf) -> None:
    client = client_of(None)
    first_step(client)
    assert second_step(client, code_at(timezone.now()), f"?next={elsewhere}")["Location"] == reverse("home")


@pytest.mark.usefixtures("codes")
def test_codes_are_not_guessed(client_of: ClientOf) -> None:
    client = client_of(None)
    first_step(client)
    for _ in range(5):
        assert "does not fit" in second_step(client, "000000").text
    assert "Too many wrong secrets or codes" in second_step(client, code_at(timezone.now())).text
    assert "Too many wrong secrets or codes" in first_step(client_of(None)).text


def test_the_second_step_is_for_whoever_made_the_first(codes: list[str], client_of: ClientOf) -> None:
    answer = client_of(None).get(reverse("second-step"), follow=True)
    assert "Sign in with your secret first" in answer.text
    assert second_step(client_of(None), codes[0])["Location"] == reverse("sign-in")


@pytest.mark.parametrize("what", ["too late", "another secret", "closed"])
def test_half_a_sign_in_does_not_last(
    what: str, codes: list[str], ship_admin: Person, ship_officer: Person, client_of: ClientOf
) -> None:
    client = client_of(None)
    first_step(client)
    if what == "too late":
        session = client.session
        session[HALF] = {**session[HALF], "at": (timezone.now() - TIME_FOR_SECOND_STEP).isoformat()}
        session.save()
    elif what == "another secret":
        actions.renew_secret(by=ship_admin, now=NOW, person=ship_officer, secret="nine-fathoms-of-mud")
    else:
        actions.deactivate_person(by=ship_admin, now=NOW, person=ship_officer)
    assert second_step(client, codes[0])["Location"] == reverse("sign-in")


def test_who_is_asked_for_a_factor_and_has_none_sets_one_up_first(
    ship_admin: Person, ship_officer: Person, client_of: ClientOf
) -> None:
    assert ship_admin.organisation is not None
    client = client_of(ship_officer)
    assert client.get(reverse("home")).status_code == 200
    factors.require_second_factor(by=ship_admin, now=NOW, organisation=ship_admin.organisation, required=True)
    for page in ("home", "trail", "own-units", "organisation", "recovery-codes"):
        assert client.get(reverse(page))["Location"] == reverse("own-sign-in")
    assert "asks everybody for a second factor" in client.get(reverse("own-sign-in")).text
    page = client.get(reverse("time-code-add"))
    secret = page.text.split('secret-letters">')[1].split("<")[0].replace(" ", "")
    sent = {"code": code_at(timezone.now(), secret), "present": SECRET}
    answer = client.post(reverse("time-code-add"), sent)
    assert "They are not shown again" in answer.text
    assert client.get(reverse("home")).status_code == 200


def test_a_session_opened_with_less_is_asked_again(
    codes: list[str], ship_admin: Person, ship_officer: Person, client_of: ClientOf
) -> None:
    assert ship_admin.organisation is not None
    client = client_of(Person.objects.get(pk=ship_officer.pk))  # without the second step
    factors.require_second_factor(by=ship_admin, now=NOW, organisation=ship_admin.organisation, required=True)
    answer = client.get(reverse("home"), follow=True)
    assert "sign in again and show it" in answer.text
    assert client.get(reverse("home")).status_code == 302
    first_step(client)
    second_step(client, codes[0])
    assert client.get(reverse("home")).status_code == 200


def test_a_wrong_code_keeps_the_picture(ship_officer: Person, client_of: ClientOf) -> None:
    client = client_of(ship_officer)
    first = client.get(reverse("time-code-add")).text.split('secret-letters">')[1].split("<")[0]
    again = client.post(reverse("time-code-add"), {"code": "000000", "present": SECRET}).text
    assert "does not fit" in again
    assert first in again
    refused = client.post(reverse("time-code-add"), {"code": "000000", "present": "wrong"}).text
    assert "present secret is not right" in refused


def test_each_change_asks_for_the_secret(codes: list[str], ship_officer: Person, client_of: ClientOf) -> None:
    client = client_of(Person.objects.get(pk=ship_officer.pk))
    for page in ("time-code-remove", "recovery-codes"):
        assert "present secret is not right" in client.post(reverse(page), {"present": "wrong"}).text
    assert "A new list is made." in client.post(reverse("recovery-codes"), {"present": SECRET}).text
    answer = client.post(reverse("time-code-remove"), {"present": SECRET}, follow=True)
    assert "Removed; sessions elsewhere have ended." in answer.text
    assert not factors.has_second_factor(ship_officer)


@pytest.mark.parametrize(
    ("who", "status"),
    [("ship_admin", 200), ("ship_officer", 403), ("ship_reader", 403), ("installation_admin", 403)],
)
def test_who_may_ask_everybody(who: str, status: int, client_of: ClientOf, request: pytest.FixtureRequest) -> None:
    client = client_of(request.getfixturevalue(who))
    page = reverse("second-factor-required")
    assert client.get(page).status_code == status
    assert client.post(page, {"required": "yes"}).status_code == (302 if status == 200 else 403)


@pytest.mark.parametrize(("who", "status"), [("ship_admin", 302), ("ship_reader", 403), ("terminal_admin", 404)])
def test_who_takes_a_lost_factor_off_on_the_page(
    who: str, status: int, codes: list[str], ship_officer: Person, client_of: ClientOf, request: pytest.FixtureRequest
) -> None:
    client = client_of(request.getfixturevalue(who))
    assert client.post(reverse("person-reset-factor", args=["ship-officer"])).status_code == status
    assert factors.has_second_factor(ship_officer) is (status != 302)


def test_passkeys_say_so_where_they_can_not_be(ship_officer: Person, client_of: ClientOf) -> None:
    client = client_of(ship_officer)
    shown = client.get(reverse("own-sign-in"), headers={"host": "127.0.0.1:8000"}).text
    assert "open it by its name, not by a number" in shown
    for page in ("passkey-question", "passkey-new-question"):
        answer = client.get(reverse(page), headers={"host": "127.0.0.1"})
        assert (answer.status_code, "by its name" in answer.json()["refused"]) == (409, True)


@pytest.mark.parametrize("sent", ["", "no json", "[]", "{}", '{"rawId": "AAAA"}', '{"rawId": 7}'])
def test_what_no_passkey_would_send_is_refused(sent: str, ship_officer: Person, client_of: ClientOf) -> None:
    client = client_of(None)
    client.get(reverse("passkey-question"), headers={"host": "localhost"})
    answer = client.post(reverse("passkey-sign-in"), {"credential": sent}, headers={"host": "localhost"})
    assert answer["Location"] == reverse("sign-in")
    assert client.get(reverse("home")).status_code == 302


def test_notices_and_mail_address_are_ones_own(ship_officer: Person, client_of: ClientOf) -> None:
    client = client_of(ship_officer)
    assert "My notices" in client.get(reverse("own-notices")).text
    client.post(reverse("own-notices"), {"email": "ingrid@halvard.example", "notices": "states"})
    kept = Person.objects.get(pk=ship_officer.pk)
    assert (kept.email, kept.notices) == ("ingrid@halvard.example", "states")
    assert "Enter a valid email address" in client.post(reverse("own-notices"), {"email": "x", "notices": "all"}).text
