"""Passkeys in a real browser, whose virtual authenticator stands for the device."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from playwright.sync_api import Page, expect

from shared.factor_models import Passkey
from shared.models import Person
from tests.builders import SECRET

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
PageOf = Callable[..., Page]


class Device:
    """A virtual authenticator: it holds passkeys and checks its user, or refuses to."""

    def __init__(self, page: Page, *, counts: bool = True) -> None:
        self.session = page.context.new_cdp_session(page)
        self.session.send("WebAuthn.enable")
        options = {
            "protocol": "ctap2",
            "transport": "internal",
            "hasResidentKey": True,
            "hasUserVerification": True,
            "isUserVerified": True,
            "automaticPresenceSimulation": True,
        }
        self.id = self.session.send("WebAuthn.addVirtualAuthenticator", {"options": options})["authenticatorId"]

    def knows_its_user(self, known: bool) -> None:
        self.session.send("WebAuthn.setUserVerified", {"authenticatorId": self.id, "isUserVerified": known})

    def credentials(self) -> list[dict[str, Any]]:
        found: list[dict[str, Any]] = self.session.send("WebAuthn.getCredentials", {"authenticatorId": self.id})[
            "credentials"
        ]
        return found

    def hold(self, credential: dict[str, Any]) -> None:
        self.session.send("WebAuthn.addCredential", {"authenticatorId": self.id, "credential": credential})


def add_passkey(page: Page) -> None:
    page.goto(reverse("passkey-add"))
    page.get_by_label("Name of this passkey").fill("Bridge computer")
    page.get_by_label("Your secret").fill(SECRET)
    page.get_by_role("button", name="Make a passkey").click()
    expect(page.get_by_role("heading", name="Recovery codes")).to_be_visible()


def sign_out(page: Page) -> None:
    page.get_by_role("button", name="Ingrid Solheim").click()
    page.get_by_role("button", name="Sign out").click()


@pytest.fixture
def page(ship_officer: Person, page_of: PageOf) -> Page:
    return page_of(ship_officer)


def test_a_passkey_is_made_and_opens_the_door_alone(page: Page) -> None:
    device = Device(page)
    add_passkey(page)
    assert len(device.credentials()) == 1
    kept = Passkey.objects.get()
    assert (kept.name, kept.host, kept.person.username) == ("Bridge computer", "localhost", "ship-officer")
    sign_out(page)
    page.get_by_role("button", name="Sign in with a passkey").click()
    expect(page.get_by_role("heading", name="Halvard Tankers")).to_be_visible()
    page.goto(reverse("own-sign-in"))
    expect(page.get_by_role("main")).to_contain_text("last used")
    assert Passkey.objects.get().counter > 0


def test_a_passkey_is_the_second_step_after_the_secret(page: Page) -> None:
    Device(page)
    add_passkey(page)
    sign_out(page)
    page.goto(reverse("trail"))
    page.get_by_label("Username").fill("ship-officer")
    page.get_by_label("Secret (password)").fill(SECRET)
    page.get_by_role("button", name="Sign in", exact=True).click()
    expect(page.get_by_role("heading", name="Second step")).to_be_visible()
    page.get_by_role("button", name="Show a passkey instead").click()
    expect(page.get_by_role("heading", name="Trail", exact=True)).to_be_visible()


def test_a_device_that_does_not_know_its_user_opens_nothing(page: Page) -> None:
    device = Device(page)
    add_passkey(page)
    sign_out(page)
    device.knows_its_user(False)
    page.get_by_role("button", name="Sign in with a passkey").click()
    expect(page.get_by_role("alert")).to_contain_text("Nothing was signed")
    assert page.url.endswith(reverse("sign-in"))


def test_a_copied_key_is_noticed_by_its_counter(page: Page) -> None:
    device = Device(page)
    add_passkey(page)
    Passkey.objects.update(counter=1000)
    sign_out(page)
    page.get_by_role("button", name="Sign in with a passkey").click()
    expect(page.locator("#messages")).to_contain_text("counter went back")
    assert device.credentials()


def test_a_removed_passkey_opens_nothing(page: Page) -> None:
    Device(page)
    add_passkey(page)
    page.get_by_role("link", name="I have kept them").click()
    page.get_by_role("link", name="Remove Bridge computer").click()
    page.get_by_label("Your secret").fill(SECRET)
    page.get_by_role("button", name="Remove it").click()
    expect(page.locator("#messages")).to_contain_text("Removed")
    sign_out(page)
    page.get_by_role("button", name="Sign in with a passkey").click()
    expect(page.locator("#messages")).to_contain_text("This passkey is not known here")


def test_the_same_device_is_not_added_twice(page: Page) -> None:
    Device(page)
    add_passkey(page)
    page.goto(reverse("passkey-add"))
    page.get_by_label("Name of this passkey").fill("Again")
    page.get_by_label("Your secret").fill(SECRET)
    page.get_by_role("button", name="Make a passkey").click()
    expect(page.get_by_role("alert")).to_contain_text("holds a passkey for you already")


def test_an_answer_is_good_for_one_question(page: Page, client_of: Callable[[Person | None], Client]) -> None:
    """Catch what the device signed, and send it again from another session."""
    Device(page)
    add_passkey(page)
    sign_out(page)
    caught: list[str] = []
    page.on("request", lambda asked: caught.append(asked.post_data or "") if asked.method == "POST" else None)
    page.get_by_role("button", name="Sign in with a passkey").click()
    expect(page.get_by_role("heading", name="Halvard Tankers")).to_be_visible()
    host = page.url.split("/")[2]
    other = client_of(None)
    other.get(reverse("passkey-question"), headers={"host": host})
    other.post(
        reverse("passkey-sign-in"),
        caught[-1],
        content_type="application/x-www-form-urlencoded",
        headers={"host": host},
    )
    answer = other.get(reverse("sign-in"), headers={"host": host})
    assert "Wrong challenge" in answer.text
    assert other.get(reverse("home"), headers={"host": host}).status_code == 302
