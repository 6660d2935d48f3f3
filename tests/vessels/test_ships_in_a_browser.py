"""Pages about ships in a real browser: rows come and go by script, narrow screens, accessibility rules."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from shared.models import Person
from tests.builders import make_vessel
from tests.faults import faults
from vessels.models import Vessel

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
PageOf = Callable[..., Page]


@pytest.fixture
def vessel(ship_officer: Person) -> Vessel:
    assert ship_officer.organisation is not None
    return make_vessel(ship_officer.organisation, ship_officer)


def line_of(page: Page) -> list[str]:
    """Return the names of the runs in the common line's table, in order."""
    return [
        box.input_value() for box in page.locator("tbody[data-rows='facts-common_line'] input[name$='-name']").all()
    ]


def test_rows_come_and_go_without_a_page_load_and_are_saved_in_their_order(
    vessel: Vessel, ship_officer: Person, page_of: PageOf
) -> None:
    page = page_of(ship_officer)
    page.goto(reverse("vessel-common-line", args=[vessel.public_id]))
    page.evaluate("window.samePage = true")
    page.get_by_label("Put a blank row after this one").first.click()
    page.keyboard.type("Crossover")  # the new row has the focus
    row = page.locator("tr", has=page.locator("input[name$='-origin']")).nth(1)
    for key, value in {"length_m": "4", "bore_mm": "300", "roughness_mm": "0.1"}.items():
        row.locator(f"input[name$='{key}']").fill(value)
    page.get_by_role("button", name="Add a run of pipe").click()
    page.keyboard.type("Manifold drop")
    assert line_of(page) == ["Deck line", "Crossover", "", "Manifold drop"]
    page.locator("tr", has=page.locator("input[value='Deck line']")).get_by_label("Take this row off").click()
    page.get_by_label("Take this row off").last.click()
    assert line_of(page) == ["Crossover", ""]
    assert page.evaluate("window.samePage") is True
    page.get_by_role("button", name="Save as a new revision").last.click()
    expect(page.get_by_text("Common line: saved as revision 2.")).to_be_visible()
    assert [run.name for run in vessel.revisions.latest("number").ship_facts().common_line] == ["Crossover"]


def test_enter_in_a_box_saves_and_takes_no_row_off(vessel: Vessel, ship_officer: Person, page_of: PageOf) -> None:
    page = page_of(ship_officer)
    page.goto(reverse("vessel-common-line", args=[vessel.public_id]))
    page.locator("input[name='facts-common_line-0-length_m']").fill("95")
    page.keyboard.press("Enter")
    expect(page.get_by_text("Common line: saved as revision 2.")).to_be_visible()
    assert vessel.revisions.latest("number").ship_facts().common_line[0].length_m == 95.0


def test_another_tested_speed_is_fetched_and_what_was_typed_stays(
    vessel: Vessel, ship_officer: Person, page_of: PageOf
) -> None:
    page = page_of(ship_officer)
    page.goto(reverse("vessel-pump", args=[vessel.public_id, "P1"]))
    page.get_by_label("Name", exact=True).first.fill("Pump on the port side")
    page.get_by_role("button", name="Add another tested speed").click()
    expect(page.get_by_role("heading", name="Tested speed 2")).to_be_visible()
    expect(page.get_by_label("Name", exact=True).first).to_have_value("Pump on the port side")
    assert page.locator(".invalid, .invalid-feedback").count() == 0


def test_a_problem_in_the_list_leads_to_its_box(vessel: Vessel, ship_officer: Person, page_of: PageOf) -> None:
    page = page_of(ship_officer)
    page.goto(reverse("vessel-pump", args=[vessel.public_id, "P1"]))
    page.locator("input[name='facts-suction_line-0-bore_mm']").fill("0")
    page.get_by_role("button", name="Save as a new revision").last.click()
    page.get_by_role("link", name="Bore is 0 mm").click()
    assert page.evaluate("location.hash") == "#id_facts-suction_line-0-bore_mm"
    assert page.locator("#id_facts-suction_line-0-bore_mm").is_visible()


@pytest.mark.parametrize("width", [1280, 390])
def test_no_page_breaks_accessibility_rules_or_runs_over_the_edge(
    width: int, vessel: Vessel, ship_officer: Person, page_of: PageOf
) -> None:
    about = [vessel.public_id]
    pages = [
        reverse("vessel-list"),
        reverse("vessel-archived-list"),
        reverse("vessel-add"),
        reverse("vessel-add-file"),
        *[
            reverse(f"vessel{name}", args=about)
            for name in ["", "-particulars", "-common-line", "-pump-add", "-archive", "-upload", "-history"]
        ],
        reverse("vessel-pump", args=[*about, "P1"]),
        reverse("vessel-pump-take-off", args=[*about, "P1"]),
        reverse("vessel-revision", args=[*about, 1]),
    ]
    assert faults(page_of(ship_officer, width=width), pages) == {}
