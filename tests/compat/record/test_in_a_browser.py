"""Taking a reading by phone: how many taps it takes, and that it survives the loss of the link."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Page, expect

from compat.record.flowing import say_go
from compat.record.models import Reading, TransferRecord
from compat.record.readings import MANIFOLD, RATE
from compat.record.taking import take_reading
from shared.models import Person
from tests.compat.record.keeping import case_of, on_plan, open_kept

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
PageOf = Callable[..., Page]
PHONE = 390
MOST_TAPS = 5


@pytest.fixture
def record(ship_officer: Person, terminal_officer: Person) -> TransferRecord:
    """Let oil flow since two hours, by the clock on the wall, with one reading taken an hour ago."""
    now = timezone.now()
    found = open_kept(ship_officer, terminal_officer)
    begun = now - timedelta(hours=2)
    for person in (ship_officer, terminal_officer):
        say_go(by=person, now=begun, record=found)
    found.refresh_from_db()
    take_reading(
        by=ship_officer,
        now=now,
        record=found,
        at=now - timedelta(hours=1),
        values=on_plan(case_of(found)),
        confirmed=True,
    )
    return found


def address(record: TransferRecord, page: str = "record") -> str:
    return reverse(page, args=[record.accord.public_id])


def box(page: Page, key: str) -> Any:
    return page.locator(f"[name^='{key}'].quantity-number")


def fill_on_plan(page: Page, record: TransferRecord) -> None:
    values = on_plan(case_of(record))
    for key in (MANIFOLD, RATE):
        box(page, key).fill(str(values[key]))
    page.get_by_label("I read the speeds; they are as before").check()


def test_a_reading_by_phone_takes_few_taps(record: TransferRecord, ship_officer: Person, page_of: PageOf) -> None:
    page = page_of(ship_officer, width=PHONE)
    page.goto(address(record))
    page.evaluate("window.name = ''")
    taps = "addEventListener('click', event => event.isTrusted && (window.name += 'x'), true)"
    page.context.add_init_script(taps)
    page.evaluate(taps)
    page.get_by_role("link", name="Take a reading").click()
    expect(box(page, MANIFOLD)).to_be_focused()
    values = on_plan(case_of(record))
    page.keyboard.type(str(values[MANIFOLD]))  # the first box is ready to type in
    box(page, RATE).click()
    page.keyboard.type(str(values[RATE]))
    page.get_by_label("I read the speeds; they are as before").click()
    page.get_by_role("button", name="Keep the reading").click()
    expect(page.locator("#readings tbody tr")).to_have_count(2)
    assert record.readings.count() == 2
    assert 3 <= len(page.evaluate("window.name")) <= MOST_TAPS


def test_a_reading_without_a_link_waits_on_the_phone_and_arrives_once(
    record: TransferRecord, ship_officer: Person, page_of: PageOf
) -> None:
    page = page_of(ship_officer, width=PHONE, link_drops=True)
    page.goto(address(record, "record-reading-new"))
    fill_on_plan(page, record)
    page.context.set_offline(True)
    page.get_by_role("button", name="Keep the reading").click()
    expect(page.locator("#kept")).to_contain_text("Not sent yet; it waits on this device for the link:")
    page.get_by_role("button", name="Keep the reading").click()
    expect(page.locator("#kept li")).to_have_count(1)
    assert record.readings.count() == 1
    page.context.set_offline(False)
    expect(page.locator("#kept")).to_contain_text("What waited on this device has been sent.")
    assert record.readings.count() == 2


def test_what_was_typed_is_there_again_after_the_page_was_lost(
    record: TransferRecord, ship_officer: Person, page_of: PageOf
) -> None:
    page = page_of(ship_officer, width=PHONE)
    page.goto(address(record, "record-reading-new"))
    box(page, MANIFOLD).fill("6.21")
    page.reload()
    expect(box(page, MANIFOLD)).to_have_value("6.21")
    assert Reading.objects.count() == 1
