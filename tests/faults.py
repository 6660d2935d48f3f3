"""What a real browser finds wrong with pages."""

from __future__ import annotations

from collections.abc import Iterable

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page


def faults(page: Page, addresses: Iterable[str]) -> dict[str, object]:
    """Return for each faulty page whether it is too wide for its window and which accessibility rules it breaks."""
    found: dict[str, object] = {}
    for address in addresses:
        page.goto(address)
        wide = page.evaluate("document.documentElement.scrollWidth > document.documentElement.clientWidth")
        broken = Axe().run(page).response["violations"]
        if broken or wide:
            found[address] = [wide, *[(rule["id"], [node["html"] for node in rule["nodes"]][:3]) for rule in broken]]
    return found
