"""The states of a screening and the one table of moves between them (pure: no Django)."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType

from shared.calc.errors import AccordError


class State(StrEnum):
    """Where a screening stands."""

    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    CANCELLED = "cancelled"
    FAILED = "failed"


class Move(StrEnum):
    """What takes a screening from one state to another; only cancelling and going on are acts of a person."""

    START = "start"
    FINISH = "finish"
    CANCEL = "cancel"
    FAIL = "fail"
    GO_ON = "go on"


RULES: Mapping[Move, tuple[frozenset[State], State]] = MappingProxyType(
    {
        Move.START: (frozenset({State.WAITING, State.RUNNING}), State.RUNNING),
        Move.FINISH: (frozenset({State.RUNNING}), State.DONE),
        Move.CANCEL: (frozenset({State.WAITING, State.RUNNING}), State.CANCELLED),
        Move.FAIL: (frozenset({State.WAITING, State.RUNNING}), State.FAILED),
        Move.GO_ON: (frozenset({State.CANCELLED, State.FAILED, State.RUNNING}), State.WAITING),
    }
)
OPEN_STATES = RULES[Move.CANCEL][0]


class MoveError(AccordError):
    """A move that the screening's present state does not allow."""


def target_of(move: Move, state: State) -> State:
    """Return where a move leads from a state; raise MoveError with the reason."""
    sources, target = RULES[move]
    if state not in sources:
        raise MoveError(f"This screening is {state}; it can't be moved by “{move}” from there.")
    return target
