"""The pages of this room in a real browser: keyboard, narrow screen, accessibility rules."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from playwright.sync_api import Page, expect

from shared import actions
from shared.models import Person
from shared.roles import Role
from tests.builders import SECRET

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
PageOf = Callable[..., Page]
WIDTHS = [1280, 390]


def test_signing_in_with_the_keyboard_alone(ship_officer: Person, page_of: PageOf) -> None:
    page = page_of(None)
    page.goto(reverse("own-units"))
    page.keyboard.type(ship_officer.username)
    page.keyboard.press("Tab")
    page.keyboard.type(SECRET)
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="My units and zone")).to_be_visible()
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "content"


def test_signing_out_from_the_menu_of_a_narrow_screen(ship_officer: Person, page_of: PageOf) -> None:
    page = page_of(ship_officer, width=390)
    page.goto("/")
    page.get_by_role("button", name="Menu").click()
    page.get_by_role("button", name="Ingrid Solheim").click()
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()


@pytest.mark.parametrize("width", WIDTHS)
def test_no_page_breaks_accessibility_rules_or_runs_over_the_edge(
    width: int, ship_admin: Person, ship_reader: Person, page_of: PageOf, now: datetime
) -> None:
    actions.change_role(by=ship_admin, now=now, person=ship_reader, role=Role.OFFICER)
    plain = ["home", "own-secret", "own-units", "own-notices", "own-sign-in", "time-code-add", "passkey-add"]
    plain += ["organisation", "second-factor-required", "person-add", "trail"]
    pages = [reverse(name) for name in plain]
    pages += [reverse(name, args=["ship-reader"]) for name in ["person", "person-secret", "person-deactivate"]]
    page = page_of(ship_admin, width=width)
    found = {}
    for address in pages:
        page.goto(address)
        wide = page.evaluate("document.documentElement.scrollWidth > document.documentElement.clientWidth")
        broken = Axe().run(page).response["violations"]
        if broken or wide:
            found[address] = [wide, *[(rule["id"], [node["html"] for node in rule["nodes"]]) for rule in broken]]
    assert not found
