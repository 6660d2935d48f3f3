"""The page of an assessment in a real browser: what is moved, what follows, keyboard, narrow screen, accessibility."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from playwright.sync_api import Page, expect

from compat.assessing.models import Assessment
from compat.case.answer import answer_case
from compat.case.case_file import AgreedFacts
from compat.case.composing import compose_case, setting_of
from shared.models import Person
from shared.quantities import display
from terminals.models import Berth
from vessels.models import Vessel

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
PageOf = Callable[..., Page]
WIDTHS = [1280, 390]


def rate_at(assessment: Assessment, pressure_bar: float) -> str:
    """Return the rate of the moved case as the page writes it, worked out without the page."""
    case, berth = assessment.case_file(), assessment.berth_revision.berth_facts()
    agreed = AgreedFacts(manifold_pressure_bar_gauge=pressure_bar)
    moved = compose_case(case.ship, berth, replace(setting_of(case, berth), agreed=agreed))
    return display(answer_case(moved).total_flow_m3_per_h, "m³/h")


def settle(page: Page) -> None:
    """Wait until steps and pictures of the last move have come too, so that no request outlives its test."""
    expect(page.get_by_role("heading", name="What one step would buy")).to_be_visible()
    quiet = "!document.querySelector('.htmx-request') && [...document.images].every((image) => image.complete)"
    for _ in range(100):
        if page.evaluate(quiet):
            return
        page.wait_for_timeout(50)
    raise AssertionError("The page still waits for something.")


@pytest.mark.parametrize("width", WIDTHS)
def test_the_slider_moves_the_answer_and_its_pictures_without_a_page_load(
    width: int, assessment: Assessment, ship_reader: Person, page_of: PageOf
) -> None:
    """With the keyboard, as a reader: number, rate, result and picture follow; the page itself stays."""
    page = page_of(ship_reader, width=width)
    page.goto(reverse("assessment", args=[assessment.public_id]))
    page.evaluate("window.stayed = true")
    first_picture = page.get_attribute("#diagram", "src")
    slider = page.get_by_label("Agreed manifold pressure, slider")
    slider.focus()
    for _ in range(20):
        page.keyboard.press("ArrowLeft")
    expect(page.locator("[name=pressure]")).to_have_value("7.00")
    expect(page.locator("#glance .glance-rate dd")).to_have_text(rate_at(assessment, 7.0))
    expect(page.locator("#what-if-result")).to_contain_text("Against the stored answer")
    expect(page.locator("#diagram")).not_to_have_attribute("src", first_picture or "")
    assert page.evaluate("window.stayed") is True
    assert "?" not in page.url
    settle(page)


def test_the_number_keeps_its_pressure_when_its_unit_is_changed(
    assessment: Assessment, ship_officer: Person, page_of: PageOf
) -> None:
    """8 bar are 8.16 kgf/cm² (1 kgf/cm² = 0.980665 bar, exact), and the slider stays where it is."""
    page = page_of(ship_officer)
    page.goto(reverse("assessment", args=[assessment.public_id]))
    page.locator("[name=pressure_unit]").select_option("kgf/cm²")
    expect(page.locator("[name=pressure]")).to_have_value("8.16")
    assert page.locator("#pressure-slider").input_value() == "8"
    page.locator("[name=pressure]").fill("6.5 !")
    expect(page.locator("#what-if-result")).to_contain_text("is not a number")
    page.locator("[name=pressure]").fill("6.5")
    expect(page.locator("#glance .glance-rate dd")).to_have_text(rate_at(assessment, 6.5 * 0.980665))
    settle(page)


def test_what_was_moved_is_kept_from_the_page(assessment: Assessment, ship_officer: Person, page_of: PageOf) -> None:
    page = page_of(ship_officer)
    page.goto(reverse("assessment", args=[assessment.public_id]))
    page.get_by_label("Cargo pump P2").uncheck()
    page.get_by_label("Title").fill("One pump")
    page.get_by_role("button", name="Keep this as a new assessment").click()
    expect(page.get_by_role("heading", name="One pump", exact=True)).to_be_visible()
    made = Assessment.objects.get(title="One pump")
    assert [state.running for state in made.case_file().operation.pumps] == [True, False]
    settle(page)


@pytest.mark.parametrize("width", WIDTHS)
def test_no_page_breaks_accessibility_rules_or_runs_over_the_edge(
    width: int,
    assessment: Assessment,
    kept_assessment: Assessment,
    vessel: Vessel,
    berth: Berth,
    ship_officer: Person,
    page_of: PageOf,
) -> None:
    pages = [reverse(name) for name in ("assessment-list", "assessment-new", "assessment-case-file")]
    pages += [reverse("assessment", args=[one.public_id]) for one in (assessment, kept_assessment)]
    pages.append(f"{pages[3]}?pressure=6&arm_0=2&pump_0_running=on")
    pages.append(reverse("assessment-values", args=[vessel.public_id, berth.public_id]))
    page = page_of(ship_officer, width=width)
    found = {}
    for address in pages:
        page.goto(address)
        page.wait_for_load_state("networkidle")
        wide = page.evaluate("document.documentElement.scrollWidth > document.documentElement.clientWidth")
        broken = Axe().run(page).response["violations"]
        if broken or wide:
            found[address] = [wide, *[(rule["id"], [node["html"] for node in rule["nodes"]]) for rule in broken]]
    assert not found
