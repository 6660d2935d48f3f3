"""The pages of an accord in a real browser: without a page load, two people at once, narrow screen, accessibility."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from playwright.sync_api import Page, expect

from compat.accord import actions
from compat.accord.models import Accord
from compat.accord.states import State
from shared.models import Person
from tests.builders import NOW, SECRET
from tests.compat.accord.building import HIGHEST, PRESSURE, bring_to, open_accord

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
PageOf = Callable[..., Page]
LONG_MS = 60_000
RATE_CARD = f"#value-{HIGHEST}"


def address(accord: Accord, page: str = "accord", *more: object) -> str:
    return reverse(page, args=[accord.public_id, *more])


@pytest.fixture
def accord(ship_officer: Person, terminal_officer: Person) -> Accord:
    accord = open_accord(ship_officer, terminal_officer)
    proposal = actions.propose_value(by=ship_officer, now=NOW, accord=accord, key=PRESSURE, value=Decimal(8), seen=None)
    actions.accept_value(by=terminal_officer, now=NOW, proposal=proposal)
    return accord


def test_a_value_shows_what_it_means_while_it_is_typed_and_goes_on_the_table_without_a_page_load(
    accord: Accord, ship_officer: Person, page_of: PageOf
) -> None:
    page = page_of(ship_officer)
    page.goto(address(accord))
    page.evaluate("window.stays = true")
    card = page.locator(RATE_CARD)
    card.get_by_label("Value for the table").fill("2500")
    expect(card.locator(".preview")).to_contain_text("It would mean: 2,500")
    card.get_by_role("button", name="Put it on the table").click()
    expect(page.locator("#messages")).to_contain_text("Highest rate: 2500 m³/h is on the table.")
    expect(card.get_by_role("button", name="Take it off the table")).to_be_visible()
    assert page.evaluate("window.stays")
    assert page.url.endswith(address(accord))


def test_two_people_answer_each_other_in_two_browsers(
    accord: Accord, ship_officer: Person, terminal_officer: Person, page_of: PageOf
) -> None:
    ship, terminal = page_of(ship_officer), page_of(terminal_officer)
    for page in (ship, terminal):
        page.goto(address(accord))
    for page, value in ((ship, "2600"), (terminal, "2400")):
        page.locator(RATE_CARD).get_by_label("Value for the table").fill(value)
    ship.locator(RATE_CARD).get_by_role("button", name="Put it on the table").click()
    expect(ship.locator("#messages")).to_contain_text("2600")
    terminal.locator(RATE_CARD).get_by_role("button", name="Put it on the table").click()
    card = terminal.locator(RATE_CARD)
    expect(card).to_contain_text("meanwhile Ingrid Solheim (ship) has put 2600 m³/h on the table")
    expect(card.get_by_label("Value for the table")).to_have_value("2400")
    card.get_by_role("button", name="Answer with this").click()
    expect(terminal.locator("#messages")).to_contain_text("2400")
    ship.reload()
    ship.locator(RATE_CARD).get_by_role("button", name="Accept 2,400").click()
    expect(ship.locator(RATE_CARD)).to_contain_text("✓ agreed 2,400")


def test_a_checklist_item_is_answered_in_its_place(accord: Accord, ship_officer: Person, page_of: PageOf) -> None:
    page = page_of(ship_officer, width=390)
    page.goto(address(accord, "accord-checklist"))
    before = page.locator("#progress").inner_text()
    row = page.locator("#signs-shown")
    row.get_by_role("button", name="Yes, for the ship").click()
    expect(row).to_contain_text("✓ yes")
    expect(page.locator("#progress")).not_to_have_text(before)
    seals = page.locator("#sea-valves-sealed")
    seals.get_by_role("link", name="Answer").click()
    seals.get_by_label("No", exact=True).check()
    seals.get_by_role("button", name="Save this answer").click()
    expect(seals).to_contain_text("needs a remark")
    seals.get_by_label("Remark").fill("One valve leaks.")
    seals.get_by_role("button", name="Save this answer").click()
    expect(seals).to_contain_text("✕ no")
    expect(page.locator("#progress")).to_contain_text("1 required item answered “no”")
    assert page.url.endswith(address(accord, "accord-checklist"))


def test_signing_with_the_keyboard(ship_officer: Person, terminal_officer: Person, page_of: PageOf) -> None:
    accord = bring_to(State.SIGNED_BY_TERMINAL, ship_officer, terminal_officer)
    page = page_of(ship_officer)
    page.goto(address(accord))
    page.get_by_role("link", name="Read and sign").press("Enter")
    page.get_by_label("Make a signing key for me").press("Space")
    page.get_by_label("Your secret (password)").fill(SECRET)
    page.keyboard.press("Enter")
    told = "Signed by both sides: the plan is in force."
    expect(page.locator("#messages")).to_contain_text(told, timeout=LONG_MS)
    expect(page.get_by_role("link", name="Data file")).to_be_visible()


def test_without_scripts_a_value_is_agreed_an_item_answered_and_an_accord_taken_back(
    accord: Accord, ship_officer: Person, terminal_officer: Person, page_of: PageOf
) -> None:
    ship, terminal = (page_of(one, width=390, scripts=False) for one in (ship_officer, terminal_officer))
    ship.goto(address(accord))
    ship.locator(RATE_CARD).get_by_label("Value for the table").fill("2500")
    ship.locator(RATE_CARD).get_by_role("button", name="Put it on the table").click()
    expect(ship.locator("#messages")).to_contain_text("Highest rate: 2500 m³/h is on the table.")
    terminal.goto(address(accord))
    terminal.locator(RATE_CARD).get_by_role("button", name="Accept 2,500").click()
    expect(terminal.locator(RATE_CARD)).to_contain_text("✓ agreed 2,500")
    ship.goto(address(accord, "accord-checklist"))
    ship.locator("#sea-valves-sealed").get_by_role("link", name="Answer").click()
    ship.get_by_label("No", exact=True).check()
    ship.get_by_label("Remark").fill("One valve leaks.")
    ship.get_by_role("button", name="Save this answer").click()
    expect(ship.locator("#sea-valves-sealed")).to_contain_text("✕ no")
    settled = bring_to(State.SETTLED, ship_officer, terminal_officer, ship_name="Berit Halvard", berth_name="Inner")
    ship.goto(address(settled, "accord-take-back"))
    ship.get_by_label("Reason").fill("Less pressure.")
    ship.locator("main form [type=submit]").click()
    expect(ship.locator("main")).to_contain_text("on the table")


def test_without_scripts_a_plan_is_signed(ship_officer: Person, terminal_officer: Person, page_of: PageOf) -> None:
    accord = bring_to(State.SIGNED_BY_TERMINAL, ship_officer, terminal_officer)
    page = page_of(ship_officer, scripts=False)
    page.goto(address(accord, "accord-sign"))
    page.get_by_label("Make a signing key for me").check()
    page.get_by_label("Your secret (password)").fill(SECRET)
    page.keyboard.press("Enter")
    expect(page.locator("#messages")).to_contain_text("the plan is in force", timeout=LONG_MS)


@pytest.mark.parametrize("width", [1280, 390])
def test_no_page_breaks_accessibility_rules_or_runs_over_the_edge(
    width: int, accord: Accord, ship_officer: Person, terminal_officer: Person, page_of: PageOf
) -> None:
    actions.propose_value(by=terminal_officer, now=NOW, accord=accord, key=HIGHEST, value=Decimal(5000), seen=None)
    settled = bring_to(
        State.SETTLED, ship_officer, terminal_officer, ship_name="Berit Halvard", berth_name="Inner berth"
    )
    pages = [reverse("accord-list"), reverse("accord-new"), reverse("accord-open-like", args=[accord.public_id])]
    pages += [address(accord), address(accord, "accord-checklist"), address(accord, "accord-arrange")]
    pages += [address(accord, "accord-item", "agree.communication"), address(accord, "accord-withdraw")]
    pages += [address(settled), address(settled, "accord-sign"), address(settled, "accord-coverage")]
    page = page_of(ship_officer, width=width)
    found = {}
    for where in pages:
        page.goto(where)
        page.evaluate("document.querySelectorAll('main details').forEach(part => { part.open = true; })")
        wide = page.evaluate("document.documentElement.scrollWidth > document.documentElement.clientWidth")
        broken = Axe().run(page).response["violations"]
        if broken or wide:
            found[where] = [wide, *[(rule["id"], [node["html"] for node in rule["nodes"]]) for rule in broken]]
    assert not found, found
