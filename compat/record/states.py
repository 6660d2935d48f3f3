"""The states of a transfer record and the one table of moves between them (pure: no Django)."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from compat.accord.checklist.item import Side
from shared.calc.errors import AccordError


class State(StrEnum):
    """Where a transfer stands in its record."""

    PROPOSED = "arrangement proposed"
    WAITING = "waiting to start"
    FLOWING = "oil flows"
    STOPPED = "stopped"
    HELD = "held"
    COMPLETED = "flow has ended"
    SETTLED = "ready to sign"
    SIGNED_BY_SHIP = "signed by the ship"
    SIGNED_BY_TERMINAL = "signed by the terminal"
    CLOSED = "closed"


class Move(StrEnum):
    """An act that takes a record from one state to another."""

    ACCEPT = "accept the arrangement"
    GO = "go"
    STOP = "stop"
    HOLD = "hold"
    COMPLETE = "end the flow"
    SETTLE = "settle"
    REOPEN = "open again"
    SIGN = "sign"


@dataclass(frozen=True)
class Rule:
    """One line of the table; ``by_both`` moves happen when the second side says so."""

    move: Move
    source: State
    target: State
    owners: frozenset[Side]
    reason_needed: bool = False
    by_both: bool = False


_BOTH = frozenset(Side)
_SHIP = frozenset({Side.SHIP})
_TERMINAL = frozenset({Side.TERMINAL})

RULES: tuple[Rule, ...] = (
    Rule(Move.ACCEPT, State.PROPOSED, State.WAITING, _BOTH),
    Rule(Move.GO, State.WAITING, State.FLOWING, _BOTH, by_both=True),
    Rule(Move.GO, State.STOPPED, State.FLOWING, _BOTH, by_both=True),
    Rule(Move.GO, State.HELD, State.FLOWING, _BOTH, by_both=True),
    Rule(Move.STOP, State.FLOWING, State.STOPPED, _BOTH, reason_needed=True),
    Rule(Move.HOLD, State.WAITING, State.HELD, _BOTH, reason_needed=True),
    Rule(Move.HOLD, State.FLOWING, State.HELD, _BOTH, reason_needed=True),
    Rule(Move.HOLD, State.STOPPED, State.HELD, _BOTH, reason_needed=True),
    Rule(Move.COMPLETE, State.FLOWING, State.COMPLETED, _BOTH),
    Rule(Move.COMPLETE, State.STOPPED, State.COMPLETED, _BOTH),
    Rule(Move.COMPLETE, State.HELD, State.COMPLETED, _BOTH, reason_needed=True),
    Rule(Move.SETTLE, State.COMPLETED, State.SETTLED, _BOTH),
    Rule(Move.REOPEN, State.SETTLED, State.COMPLETED, _BOTH, reason_needed=True),
    Rule(Move.REOPEN, State.SIGNED_BY_SHIP, State.COMPLETED, _BOTH, reason_needed=True),
    Rule(Move.REOPEN, State.SIGNED_BY_TERMINAL, State.COMPLETED, _BOTH, reason_needed=True),
    Rule(Move.SIGN, State.SETTLED, State.SIGNED_BY_SHIP, _SHIP),
    Rule(Move.SIGN, State.SETTLED, State.SIGNED_BY_TERMINAL, _TERMINAL),
    Rule(Move.SIGN, State.SIGNED_BY_SHIP, State.CLOSED, _TERMINAL),
    Rule(Move.SIGN, State.SIGNED_BY_TERMINAL, State.CLOSED, _SHIP),
)

FIRST_STATE = State.PROPOSED
READING_STATES = frozenset({State.WAITING, State.FLOWING, State.STOPPED, State.HELD, State.COMPLETED})
"""States in which readings, checks and events are taken."""
RUNNING_STATES = frozenset({State.FLOWING, State.STOPPED, State.HELD})
FROZEN_STATES = frozenset({State.SETTLED, State.SIGNED_BY_SHIP, State.SIGNED_BY_TERMINAL, State.CLOSED})


class MoveError(AccordError):
    """A move that the record's present state or the side of the person does not allow."""


def rule_for(move: Move, state: State, side: Side) -> Rule:
    """Return the rule under which ``side`` may make ``move`` from ``state``; raise MoveError with the reason."""
    from_here = [rule for rule in RULES if rule.move is move and rule.source is state]
    if not from_here:
        raise MoveError(f"The record stands at “{state}”; “{move}” is not possible from there.")
    for rule in from_here:
        if side in rule.owners:
            return rule
    raise MoveError(f"The {side} has signed already; the {side.other} signs next.")


def moves_open_to(side: Side, state: State) -> list[Move]:
    """Return the moves that ``side`` may make from ``state``, each once."""
    return list(dict.fromkeys(rule.move for rule in RULES if rule.source is state and side in rule.owners))


def diagram() -> str:
    """Return the table as a Mermaid state diagram, one line for each rule."""
    lines = ["stateDiagram-v2", f"    [*] --> {FIRST_STATE.name}: open the record (either side)"]
    lines += [f"    {state.name}: {state}" for state in State]
    lines += [f"    {rule.source.name} --> {rule.target.name}: {_said(rule)}" for rule in RULES]
    lines.append(f"    {State.CLOSED.name} --> [*]")
    return "\n".join(lines) + "\n"


def _said(rule: Rule) -> str:
    if rule.move is Move.ACCEPT:
        owners = "the other side"
    elif rule.by_both:
        owners = "when both have said so"
    else:
        owners = "either side" if rule.owners == _BOTH else ", ".join(sorted(rule.owners))
    return f"{rule.move} ({owners}{', with a reason' if rule.reason_needed else ''})"
