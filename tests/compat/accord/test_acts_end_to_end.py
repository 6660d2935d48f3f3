"""From opening to a data file that verifies, by the acts alone; and what the trail says of it."""

from __future__ import annotations

import pytest

from compat.accord import actions
from compat.accord.checklist import required_before_signing
from compat.accord.keys import authority
from compat.accord.models import Plan
from compat.accord.states import State
from compat.accord.verifying import verify_data
from shared.models import Person, TrailRow
from shared.trail import verify_trail
from tests.builders import NOW
from tests.compat.accord.building import VALUES, agree, answer_all, bring_to, open_accord, sign


@pytest.mark.parametrize("state", list(State))
def test_an_accord_reaches_every_state_by_its_acts(
    state: State, ship_officer: Person, terminal_officer: Person
) -> None:
    assert bring_to(state, ship_officer, terminal_officer).state == state


def test_from_opening_to_a_plan_that_verifies(ship_officer: Person, terminal_officer: Person) -> None:
    accord = open_accord(ship_officer, terminal_officer)
    agree(accord, ship_officer, terminal_officer)
    answer_all(accord, ship_officer, terminal_officer)
    actions.settle(by=ship_officer, now=NOW, accord=accord)
    sign(accord, terminal_officer)
    sign(accord, ship_officer)
    plan = Plan.objects.get(accord=accord)
    verdict = verify_data(bytes(plan.payload), bytes(plan.signatures or b""), authority().certificate)
    assert verdict.holds, verdict.sentences()
    assert verdict.file is not None
    assert verdict.file.sha256 == plan.sha256

    acts = list(TrailRow.objects.filter(subject=accord.subject).values_list("act", flat=True))
    assert acts.count("value accepted") == len(VALUES)
    assert acts.count("checklist answered") >= len(required_before_signing(accord.transfer_conditions()))
    assert acts[0] == "accord opened"
    assert acts[-4:] == ["accord settled", "plan signed", "plan signed", "plan in force"]
    assert verify_trail() is None
