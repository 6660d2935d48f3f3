"""What the first visit to an accord costs on a slow link: every byte that a real browser gets from a real site."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from tests.builders import SECRET
from tests.compat.test_up import PROJECT, SECONDS, environment_for, site

MOST_KB = 150
SCENE = """
import django
django.setup()
from decimal import Decimal
from compat.accord import actions
from compat.accord.checklist.conditions import TransferConditions
from compat.accord.value_kinds import NumberValue
from compat.accord.values import values_for
from shared.roles import Kind
from tests.builders import NOW, make_organisation, make_person
from tests.compat.accord.building import MORE_VALUES, VALUES, open_accord
ship = make_person(make_organisation(Kind.SHIP, "Halvard Tankers"), username="ship")
terminal = make_person(make_organisation(Kind.TERMINAL, "Sandvik Terminals"), username="terminal")
accord = open_accord(ship, terminal, conditions=TransferConditions())
asked = {one.key for one in values_for(accord.transfer_conditions())}
for key, value in {**VALUES, **MORE_VALUES}.items():
    if key in asked:
        actions.propose_value(by=ship, now=NOW, accord=accord, key=key, value=value, seen=None)
print(accord.public_id)
"""
"""An accord with every value of an unknown cargo open on the table: the longest page there is."""


@pytest.mark.slow
@pytest.mark.browser
def test_a_first_visit_to_an_accord_takes_less_than_150_kilobytes(tmp_path: Path, chromium: Browser) -> None:
    with site(tmp_path, "--no-demo", "--port", "8460") as running:
        base = running.address().rstrip("/")
        environment = {**environment_for(tmp_path), "DJANGO_SETTINGS_MODULE": "compat.settings"}
        said = subprocess.run(
            [sys.executable, "-c", SCENE],
            cwd=PROJECT, env=environment, capture_output=True, text=True, timeout=SECONDS, check=False,
        )  # fmt: skip
        assert said.returncode == 0, said.stderr
        signed_in = chromium.new_context(base_url=base)
        page = signed_in.new_page()
        page.goto("/sign-in/")
        page.fill("input[name=username]", "terminal")
        page.fill("input[name=password]", SECRET)
        page.keyboard.press("Enter")
        page.wait_for_url(f"{base}/")
        for part in ("", "checklist/"):
            weights = first_visit(chromium, signed_in.storage_state(), f"{base}/accords/{said.stdout.strip()}/{part}")
            assert any(name.endswith(".css") for name in weights)
            assert sum(weights.values()) < MOST_KB * 1000, weights
        signed_in.close()


def first_visit(chromium: Browser, state: object, address: str) -> dict[str, float]:
    """Return the bytes on the wire of each file, by a browser that has nothing of the site yet."""
    context = chromium.new_context(storage_state=state)  # type: ignore[arg-type]
    page, addresses, weights = context.new_page(), dict[str, str](), dict[str, float]()
    network = context.new_cdp_session(page)
    network.send("Network.enable")
    network.on("Network.responseReceived", lambda told: addresses.update({told["requestId"]: told["response"]["url"]}))
    network.on("Network.loadingFinished", lambda told: weights.update({told["requestId"]: told["encodedDataLength"]}))
    answer = page.goto(address, wait_until="networkidle")
    assert answer is not None
    assert answer.status == 200
    context.close()
    return {addresses.get(number, number): weight for number, weight in weights.items()}
