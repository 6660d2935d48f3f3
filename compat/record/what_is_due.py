"""What of the repeated items is due in a record, by the answers and readings that it holds."""

from __future__ import annotations

from datetime import datetime

from django.db.models import Max

from compat.accord.accord_items import items_of
from compat.accord.checklist.item import Side
from compat.accord.models import Accord, ProposalStatus
from compat.record.due import AGREED_INTERVALS, READING_ITEM, Due, due_list
from compat.record.models import TransferRecord
from compat.record.states import RUNNING_STATES, State


def due_now(record: TransferRecord, accord: Accord, now: datetime) -> list[Due]:
    """Return what is due, the most pressing first; nothing before flow starts and after it has ended."""
    return due_at(record, accord, now) if State(record.state) in RUNNING_STATES else []


def due_at(record: TransferRecord, accord: Accord, at: datetime) -> list[Due]:
    """Return what was due at a time while oil flowed, the most pressing first; nothing before flow started."""
    if record.started_at is None:
        return []
    minutes = _agreed_minutes(accord)
    latest = latest_times(record)
    return due_list(
        items_of(accord), record.arranged(), started=record.started_at, latest=latest, now=at, agreed_min=minutes
    )


def _agreed_minutes(accord: Accord) -> dict[str, float]:
    """Return the intervals that both sides agreed for single items: of each value, the one accepted last."""
    accepted = accord.proposals.filter(key__in=AGREED_INTERVALS.values(), status=ProposalStatus.ACCEPTED)
    agreed = {proposal.key: proposal.given for proposal in accepted.order_by("id")}
    return {item: float(agreed[key]) for item, key in AGREED_INTERVALS.items() if key in agreed}


def latest_times(record: TransferRecord) -> dict[tuple[str, Side], datetime]:
    """Return when each item was last answered by each side; the item of readings by the readings themselves."""
    checks = record.checks.order_by().values_list("item_key", "side").annotate(last=Max("at"))
    readings = record.readings.filter(corrected_by=None).order_by().values_list("side").annotate(last=Max("at"))
    found = {(key, Side(side)): last for key, side, last in checks}
    return found | {(READING_ITEM, Side(side)): last for side, last in readings}
