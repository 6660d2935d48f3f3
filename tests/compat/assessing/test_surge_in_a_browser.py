"""The page of surge in a real browser: a search without a page load, a narrow screen, accessibility."""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import datetime

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from playwright.sync_api import Page, expect

from shared.models import Person
from tests.compat.assessing.test_surge_page import surge_assessment

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.mark.parametrize("width", [1280, 390])
def test_a_search_answers_in_its_place(
    width: int,
    ship_officer: Person,
    terminal_officer: Person,
    ship_reader: Person,
    now: datetime,
    page_of: Callable[..., Page],
) -> None:
    row = surge_assessment(ship_officer, terminal_officer, now, shared=True)
    page = page_of(ship_reader, width=width)
    page.goto(reverse("assessment-surge", args=[row.public_id]) + "?event=shore-valve")
    page.evaluate("window.stayed = true")
    page.get_by_role("link", name="Search its safe closing time (Shore valve)").click()
    expect(page.locator("#surge-closing")).to_contain_text(
        "Shortest closing time within the ratings at", timeout=60_000
    )
    assert page.evaluate("window.stayed")
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    assert page.evaluate("[...document.images].every((image) => image.complete && image.naturalWidth > 0)")
    shots = os.environ.get("SHOTS")
    if shots:
        page.screenshot(path=f"{shots}/surge_{width}.png", full_page=True)
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
