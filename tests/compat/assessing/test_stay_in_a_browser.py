"""Planning a stay in a real browser: the plan follows what is typed, the last one stays, narrow screens."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from playwright.sync_api import Page, expect

from compat.assessing.models import Assessment
from shared.models import Person
from tests.compat.accord.building import agree, open_accord
from tests.compat.assessing.test_stay_files import ASKED as LOADING
from tests.compat.assessing.test_stay_page import ASKED
from tests.compat.stays import stay_document

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
PageOf = Callable[..., Page]
PICTURES = os.environ.get("STAY_PICTURES", "")


@pytest.mark.parametrize("width", [1280, 390])
def test_the_plan_follows_what_is_typed(
    width: int, assessment: Assessment, ship_reader: Person, page_of: PageOf
) -> None:
    page = page_of(ship_reader, width=width)
    page.goto(reverse("assessment-stay", args=[assessment.public_id]))
    for name, value in ASKED.items():
        page.locator(f"[name={name}]").fill(value)
    page.get_by_role("button", name="Work it out").click()
    head = page.locator("#stay-head [data-hours]")
    expect(head).to_be_visible(timeout=60_000)
    quiet = "!document.querySelector('.htmx-request')"
    page.wait_for_function(quiet, timeout=60_000)
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    if PICTURES:
        page.screenshot(path=str(Path(PICTURES) / f"stay-{width}.png"), full_page=True)
    findings = Axe().run(page)
    assert findings.violations_count == 0, findings.generate_report()
    before = head.get_attribute("data-hours")
    page.locator("[name=quantity]").fill("")
    expect(page.locator("#stay-problems")).to_contain_text("thing to correct", timeout=60_000)
    assert head.get_attribute("data-hours") == before
    page.locator("[name=quantity]").fill("16000")
    expect(head).not_to_have_attribute("data-hours", before or "", timeout=60_000)
    expect(page.locator("#stay-problems")).to_have_text("")
    page.wait_for_function(quiet, timeout=60_000)


@pytest.mark.parametrize("width", [1280, 390])
def test_a_stay_file_is_changed_on_the_page_and_another_plan_put_beside(
    width: int, ship_reader: Person, page_of: PageOf
) -> None:
    page = page_of(ship_reader, width=width)
    page.goto(reverse("stay-file"))
    text = json.dumps(stay_document()).encode()
    page.locator("input[type=file]").set_input_files(
        {"name": "night.json", "mimeType": "application/json", "buffer": text}
    )
    page.get_by_role("button", name="Work it out").click()
    expect(page.locator("#stay-working")).to_be_visible()
    head = page.locator("#stay-head [data-hours]")
    expect(head).to_be_visible(timeout=60_000)
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    findings = Axe().run(page)
    assert findings.violations_count == 0, findings.generate_report()
    page.locator("input[name=beside][value=pumps-1]").check()
    expect(page.locator("#beside")).to_contain_text("Hours of bulk", timeout=60_000)
    expect(page.locator("#beside th", has_text="One pump only").nth(1)).to_be_visible(timeout=60_000)
    before = head.get_attribute("data-hours") or ""
    page.get_by_text("The file as text").first.click()
    page.locator("[name=text]").fill("{}")
    page.get_by_role("button", name="Work it out").click()
    expect(page.locator("#stay-problems")).to_contain_text("to correct", timeout=60_000)
    assert head.get_attribute("data-hours") == before
    changed = stay_document()
    changed["case"]["agreed"]["manifold_pressure_bar_gauge"] = 4.0
    page.locator("[name=text]").fill(json.dumps(changed))
    page.get_by_role("button", name="Work it out").click()
    expect(head).not_to_have_attribute("data-hours", before, timeout=60_000)
    expect(page.locator("#stay-problems")).to_have_text("")


@pytest.mark.parametrize("width", [1280, 390])
def test_a_loading_follows_what_is_typed(width: int, ship_reader: Person, page_of: PageOf) -> None:
    page = page_of(ship_reader, width=width)
    page.goto(reverse("loading"))
    for name, value in LOADING.items():
        if name != "static_accumulator":
            page.locator(f"[name={name}]").fill(value)
    head = page.locator("#loading-head [data-hours]")
    expect(head).to_be_visible(timeout=60_000)
    page.wait_for_function("!document.querySelector('.htmx-request')", timeout=60_000)
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    findings = Axe().run(page)
    assert findings.violations_count == 0, findings.generate_report()
    before = head.get_attribute("data-hours") or ""
    page.locator("[name=tanks]").fill("1P 300")
    expect(page.locator("#stay-problems")).to_contain_text("write a name and 6 numbers", timeout=60_000)
    assert head.get_attribute("data-hours") == before


@pytest.mark.parametrize("width", [1280, 390])
def test_the_stay_of_an_accord_follows_what_is_typed(
    width: int, ship_officer: Person, terminal_officer: Person, page_of: PageOf
) -> None:
    accord = open_accord(ship_officer, terminal_officer)
    agree(accord, ship_officer, terminal_officer)
    page = page_of(ship_officer, width=width)
    page.goto(reverse("accord-stay", args=[accord.public_id]))
    for name, value in ASKED.items():
        if name != "start_rate":
            page.locator(f"[name={name}]").fill(value)
    head = page.locator("#stay-head [data-hours]")
    expect(head).to_be_visible(timeout=60_000)
    page.wait_for_function("!document.querySelector('.htmx-request')", timeout=60_000)
    expect(page.locator("#stay-result")).to_contain_text("not part of the accord yet")
    expect(page.locator("#beside")).to_contain_text("One more", timeout=60_000)
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    findings = Axe().run(page)
    assert findings.violations_count == 0, findings.generate_report()
    before = head.get_attribute("data-hours") or ""
    page.locator("[name=quantity]").fill("")
    expect(page.locator("#stay-problems")).to_contain_text("thing to correct", timeout=60_000)
    assert head.get_attribute("data-hours") == before
