"""From opening to a data file that verifies, by the acts alone; and what the trail says of it."""

from __future__ import annotations

import pytest
from django.conf import settings

from compat.accord.models import Plan
from compat.accord.states import State
from compat.accord.verifying import verify
from shared.models import Person
from shared.signing import load_key
from tests.compat.accord.building import bring_to


@pytest.mark.parametrize("state", list(State))
def test_an_accord_reaches_every_state_by_its_acts(
    state: State, ship_officer: Person, terminal_officer: Person
) -> None:
    assert bring_to(state, ship_officer, terminal_officer).state == state


def test_the_plan_verifies_with_the_installations_public_key(ship_officer: Person, terminal_officer: Person) -> None:
    accord = bring_to(State.IN_FORCE, ship_officer, terminal_officer)
    plan = Plan.objects.get(accord=accord)
    verdict = verify(bytes(plan.envelope), load_key(settings.SIGNING_KEY_FILE).public_key_pem())
    assert verdict.holds, verdict.sentences()
    assert verdict.payload_sha256 == plan.sha256
