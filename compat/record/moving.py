"""The one place where the state of a record is written."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from compat.accord.checklist.item import Side
from compat.accord.moving import MeanwhileError, checked_reason
from compat.record.models import SIGNED_BYTES, TransferRecord
from compat.record.states import READING_STATES, Move, Rule, State, rule_for

NOBODY_SAID_GO: dict[str, Any] = dict.fromkeys(("go_ship_by", "go_ship_at", "go_terminal_by", "go_terminal_at"))


def locked(record: TransferRecord) -> TransferRecord:
    """Return the record as it stands now, held until the transaction ends, so that acts on it follow one another."""
    rows = TransferRecord.objects.select_for_update(of=("self",)).defer(*SIGNED_BYTES)
    return rows.select_related("accord__ship_party", "accord__terminal_party").get(pk=record.pk)


def move(record: TransferRecord, what: Move, side: Side, *, now: datetime, reason: str = "", **changes: Any) -> Rule:
    """Take the record along one rule of the table, if it still stands where ``record`` says.

    Every move takes back what either side said about going on. Raises MoveError where the table does not allow it,
    MeanwhileError where another person moved it first.
    """
    rule = rule_for(what, State(record.state), side)
    told = checked_reason(reason) if rule.reason_needed else ""
    fields = {"state": str(rule.target), "state_changed_at": now, "state_reason": told} | NOBODY_SAID_GO | changes
    if TransferRecord.objects.filter(pk=record.pk, state=str(rule.source)).update(**fields) != 1:
        stands = TransferRecord.objects.values_list("state", flat=True).get(pk=record.pk)
        raise MeanwhileError(f"Someone else acted first: the record is now at “{stands}”. Your “{what}” was not done.")
    for field, value in fields.items():
        setattr(record, field, value)
    return rule


def check_open(record: TransferRecord) -> None:
    """Raise MeanwhileError unless readings, checks and events are taken in the record's state."""
    if State(record.state) not in READING_STATES:
        raise MeanwhileError(f"The record stands at “{record.state}”; nothing is written into it there.")
