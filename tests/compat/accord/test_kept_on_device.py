"""A link that drops: what was typed and what was sent stays on the device, and arrives once when the link is back."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.urls import reverse
from playwright.sync_api import Page, Route, expect

from compat.accord.models import Accord, ChecklistAnswer
from shared.models import Person
from tests.compat.accord.building import HIGHEST, open_accord

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
PageOf = Callable[..., Page]
CARD = f"#value-{HIGHEST}"
WAITS = "Not sent yet; it waits on this device for the link:"


@pytest.fixture
def accord(ship_officer: Person, terminal_officer: Person) -> Accord:
    return open_accord(ship_officer, terminal_officer)


def address(accord: Accord, page: str = "accord", *more: object) -> str:
    return reverse(page, args=[accord.public_id, *more])


def put(page: Page, value: str) -> None:
    page.locator(CARD).get_by_label("Value for the table").fill(value)
    page.locator(CARD).get_by_role("button", name="Put it on the table").click()


def test_what_was_typed_is_there_again_after_the_page_was_lost(
    accord: Accord, ship_officer: Person, page_of: PageOf
) -> None:
    page = page_of(ship_officer, width=390)
    page.goto(address(accord))
    typed = page.locator(CARD).get_by_label("Value for the table")
    typed.fill("2450")
    page.reload()
    expect(typed).to_have_value("2450")
    expect(page.locator(CARD)).to_contain_text("Typed on this device")
    expect(page.locator(CARD).locator(".preview")).to_contain_text("The answer follows")
    page.locator(CARD).get_by_role("button", name="Forget it").click()
    expect(typed).to_have_value("")
    page.reload()
    expect(typed).to_have_value("")


def test_a_draft_is_shown_to_nobody_else_on_the_same_device(
    accord: Accord, ship_officer: Person, ship_admin: Person, page_of: PageOf
) -> None:
    page = page_of(ship_officer)
    page.goto(address(accord))
    page.locator(CARD).get_by_label("Value for the table").fill("2450")
    kept = page.evaluate("JSON.stringify(localStorage)")
    assert ship_officer.username in kept
    other = page_of(ship_admin)
    other.goto(address(accord))
    other.evaluate("kept => Object.entries(JSON.parse(kept)).forEach(([k, v]) => localStorage.setItem(k, v))", kept)
    other.reload()
    expect(other.locator(CARD).get_by_label("Value for the table")).to_have_value("")


def test_what_is_sent_without_a_link_waits_and_arrives_once(
    accord: Accord, ship_officer: Person, page_of: PageOf
) -> None:
    page = page_of(ship_officer, width=390, link_drops=True)
    page.goto(address(accord))
    page.context.set_offline(True)
    put(page, "2450")
    expect(page.locator("#kept")).to_contain_text(WAITS)
    expect(page.locator("#kept")).to_contain_text("Highest rate")
    page.locator(CARD).get_by_role("button", name="Put it on the table").click()
    expect(page.locator("#kept li")).to_have_count(1)
    assert not accord.proposals.filter(key=HIGHEST).exists()
    page.context.set_offline(False)
    expect(page.locator("#kept")).to_contain_text("What waited on this device has been sent.")
    assert accord.proposals.filter(key=HIGHEST).count() == 1
    page.get_by_role("link", name="Show it").click()
    expect(page.locator(CARD)).to_contain_text("2,450")
    expect(page.locator("#kept .note")).to_have_count(0)


def test_an_answer_that_is_lost_on_its_way_back_is_not_done_twice(
    accord: Accord, ship_officer: Person, page_of: PageOf
) -> None:
    page = page_of(ship_officer, link_drops=True)
    page.goto(address(accord, "accord-checklist"))
    arrived = []

    def lose(route: Route) -> None:
        if route.request.method != "POST":
            route.continue_()
            return
        route.fetch()
        arrived.append(route.request.url)
        route.abort()

    page.route("**/checklist/**", lose)
    page.locator("#signs-shown").get_by_role("button", name="Yes, for the ship").click()
    expect(page.locator("#kept")).to_contain_text(WAITS)
    assert len(arrived) == 1
    assert ChecklistAnswer.objects.filter(accord=accord, item_key="signs.shown").count() == 1
    page.unroute("**/checklist/**")
    page.get_by_role("button", name="Send it now").click()
    expect(page.locator("#kept")).to_contain_text("What waited on this device has been sent.")
    assert ChecklistAnswer.objects.filter(accord=accord, item_key="signs.shown").count() == 1


def test_what_the_server_refuses_later_is_told_with_the_reason(
    accord: Accord, ship_officer: Person, terminal_officer: Person, page_of: PageOf
) -> None:
    ship, terminal = page_of(ship_officer, link_drops=True), page_of(terminal_officer)
    for page in (ship, terminal):
        page.goto(address(accord))
    ship.context.set_offline(True)
    put(ship, "2450")
    expect(ship.locator("#kept")).to_contain_text(WAITS)
    put(terminal, "2300")
    expect(terminal.locator("#messages")).to_contain_text("2300")
    ship.context.set_offline(False)
    expect(ship.locator("#kept")).to_contain_text("meanwhile Tomas Reyes (terminal) has put 2300 m³/h on the table")
    expect(ship.locator("#kept").get_by_role("link", name="Look at it again")).to_be_visible()
    ship.locator("#kept").get_by_role("button", name="Forget it").click()
    expect(ship.locator("#kept .note")).to_have_count(0)


def test_a_device_that_keeps_nothing_still_sends(accord: Accord, ship_officer: Person, page_of: PageOf) -> None:
    page = page_of(ship_officer)
    page.add_init_script("Object.defineProperty(window, 'localStorage', {get() { throw new DOMException('no') }})")
    page.goto(address(accord))
    put(page, "2450")
    expect(page.locator("#messages")).to_contain_text("2450 m³/h is on the table")
