"""The states of an accord and the one table of moves between them (pure: no Django).

Nothing else decides what may follow what; the picture in DEVELOPERS.md is drawn from this table.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from compat.accord.checklist.item import Side
from shared.calc.errors import AccordError


class State(StrEnum):
    """Where an accord stands."""

    ON_TABLE = "on the table"
    SETTLED = "settled"
    SIGNED_BY_SHIP = "signed by the ship"
    SIGNED_BY_TERMINAL = "signed by the terminal"
    IN_FORCE = "in force"
    EXPIRED = "expired"
    SUPERSEDED = "superseded"
    WITHDRAWN = "withdrawn"


class Move(StrEnum):
    """An act that takes an accord from one state to another."""

    SETTLE = "settle"
    TAKE_BACK = "take back to the table"
    SIGN = "sign"
    WITHDRAW = "withdraw"
    EXPIRE = "expire"
    SUPERSEDE = "supersede"


@dataclass(frozen=True)
class Rule:
    """One line of the table: this move leads from source to target and belongs to these sides."""

    move: Move
    source: State
    target: State
    owners: frozenset[Side]
    reason_needed: bool = False


_BOTH = frozenset(Side)
_SHIP = frozenset({Side.SHIP})
_TERMINAL = frozenset({Side.TERMINAL})

RULES: tuple[Rule, ...] = (
    Rule(Move.SETTLE, State.ON_TABLE, State.SETTLED, _BOTH),
    Rule(Move.SIGN, State.SETTLED, State.SIGNED_BY_SHIP, _SHIP),
    Rule(Move.SIGN, State.SETTLED, State.SIGNED_BY_TERMINAL, _TERMINAL),
    Rule(Move.SIGN, State.SIGNED_BY_SHIP, State.IN_FORCE, _TERMINAL),
    Rule(Move.SIGN, State.SIGNED_BY_TERMINAL, State.IN_FORCE, _SHIP),
    Rule(Move.TAKE_BACK, State.SETTLED, State.ON_TABLE, _BOTH, reason_needed=True),
    Rule(Move.TAKE_BACK, State.SIGNED_BY_SHIP, State.ON_TABLE, _BOTH, reason_needed=True),
    Rule(Move.TAKE_BACK, State.SIGNED_BY_TERMINAL, State.ON_TABLE, _BOTH, reason_needed=True),
    Rule(Move.WITHDRAW, State.ON_TABLE, State.WITHDRAWN, _BOTH, reason_needed=True),
    Rule(Move.WITHDRAW, State.SETTLED, State.WITHDRAWN, _BOTH, reason_needed=True),
    Rule(Move.WITHDRAW, State.SIGNED_BY_SHIP, State.WITHDRAWN, _BOTH, reason_needed=True),
    Rule(Move.WITHDRAW, State.SIGNED_BY_TERMINAL, State.WITHDRAWN, _BOTH, reason_needed=True),
    Rule(Move.WITHDRAW, State.IN_FORCE, State.WITHDRAWN, _BOTH, reason_needed=True),
    Rule(Move.EXPIRE, State.IN_FORCE, State.EXPIRED, frozenset()),
    Rule(Move.SUPERSEDE, State.IN_FORCE, State.SUPERSEDED, frozenset()),
)
"""A rule without owners is no person's act: ``_FOLLOWS`` says from what it follows."""

_FOLLOWS = {
    Move.EXPIRE: "follows when the time until which the plan holds is past",
    Move.SUPERSEDE: "follows when an amendment is in force",
}

FIRST_STATE = State.ON_TABLE
FROZEN_STATES = frozenset({State.SETTLED, State.SIGNED_BY_SHIP, State.SIGNED_BY_TERMINAL})
PLAN_STATES = frozenset({State.IN_FORCE, State.EXPIRED, State.SUPERSEDED})
CLOSED_STATES = frozenset(state for state in State if not any(rule.source is state for rule in RULES))


def across(side: Side) -> Side:
    """Return the side across the table."""
    return Side.TERMINAL if side is Side.SHIP else Side.SHIP


class MoveError(AccordError):
    """A move that the accord's present state or the side of the person does not allow."""


def rule_for(move: Move, state: State, side: Side | None) -> Rule:
    """Return the rule under which ``side`` may make ``move`` from ``state``; raise MoveError with the reason.

    ``side`` is None for a move that no person makes.
    """
    from_here = [rule for rule in RULES if rule.move is move and rule.source is state]
    if not from_here:
        raise MoveError(f"This accord is {state}; it can't be moved by “{move}” from there.")
    for rule in from_here:
        if (side in rule.owners) if side is not None else not rule.owners:
            return rule
    if move is Move.SIGN and side is not None:
        raise MoveError(f"The {side} has signed already; the {across(side)} signs next.")
    raise MoveError(f"“{move}” follows by itself here and is no person's act.")


def moves_open_to(side: Side, state: State) -> list[Move]:
    """Return the moves that ``side`` may make from ``state``, in the table's order, each once."""
    return list(dict.fromkeys(rule.move for rule in RULES if rule.source is state and side in rule.owners))


def waits_for(state: State) -> frozenset[Side]:
    """Return the sides whose signature or work the accord waits for in ``state``."""
    if state is State.ON_TABLE:
        return _BOTH
    return frozenset(side for rule in RULES if rule.source is state and rule.move is Move.SIGN for side in rule.owners)


def diagram() -> str:
    """Return the table as a Mermaid state diagram, one line for each rule."""
    lines = ["stateDiagram-v2", f"    [*] --> {FIRST_STATE.name}: open (either side)"]
    lines += [f"    {state.name}: {state}" for state in State]
    lines += [f"    {rule.source.name} --> {rule.target.name}: {_said(rule)}" for rule in RULES]
    lines += [f"    {state.name} --> [*]" for state in State if state in CLOSED_STATES]
    return "\n".join(lines) + "\n"


def _said(rule: Rule) -> str:
    if not rule.owners:
        owners = _FOLLOWS[rule.move]
    elif rule.owners == _BOTH:
        owners = "either side"
    else:
        owners = ", ".join(sorted(rule.owners))
    return f"{rule.move} ({owners}{', with a reason' if rule.reason_needed else ''})"
