"""The one place where the state of an accord is written."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from compat.accord.checklist.item import Side
from compat.accord.models import Accord
from compat.accord.states import Move, Rule, State, rule_for
from shared.calc.errors import AccordError, InputError

LONGEST_REASON = 500


class MeanwhileError(AccordError):
    """Someone else acted first; the sentence says what stands now, and nothing was changed."""


def locked(accord: Accord) -> Accord:
    """Return the accord as it stands now, held until the transaction ends, so that acts on it follow one another."""
    return (
        Accord.objects.select_for_update(of=("self",)).select_related("ship_party", "terminal_party").get(pk=accord.pk)
    )


def move(accord: Accord, what: Move, side: Side | None, *, now: datetime, reason: str = "", **frozen: Any) -> Rule:
    """Take the accord along one rule of the table, if it still stands where ``accord`` says.

    ``frozen`` are the fields that change with the state. Raises MoveError where the table does not allow it,
    MeanwhileError where another person moved it first.
    """
    rule = rule_for(what, State(accord.state), side)
    told = checked_reason(reason) if rule.reason_needed else ""
    changes = {"state": str(rule.target), "state_changed_at": now, "state_reason": told} | frozen
    if Accord.objects.filter(pk=accord.pk, state=str(rule.source)).update(**changes) != 1:
        stands = Accord.objects.values_list("state", flat=True).get(pk=accord.pk)
        raise MeanwhileError(f"Someone else acted first: this accord is now {stands}. Your “{what}” was not done.")
    for field, value in changes.items():
        setattr(accord, field, value)
    return rule


def checked_reason(reason: str) -> str:
    """Return a reason as it is kept; raise InputError where it is missing or too long."""
    told = reason.strip()
    if not told:
        raise InputError("Give a reason; the other side and an auditor will read it.")
    if len(told) > LONGEST_REASON:
        raise InputError(f"The reason has {len(told)} characters; allowed: up to {LONGEST_REASON}. Shorten it.")
    return told


def check_on_table(accord: Accord) -> None:
    """Raise MeanwhileError unless values and answers may still change."""
    if accord.state != State.ON_TABLE:
        raise MeanwhileError(
            f"This accord is {accord.state}; values and answers change only while it is on the table."
            " Yours was not saved."
        )
