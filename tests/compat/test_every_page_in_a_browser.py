"""Every page that links lead to in the demo scenario, in a real browser: WCAG 2.2 AA by axe, no scrolling sideways.

A new address is either found here by a link, or must be named below as something that is not a page.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import datetime

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.test import Client
from django.urls import resolve, reverse
from playwright.sync_api import Page

from compat import demo
from compat.accord.models import Accord
from compat.accord.states import State
from shared.models import Person
from terminals.models import Berth
from tests.addresses import every_name
from vessels.models import Vessel

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.django_db(transaction=True)]

PEOPLE = ("ida.marsh", "teodor.lund", "julian.peake", "rosa.delmar", "lars.hamre", "noor.castell", "keeper", None)
"""Administrators and officers of both kinds of party, an auditor, who looks after the installation, and nobody."""
WIDTHS = (640, 390)
"""A window of 1,280 pixels at 200 % zoom, and a phone."""
RULES = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}}

ACTS = {
    "accord-accept", "accord-auditor-add", "accord-auditor-end", "accord-guest-end", "accord-guest-link",
    "accord-settle", "accord-take-off", "assessment-keep", "berth-restore", "berth-revision-again",
    "passkey-remove", "passkey-sign-in", "person-deactivate", "person-reactivate", "person-reset-factor",
    "practice-drop", "record-accept", "record-go", "record-open", "record-settle", "recovery-codes", "screening-again",
    "screening-cancel", "screening-go-on", "screening-keep", "screening-share", "screening-unshare", "sign-out",
    "time-code-remove", "token-revoke", "vessel-restore", "vessel-revision-again",
}  # fmt: skip
"""What is only ever posted."""
FILES = {
    "accord-case", "accord-diagram", "accord-draft", "accord-plan-data", "accord-plan-pdf", "accord-profile",
    "assessment-answer", "assessment-case", "assessment-diagram", "assessment-profile", "assessment-stay-file",
    "assessment-sure-picture", "assessment-surge-envelope", "assessment-surge-pressures",
    "assessment-together-file", "authority", "berth-facts-file", "berth-line-picture", "berth-questionnaire",
    "health-alive", "health-ready", "learned-berth-residuals", "learned-vessel-residuals", "metrics",
    "passkey-new-question", "passkey-question", "record-draft", "record-export",
    "record-pdf", "record-picture", "record-template", "screening-asks-csv", "screening-csv",
    "screening-xlsx", "trail-csv", "trail-lines", "vessel-facts-file", "vessel-pump-picture", "vessel-questionnaire",
}  # fmt: skip
"""Files, pictures, and what only programs ask."""
PARTS = {"accord-item-row", "accord-meaning", "assessment-keel", "assessment-steps", "screening-progress"}
"""Pieces that a script puts into a page."""

NOT_LINKED = {
    "accord-changes", "accord-stay-drop", "guest-accept", "person-secret", "record-arrange", "record-reopen",
    "record-sign", "screening-changes", "second-step",
}  # fmt: skip
"""Pages that nothing in the demo scenario has come to; the tests of their rooms look at them."""


def reached(person: Person | None) -> Iterator[tuple[str, str]]:
    """Yield name and address of each page that links lead this person to, the first address of each name."""
    client, waiting, seen = Client(), ["/", *found_without_links()], set[str]()
    if person is not None:
        client.force_login(person)
    while waiting:
        address = waiting.pop(0)
        name = resolve(re.split(r"[?#]", address)[0]).url_name or ""
        if name in seen or name in ACTS | FILES | PARTS:
            continue
        page = client.get(address, follow=True)
        if page.status_code != 200 or not page["Content-Type"].startswith("text/html"):
            continue
        seen.add(name)
        yield name, address
        links = re.findall(r'href="(/[^"]*)"', page.text)
        waiting += [link.replace("&amp;", "&") for link in links if not link.startswith(("/static/", "/api/"))]


def found_without_links() -> list[str]:
    """Return pages that no link leads to until there is more to show, or that a form leads to."""
    vessel, berth = Vessel.objects.all()[0], Berth.objects.all()[0]
    in_force, open_one = Accord.objects.get(state=State.IN_FORCE), Accord.objects.get(state=State.ON_TABLE)
    of_record = (in_force.vessel_revision.vessel, in_force.berth_revision.berth)
    return [
        reverse("sign-in"),
        reverse("vessel-history", args=[vessel.public_id]),
        reverse("berth-history", args=[berth.public_id]),
        reverse("assessment-values", args=[vessel.public_id, berth.public_id]),
        reverse("learned-vessel", args=[of_record[0].public_id]),
        reverse("learned-berth", args=[of_record[1].public_id]),
        reverse("accord-amend", args=[in_force.public_id]),
        reverse("accord-stay-plan", args=[open_one.public_id]),
        reverse("accord-stay-file", args=[open_one.public_id]),
    ]


def test_every_page_is_sound_for_everyone(now: datetime, page_of: Callable[..., Page]) -> None:
    demo.load(now=now)
    axe, wrong, visited = Axe(), list[str](), set[str]()
    for username in PEOPLE:
        person = Person.objects.get(username=username) if username else None
        pages = [(name, address) for name, address in reached(person) if name not in visited]
        browser = page_of(person)
        for name, address in pages:
            visited.add(name)
            wrong += problems_of(browser, address, axe)
    assert not wrong, "\n".join(wrong)
    pages_of_the_site = {name for name in every_name() if not name.startswith("api-v1:")}
    unexpected = (pages_of_the_site - visited - ACTS - FILES - PARTS) ^ NOT_LINKED
    assert not unexpected, f"neither found by a link nor named above, or both: {sorted(unexpected)}"


def problems_of(browser: Page, address: str, axe: Axe) -> list[str]:
    """Return what is wrong with one page, as sentences."""
    browser.set_viewport_size({"width": 1280, "height": 900})
    browser.goto(address)
    found = [
        f"{address}: {rule['id']} {[node['target'] for node in rule['nodes']][:3]}"
        for rule in axe.run(browser, options=RULES).response["violations"]
    ]
    for width in WIDTHS:
        browser.set_viewport_size({"width": width, "height": 900})
        if browser.evaluate("document.documentElement.scrollWidth > window.innerWidth"):
            found.append(f"{address}: scrolls sideways at {width} pixels")
    return found
