"""Every move from every state by every role, through the acts; and what each move leaves behind."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from itertools import product
from typing import Any

import pytest

from compat.accord import actions
from compat.accord.checklist.item import Side
from compat.accord.models import Accord, Plan
from compat.accord.moving import MeanwhileError, move
from compat.accord.settling import NotSettledError
from compat.accord.states import Move, MoveError, State
from shared.calc.errors import AccordError, InputError
from shared.models import Person, TrailRow
from shared.permissions import NotAllowedError
from shared.trail import facts_of
from tests.builders import NOW, SECRET
from tests.compat.accord.building import (
    HIGHEST,
    PRESSURE,
    agree,
    amend_to_force,
    bring_to,
    open_accord,
    sign,
    write_answers,
)
from tests.compat.accord.test_states import ALLOWED

ACTS: dict[Move, Callable[..., Any]] = {
    Move.SETTLE: lambda accord, by: actions.settle(by=by, now=NOW, accord=accord),
    Move.TAKE_BACK: lambda accord, by: actions.take_back(by=by, now=NOW, accord=accord, reason="Another tank."),
    Move.WITHDRAW: lambda accord, by: actions.withdraw(by=by, now=NOW, accord=accord, reason="She goes elsewhere."),
    Move.SIGN: lambda accord, by: actions.sign(
        by=by,
        now=NOW,
        accord=accord,
        secret=SECRET,
        title="Officer",
        seen_sha256=accord.payload_sha256,
        consents=True,
    ),
}
SIDES = {
    "ship_officer": Side.SHIP,
    "ship_admin": Side.SHIP,
    "terminal_officer": Side.TERMINAL,
    "terminal_admin": Side.TERMINAL,
}
NEVER = ["ship_reader", "terminal_reader", "auditor", "stranger", "other_terminal_officer", "installation_admin"]


@pytest.mark.parametrize("state", list(State))
def test_each_role_makes_exactly_the_moves_of_its_side(
    state: State, ship_officer: Person, terminal_officer: Person, request: pytest.FixtureRequest
) -> None:
    """One accord for each state; every act that succeeds is undone by setting the row back."""
    accord = bring_to(state, ship_officer, terminal_officer)
    if state is State.ON_TABLE:
        agree(accord, ship_officer, terminal_officer)
        write_answers(accord, ship_officer, terminal_officer)
    row = Accord.objects.filter(pk=accord.pk).values().get()
    for (what, act), who in product(ACTS.items(), [*SIDES, *NEVER]):
        person = request.getfixturevalue(who)
        fresh = Accord.objects.get(pk=accord.pk)
        target = ALLOWED.get((state, what, SIDES[who])) if who in SIDES else None
        if target is None:
            with pytest.raises(NotAllowedError if who in NEVER else MoveError):
                act(fresh, person)
            assert Accord.objects.values_list("state", flat=True).get(pk=accord.pk) == state, (what, who)
            continue
        act(fresh, person)
        assert Accord.objects.values_list("state", flat=True).get(pk=accord.pk) == target, (what, who)
        Plan.objects.filter(accord=accord).exclude(accord__state=State.SUPERSEDED).delete()
        accord.signatures.filter(side=SIDES[who], person=person, void_at=None).delete()
        accord.signatures.exclude(void_at=None).update(void_at=None, void_by=None, void_reason="")
        Accord.objects.filter(pk=accord.pk).update(**row)


def test_what_is_left_to_do_is_said_before_settling(ship_officer: Person, terminal_officer: Person) -> None:
    accord = open_accord(ship_officer, terminal_officer)
    proposal = actions.propose_value(by=ship_officer, now=NOW, accord=accord, key=PRESSURE, value=Decimal(8), seen=None)
    with pytest.raises(NotSettledError) as refused:
        actions.settle(by=ship_officer, now=NOW, accord=accord)
    assert refused.value.left[:3] == [
        "Highest manifold pressure: 8 bar gauge of the ship is not accepted.",
        "Highest rate: nothing is agreed.",
        "Start rate: nothing is agreed.",
    ]
    assert all(sentence.endswith(": nothing is agreed.") for sentence in refused.value.left[1:-2])
    assert [sentence.split(" has ")[0] for sentence in refused.value.left[-2:]] == ["The ship", "The terminal"]
    proposal.refresh_from_db()
    assert proposal.status == "open"


def test_an_open_counter_value_keeps_an_agreed_accord_from_being_settled(
    ship_officer: Person, terminal_officer: Person
) -> None:
    accord = open_accord(ship_officer, terminal_officer)
    agree(accord, ship_officer, terminal_officer)
    write_answers(accord, ship_officer, terminal_officer)
    actions.propose_value(by=ship_officer, now=NOW, accord=accord, key=HIGHEST, value=Decimal(2000), seen=None)
    with pytest.raises(NotSettledError, match="Highest rate: 2000 m³/h of the ship is not accepted"):
        actions.settle(by=terminal_officer, now=NOW, accord=accord)


def test_settling_freezes_the_text_to_sign(ship_officer: Person, terminal_officer: Person) -> None:
    accord = bring_to(State.SETTLED, ship_officer, terminal_officer)
    assert bytes(accord.payload or b"").startswith(b'{"accord":')
    row = TrailRow.objects.get(subject=accord.subject, act="accord settled")
    assert facts_of(row)["payload_sha256"] == accord.payload_sha256


def test_taking_back_voids_signatures_with_the_reason(ship_officer: Person, terminal_officer: Person) -> None:
    accord = bring_to(State.SIGNED_BY_SHIP, ship_officer, terminal_officer)
    digest = accord.payload_sha256
    actions.take_back(by=terminal_officer, now=NOW, accord=accord, reason="  The shore tank changed. ")
    accord.refresh_from_db()
    assert (accord.state, accord.payload, accord.payload_sha256) == (State.ON_TABLE, None, "")
    assert accord.state_reason == "The shore tank changed."
    signature = accord.signatures.get()
    assert (signature.void_by, signature.void_reason) == (terminal_officer, "The shore tank changed.")
    facts = facts_of(TrailRow.objects.get(subject=accord.subject, act="accord taken back"))
    assert facts == {
        "side": "terminal",
        "reason": "The shore tank changed.",
        "payload_sha256": digest,
        "signatures_voided": 1,
    }


def test_after_taking_back_both_sign_anew(ship_officer: Person, terminal_officer: Person) -> None:
    accord = bring_to(State.SIGNED_BY_SHIP, ship_officer, terminal_officer)
    actions.take_back(by=ship_officer, now=NOW, accord=accord, reason="A typing error.")
    actions.settle(by=ship_officer, now=NOW, accord=accord)
    sign(accord, terminal_officer)
    sign(accord, ship_officer)
    accord.refresh_from_db()
    assert accord.state == State.IN_FORCE
    assert accord.signatures.filter(void_at=None).count() == 2
    assert accord.signatures.exclude(void_at=None).count() == 1


@pytest.mark.parametrize("reason", ["", "   ", "x" * 501])
def test_a_reason_is_needed_and_short(reason: str, ship_officer: Person, terminal_officer: Person) -> None:
    accord = bring_to(State.SETTLED, ship_officer, terminal_officer)
    for act in (actions.take_back, actions.withdraw):
        with pytest.raises(InputError, match=r"[Rr]eason"):
            act(by=ship_officer, now=NOW, accord=accord, reason=reason)
    accord.refresh_from_db()
    assert accord.state == State.SETTLED


def test_a_withdrawn_plan_stays_and_says_so(ship_officer: Person, terminal_officer: Person) -> None:
    accord = bring_to(State.IN_FORCE, ship_officer, terminal_officer)
    actions.withdraw(by=terminal_officer, now=NOW, accord=accord, reason="The berth is damaged.")
    accord.refresh_from_db()
    assert (accord.state, accord.state_reason) == (State.WITHDRAWN, "The berth is damaged.")
    assert Plan.objects.filter(accord=accord).exists()


def test_only_one_of_two_moves_from_one_state_wins(ship_officer: Person, terminal_officer: Person) -> None:
    accord = bring_to(State.SETTLED, ship_officer, terminal_officer)
    seen_by_other = Accord.objects.get(pk=accord.pk)
    move(accord, Move.WITHDRAW, Side.SHIP, now=NOW, reason="She goes elsewhere.")
    with pytest.raises(MeanwhileError, match=r"this accord is now withdrawn\. Your “sign” was not done"):
        move(seen_by_other, Move.SIGN, Side.TERMINAL, now=NOW)


def test_an_amendment_supersedes_the_plan_when_both_signed(ship_officer: Person, terminal_officer: Person) -> None:
    accord = bring_to(State.IN_FORCE, ship_officer, terminal_officer)
    first = Plan.objects.get(accord=accord)
    amendment = amend_to_force(accord, ship_officer, terminal_officer)
    accord.refresh_from_db()
    first.refresh_from_db()
    second = Plan.objects.get(accord=amendment)
    assert (accord.state, first.superseded_by, second.number) == (State.SUPERSEDED, second, 2)
    assert bytes(first.pdf or b"")  # stays readable


def test_the_plan_holds_until_its_amendment_is_signed(ship_officer: Person, terminal_officer: Person) -> None:
    accord = bring_to(State.IN_FORCE, ship_officer, terminal_officer)
    amendment = actions.open_amendment(
        by=ship_officer,
        now=NOW,
        accord=accord,
        reason="Less pressure.",
        planned_start=accord.planned_start,
        newest_facts=False,
    )
    with pytest.raises(AccordError, match="There is an amendment of this plan already"):
        actions.open_amendment(
            by=terminal_officer,
            now=NOW,
            accord=accord,
            reason="Another.",
            planned_start=accord.planned_start,
            newest_facts=False,
        )
    actions.withdraw(by=ship_officer, now=NOW, accord=amendment, reason="Not needed.")
    accord.refresh_from_db()
    assert accord.state == State.IN_FORCE


def test_an_amendment_of_a_plan_that_was_withdrawn_meanwhile(ship_officer: Person, terminal_officer: Person) -> None:
    accord = bring_to(State.IN_FORCE, ship_officer, terminal_officer)
    amendment = actions.open_amendment(
        by=ship_officer,
        now=NOW,
        accord=accord,
        reason="Less pressure.",
        planned_start=accord.planned_start,
        newest_facts=False,
    )
    actions.withdraw(by=terminal_officer, now=NOW, accord=accord, reason="Stopped by weather.")
    write_answers(amendment, ship_officer, terminal_officer, only_owed=True)
    actions.settle(by=ship_officer, now=NOW, accord=amendment)
    sign(amendment, ship_officer)
    sign(amendment, terminal_officer)
    accord.refresh_from_db()
    amendment.refresh_from_db()
    assert (accord.state, amendment.state) == (State.WITHDRAWN, State.IN_FORCE)
