"""The table of moves: every state, every move and every side, allowed or refused."""

from __future__ import annotations

import io
from itertools import product
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import call_command

from compat.accord.checklist.item import Side
from compat.accord.states import (
    CLOSED_STATES,
    FIRST_STATE,
    RULES,
    Move,
    MoveError,
    State,
    across,
    diagram,
    moves_open_to,
    rule_for,
    waits_for,
)

SHIP, TERMINAL = Side.SHIP, Side.TERMINAL

# What each side may do from each state, written down by hand: the table must agree with it, line by line.
ALLOWED = {
    (State.ON_TABLE, Move.SETTLE, SHIP): State.SETTLED,
    (State.ON_TABLE, Move.SETTLE, TERMINAL): State.SETTLED,
    (State.ON_TABLE, Move.WITHDRAW, SHIP): State.WITHDRAWN,
    (State.ON_TABLE, Move.WITHDRAW, TERMINAL): State.WITHDRAWN,
    (State.SETTLED, Move.SIGN, SHIP): State.SIGNED_BY_SHIP,
    (State.SETTLED, Move.SIGN, TERMINAL): State.SIGNED_BY_TERMINAL,
    (State.SETTLED, Move.TAKE_BACK, SHIP): State.ON_TABLE,
    (State.SETTLED, Move.TAKE_BACK, TERMINAL): State.ON_TABLE,
    (State.SETTLED, Move.WITHDRAW, SHIP): State.WITHDRAWN,
    (State.SETTLED, Move.WITHDRAW, TERMINAL): State.WITHDRAWN,
    (State.SIGNED_BY_SHIP, Move.SIGN, TERMINAL): State.IN_FORCE,
    (State.SIGNED_BY_SHIP, Move.TAKE_BACK, SHIP): State.ON_TABLE,
    (State.SIGNED_BY_SHIP, Move.TAKE_BACK, TERMINAL): State.ON_TABLE,
    (State.SIGNED_BY_SHIP, Move.WITHDRAW, SHIP): State.WITHDRAWN,
    (State.SIGNED_BY_SHIP, Move.WITHDRAW, TERMINAL): State.WITHDRAWN,
    (State.SIGNED_BY_TERMINAL, Move.SIGN, SHIP): State.IN_FORCE,
    (State.SIGNED_BY_TERMINAL, Move.TAKE_BACK, SHIP): State.ON_TABLE,
    (State.SIGNED_BY_TERMINAL, Move.TAKE_BACK, TERMINAL): State.ON_TABLE,
    (State.SIGNED_BY_TERMINAL, Move.WITHDRAW, SHIP): State.WITHDRAWN,
    (State.SIGNED_BY_TERMINAL, Move.WITHDRAW, TERMINAL): State.WITHDRAWN,
    (State.IN_FORCE, Move.WITHDRAW, SHIP): State.WITHDRAWN,
    (State.IN_FORCE, Move.WITHDRAW, TERMINAL): State.WITHDRAWN,
    (State.IN_FORCE, Move.EXPIRE, None): State.EXPIRED,
    (State.IN_FORCE, Move.SUPERSEDE, None): State.SUPERSEDED,
}


@pytest.mark.parametrize(("state", "move", "side"), list(product(State, Move, [SHIP, TERMINAL, None])))
def test_the_table_allows_exactly_what_is_written_here(state: State, move: Move, side: Side | None) -> None:
    target = ALLOWED.get((state, move, side))
    if target is None:
        with pytest.raises(MoveError):
            rule_for(move, state, side)
    else:
        assert rule_for(move, state, side).target is target


def test_no_two_rules_give_one_side_two_ways() -> None:
    ways = [(rule.move, rule.source, side) for rule in RULES for side in rule.owners or (None,)]
    assert len(ways) == len(set(ways))


def test_every_state_is_reached_and_only_the_last_ones_are_never_left() -> None:
    assert {rule.target for rule in RULES} | {FIRST_STATE} == set(State)
    assert {State.EXPIRED, State.SUPERSEDED, State.WITHDRAWN} == CLOSED_STATES


def test_a_refused_signature_says_who_signs_next() -> None:
    with pytest.raises(MoveError, match="The ship has signed already; the terminal signs next"):
        rule_for(Move.SIGN, State.SIGNED_BY_SHIP, SHIP)


def test_a_refused_move_names_the_state() -> None:
    with pytest.raises(MoveError, match="This accord is in force"):
        rule_for(Move.SETTLE, State.IN_FORCE, SHIP)


def test_taking_back_and_withdrawing_need_a_reason_and_nothing_else_does() -> None:
    assert {rule.move for rule in RULES if rule.reason_needed} == {Move.TAKE_BACK, Move.WITHDRAW}
    assert all(rule.reason_needed for rule in RULES if rule.move in {Move.TAKE_BACK, Move.WITHDRAW})


def test_moves_open_to_a_side() -> None:
    assert moves_open_to(SHIP, State.SIGNED_BY_SHIP) == [Move.TAKE_BACK, Move.WITHDRAW]
    assert moves_open_to(TERMINAL, State.SIGNED_BY_SHIP) == [Move.SIGN, Move.TAKE_BACK, Move.WITHDRAW]
    assert moves_open_to(SHIP, State.WITHDRAWN) == []


@pytest.mark.parametrize(
    ("state", "sides"),
    [
        (State.ON_TABLE, {SHIP, TERMINAL}),
        (State.SETTLED, {SHIP, TERMINAL}),
        (State.SIGNED_BY_SHIP, {TERMINAL}),
        (State.SIGNED_BY_TERMINAL, {SHIP}),
        (State.IN_FORCE, set()),
        (State.WITHDRAWN, set()),
    ],
)
def test_whose_turn_it_is(state: State, sides: set[Side]) -> None:
    assert waits_for(state) == sides


def test_the_other_side() -> None:
    assert across(SHIP) is TERMINAL
    assert across(TERMINAL) is SHIP


def test_the_diagram_has_one_line_for_each_rule() -> None:
    drawn = diagram()
    for rule in RULES:
        assert f"{rule.source.name} --> {rule.target.name}: {rule.move}" in drawn
    assert drawn.count("-->") == len(RULES) + 1 + len(CLOSED_STATES)


def test_the_picture_for_developers_is_drawn_from_this_table() -> None:
    printed = io.StringIO()
    call_command("draw_states", stdout=printed)
    assert printed.getvalue() == diagram()
    developers = Path(settings.BASE_DIR, "DEVELOPERS.md").read_text(encoding="utf-8")
    assert f"```mermaid\n{diagram()}```" in developers
