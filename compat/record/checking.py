"""The act of answering a repeated or closing item during a transfer."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from uuid import UUID

from django.db import transaction

from compat.accord.accord_items import items_of
from compat.accord.answer_values import checked_values
from compat.accord.checklist.item import Item, Phase, Side
from compat.accord.models import Accord, AnswerChoice
from compat.accord.permissions import check_acting_side
from compat.record.chain import current_accord
from compat.record.due import READING_ITEM
from compat.record.flowing import hold
from compat.record.models import Check, TransferRecord
from compat.record.moving import check_open, locked
from compat.record.states import Move, State, moves_open_to
from compat.record.what_is_due import due_now
from shared import trail
from shared.calc.errors import InputError
from shared.models import Person
from shared.permissions import NotAllowedError

LONGEST_REMARK = 500


@transaction.atomic
def give_check(
    *,
    by: Person,
    now: datetime,
    record: TransferRecord,
    item_key: str,
    answer: AnswerChoice,
    values: Mapping[str, str] | None = None,
    remark: str = "",
    draft: UUID | None = None,
) -> Check:
    """Answer one item for one's own side; “no” to a required item holds the transfer until both say go again.

    “No” and “does not apply” need a remark. The same ``draft`` sent twice gives the answer kept the first time.
    """
    side = check_acting_side(by, record.accord)
    record = locked(record)
    kept = Check.objects.filter(draft=draft, record=record, by=by).first() if draft else None
    if kept is not None:
        return kept
    check_open(record)
    accord = current_accord(record)
    item = item_of(accord, item_key)
    if side not in item.answered_by:
        raise NotAllowedError(f"This item is answered by the {item.answered_by_words()}, not by the {side}.")
    checked = checked_values(item, values or {}, all_required=answer == AnswerChoice.YES)
    told = remark.strip()
    if answer != AnswerChoice.YES and not told:
        raise InputError(f"“{answer.label}” needs a remark: say why, and what is done instead.")
    if len(told) > LONGEST_REMARK:
        raise InputError(f"The remark has {len(told)} characters; allowed: up to {LONGEST_REMARK}. Shorten it.")
    given = Check.objects.create(
        record=record,
        item_key=item.key,
        side=side,
        answer=answer,
        values=checked,
        remark=told,
        by=by,
        at=now,
        late_min=_late(record, accord, item, side, now),
        draft=draft,
    )
    facts: dict[str, trail.Fact] = {"item": item.key, "side": str(side), "answer": str(answer), "values": checked}
    facts |= {"remark": told, "late_min": given.late_min}
    trail.record(act="check answered", by=by, now=now, subject=record.accord.subject, facts=facts)
    if answer == AnswerChoice.NO and item.severity.must and Move.HOLD in moves_open_to(side, State(record.state)):
        hold(record, side, by=by, now=now, reason=f"{item.statement} No: {told}"[:500])
    return given


def item_of(accord: Accord, key: str) -> Item:
    """Return an item that is answered in a record; raise InputError where it is not."""
    for item in items_of(accord):
        if item.key == key and in_record(item):
            return item
    raise InputError(f"The item “{key}” is not answered in this record.")


def in_record(item: Item) -> bool:
    """Tell whether an item is answered while oil flows or afterwards; readings answer their own item themselves."""
    repeats = item.repeat is not None and bool(item.repeat.every_min or item.repeat.each_watch)
    return item.key != READING_ITEM and (repeats or not item.phase.before_signing)


def closing_items(accord: Accord) -> list[Item]:
    """Return the items that are answered when the transfer is over."""
    return [item for item in items_of(accord) if item.phase is Phase.COMPLETION]


def _late(record: TransferRecord, accord: Accord, item: Item, side: Side, now: datetime) -> int:
    for one in due_now(record, accord, now):
        if one.item.key == item.key and one.side is side and one.left < timedelta(0):
            return one.minutes
    return 0
