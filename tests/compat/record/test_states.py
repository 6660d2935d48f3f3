"""The table of moves of a record: what may follow what, for whom, and that nothing else may."""

from __future__ import annotations

from pathlib import Path

import pytest

from compat.accord.checklist.item import Side
from compat.record.states import (
    FROZEN_STATES,
    READING_STATES,
    RULES,
    RUNNING_STATES,
    Move,
    MoveError,
    State,
    diagram,
    moves_open_to,
    rule_for,
)

ALLOWED = {(rule.move, rule.source, side): rule.target for rule in RULES for side in rule.owners}


@pytest.mark.parametrize("side", list(Side))
@pytest.mark.parametrize("state", list(State))
@pytest.mark.parametrize("move", list(Move))
def test_the_table_allows_its_own_moves_and_refuses_every_other(move: Move, state: State, side: Side) -> None:
    target = ALLOWED.get((move, state, side))
    if target is None:
        with pytest.raises(MoveError):
            rule_for(move, state, side)
        assert move not in moves_open_to(side, state)
    else:
        assert rule_for(move, state, side).target is target


def test_from_every_state_but_the_last_one_can_go_on_and_every_state_is_reached() -> None:
    assert {state for state in State if not any(rule.source is state for rule in RULES)} == {State.CLOSED}
    assert {rule.target for rule in RULES} | {State.PROPOSED} == set(State)


def test_oil_flows_only_when_both_have_said_so() -> None:
    into = [rule for rule in RULES if rule.target is State.FLOWING]
    assert into
    assert all(rule.by_both and rule.move is Move.GO for rule in into)


def test_a_held_transfer_goes_on_by_go_or_ends() -> None:
    assert {rule.move for rule in RULES if rule.source is State.HELD} == {Move.GO, Move.COMPLETE}


def test_what_is_frozen_takes_no_readings() -> None:
    assert not FROZEN_STATES & READING_STATES
    assert RUNNING_STATES < READING_STATES


def test_the_picture_in_developers_md_is_the_table() -> None:
    text = (Path(__file__).resolve().parents[3] / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert f"```mermaid\n{diagram()}```" in text
