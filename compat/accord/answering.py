"""The act of answering one checklist item for one side."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from django.db import transaction

from compat.accord.accord_items import items_of
from compat.accord.answer_values import checked_values
from compat.accord.checklist.item import Item, Side
from compat.accord.models import Accord, AnswerChoice, ChecklistAnswer
from compat.accord.moving import MeanwhileError, check_on_table, locked
from compat.accord.permissions import check_acting_side
from shared.calc.errors import InputError
from shared.models import Person
from shared.permissions import NotAllowedError
from shared.trail import Fact, record

LONGEST_REMARK = 500


@transaction.atomic
def answer_item(
    *,
    by: Person,
    now: datetime,
    accord: Accord,
    item_key: str,
    answer: AnswerChoice,
    values: Mapping[str, str] | None = None,
    remark: str = "",
    seen: int | None,
) -> ChecklistAnswer:
    """Answer one item for the person's own side; a later answer stands beside the earlier ones and counts.

    ``values`` are texts by the keys that the item asks for; ``seen`` is the answer of this side that the person had
    before them, or None. “No” and “does not apply” need a remark with the reason.
    """
    side = check_acting_side(by, accord)
    accord = locked(accord)
    check_on_table(accord)
    item = _item(accord, item_key)
    _check_answers(item, side)
    _check_seen(accord, item, side, seen)
    kept = checked_values(item, values or {}, all_required=answer == AnswerChoice.YES)
    told = _checked_remark(answer, remark)
    given: ChecklistAnswer = accord.answers.create(
        item_key=item.key, side=side, answer=answer, values=kept, remark=told, by=by, at=now
    )
    facts: dict[str, Fact] = {
        "item": item.key,
        "side": str(side),
        "answer": str(answer),
        "values": kept,
        "remark": told,
    }
    record(act="checklist answered", by=by, now=now, subject=accord.subject, facts=facts)
    return given


def latest_answers(accord: Accord) -> dict[tuple[str, Side], ChecklistAnswer]:
    """Return the answer that counts for each item and side."""
    given = accord.answers.select_related("by").order_by("id")
    return {(answer.item_key, Side(answer.side)): answer for answer in given}


def _item(accord: Accord, key: str) -> Item:
    for item in items_of(accord):
        if item.key == key:
            return item
    raise InputError(f"The item “{key}” is not on this accord's checklist.")


def _check_answers(item: Item, side: Side) -> None:
    if not item.phase.before_signing:
        raise InputError(f"“{item.statement}” is a duty under the plan; it is not answered before signing.")
    if side not in item.answered_by:
        raise NotAllowedError(f"This item is answered by the {item.answered_by_words()}, not by the {side}.")


def _check_seen(accord: Accord, item: Item, side: Side, seen: int | None) -> None:
    latest = accord.answers.filter(item_key=item.key, side=side).select_related("by").order_by("id").last()
    if (latest.pk if latest else None) == seen:
        return
    stands = f"{latest.by} answered “{latest.get_answer_display()}”" if latest else "the answer was taken off"
    raise MeanwhileError(
        f"Meanwhile {stands} for the {side}. Yours was not saved; look at it, then send yours again if it differs."
    )


def _checked_remark(answer: AnswerChoice, remark: str) -> str:
    told = remark.strip()
    if answer != AnswerChoice.YES and not told:
        raise InputError(f"“{answer.label}” needs a remark: say why, and what is done instead.")
    if len(told) > LONGEST_REMARK:
        raise InputError(f"The remark has {len(told)} characters; allowed: up to {LONGEST_REMARK}. Shorten it.")
    return told
