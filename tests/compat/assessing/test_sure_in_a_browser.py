"""How sure a rate is, and several grades together, in a real browser: forms, pictures, narrow screen, accessibility."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from playwright.sync_api import Page, expect

from compat.assessing.models import Assessment
from shared.models import Person

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def check(page: Page) -> None:
    """Nothing is wider than the screen, every picture is drawn, and nothing is in the way of anybody."""
    page.wait_for_load_state("networkidle")
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    assert page.evaluate("[...document.images].every((image) => image.complete && image.naturalWidth > 0)")
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()


@pytest.mark.parametrize("width", [1280, 390])
def test_tolerances_are_typed_and_answered(
    width: int, assessment: Assessment, ship_officer: Person, page_of: Callable[..., Page]
) -> None:
    page = page_of(ship_officer, width=width)
    page.goto(reverse("assessment", args=[assessment.public_id]))
    page.get_by_role("link", name="How sure").click()
    check(page)
    page.get_by_label("Agreed manifold pressure").first.fill("0.4")
    page.get_by_role("button", name="Work it out").click()
    expect(page.locator("#spread")).to_contain_text("P50")
    check(page)


@pytest.mark.parametrize("width", [1280, 390])
def test_two_assessments_are_pumped_together(
    width: int,
    assessment: Assessment,
    kept_assessment: Assessment,
    ship_officer: Person,
    page_of: Callable[..., Page],
) -> None:
    page = page_of(ship_officer, width=width)
    page.goto(reverse("assessment-together", args=[assessment.public_id]))
    page.get_by_label(kept_assessment.title).check()
    page.get_by_role("button", name="Answer them together").click()
    expect(page.get_by_role("alert")).to_contain_text("has no pump; choose one for it")
    page.locator("select[name=pump_P2]").select_option("2")
    page.get_by_role("button", name="Answer them together").click()
    expect(page.get_by_text("All grades together")).to_be_visible()
    check(page)
