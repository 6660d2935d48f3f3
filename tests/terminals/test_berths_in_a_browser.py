"""Pages about terminals and berths in a real browser: narrow screens, accessibility rules, folded parts."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from shared.models import Person
from terminals.models import Berth
from tests.builders import make_berth
from tests.faults import faults

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
PageOf = Callable[..., Page]


@pytest.fixture
def berth(terminal_officer: Person) -> Berth:
    assert terminal_officer.organisation is not None
    return make_berth(terminal_officer.organisation, terminal_officer)


def test_a_seldom_part_is_unfolded_when_it_is_needed(berth: Berth, terminal_officer: Person, page_of: PageOf) -> None:
    page = page_of(terminal_officer)
    page.goto(reverse("berth-line", args=[berth.public_id]))
    booster = page.locator("input[name='facts-booster-name']")
    expect(booster).to_be_hidden()
    page.get_by_text("Booster pump on the shore line").click()
    booster.fill("Booster 1")
    page.get_by_role("button", name="Save as a new revision").last.click()
    expect(page.locator("input[name='facts-booster-name']")).to_have_value("Booster 1")
    expect(page.get_by_role("link", name="Feeds segment is missing; state it.")).to_be_visible()


@pytest.mark.parametrize("width", [1280, 390])
def test_no_page_breaks_accessibility_rules_or_runs_over_the_edge(
    width: int, berth: Berth, terminal_officer: Person, page_of: PageOf
) -> None:
    about, terminal = [berth.public_id], [berth.terminal.public_id]
    pages = [
        *[reverse(name) for name in ["berth-list", "berth-archived-list", "terminal-list", "terminal-add"]],
        *[reverse(name, args=terminal) for name in ["terminal", "terminal-change", "berth-add", "berth-add-file"]],
        *[
            reverse(f"berth{name}", args=about)
            for name in ["", "-name", "-arms", "-line", "-sharing", "-archive", "-upload", "-history"]
        ],
        reverse("berth-revision", args=[*about, 1]),
    ]
    assert faults(page_of(terminal_officer, width=width), pages) == {}


def test_a_berth_that_keeps_its_line_is_sound_for_others_too(
    berth: Berth, ship_officer: Person, page_of: PageOf
) -> None:
    Berth.objects.filter(pk=berth.pk).update(line_data_shared=False)
    assert faults(page_of(ship_officer), [reverse("berth", args=[berth.public_id])]) == {}
