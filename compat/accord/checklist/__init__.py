"""The checklist of an oil transfer: versioned data, and the conditions under which each item applies.

Imports no Django. The wording, keys and order are ours, drafted from public rules. An item is named
by its key and its sentence; there are no numbers or letters to learn. Keys are kept for good: a plan
on file names them.
"""

from __future__ import annotations

from collections.abc import Sequence

from compat.accord.checklist import (
    after_mooring,
    before_arrival,
    completion,
    meeting_people,
    meeting_values,
    transfer,
    walk_round,
)
from compat.accord.checklist.conditions import TransferConditions
from compat.accord.checklist.coverage import CFR_156_120, CFR_156_150, MET_BY_THE_PLAN
from compat.accord.checklist.item import Item, Phase, Side
from shared.calc.errors import InputError

CHECKLIST_VERSION = "1.1"
"""Raised in its first part when an item is dropped or changes its meaning, in its second for anything else."""

INTERVALS_NOTE = (
    "Intervals are proposals from common practice, save where the source beside the item sets one;"
    " the terminal's own intervals come first."
)

ITEMS: tuple[Item, ...] = (
    before_arrival.ITEMS
    + after_mooring.ITEMS
    + meeting_values.ITEMS
    + meeting_people.ITEMS
    + walk_round.ITEMS
    + transfer.ITEMS
    + completion.ITEMS
)
_PHASES = list(Phase)
_BY_KEY = {item.key: item for item in ITEMS}


def item_named(key: str) -> Item:
    """Return the item with this key; raise InputError where there is none."""
    try:
        return _BY_KEY[key]
    except KeyError:
        raise InputError(f"There is no checklist item “{key}” in version {CHECKLIST_VERSION}.") from None


def items_for(conditions: TransferConditions, own: Sequence[Item] = ()) -> list[Item]:
    """Return every item that applies, in order, ``own`` ones of the terminal last in their phase.

    A condition that is not known keeps its items.
    """
    by_phase = sorted((*ITEMS, *own), key=lambda item: _PHASES.index(item.phase))
    return [item for item in by_phase if item.applies_when.holds(conditions) is not False]


def items_before_signing(conditions: TransferConditions, own: Sequence[Item] = ()) -> list[Item]:
    """Return the items that apply and are answered before the plan is signed."""
    return [item for item in items_for(conditions, own) if item.phase.before_signing]


def duties(conditions: TransferConditions, own: Sequence[Item] = ()) -> list[Item]:
    """Return the items that apply while oil flows and on completion: printed in the plan, recorded later."""
    return [item for item in items_for(conditions, own) if not item.phase.before_signing]


def required_before_signing(conditions: TransferConditions) -> list[tuple[Item, Side]]:
    """Return each answer without which the plan may not be signed: one for each item and side that answers it."""
    musts = [item for item in items_before_signing(conditions) if item.severity.must]
    return [(item, side) for item in musts for side in item.answered_by]


def items_covering_156_120(paragraph: str) -> list[Item]:
    """Return the items that meet one paragraph of 33 CFR 156.120, such as “(w)(3)”."""
    return [item for item in ITEMS if paragraph in item.cfr_156_120]


def items_covering_156_150(paragraph: str) -> list[Item]:
    """Return the items that meet one paragraph of 33 CFR 156.150."""
    return [item for item in ITEMS if paragraph in item.cfr_156_150]


def uncovered_paragraphs() -> list[str]:
    """Return the paragraphs of 33 CFR 156.120 and 156.150 that neither an item nor the plan itself meets."""
    of_120 = [f"156.120{paragraph}" for paragraph in CFR_156_120 if not items_covering_156_120(paragraph)]
    of_150 = [
        f"156.150{paragraph}"
        for paragraph in CFR_156_150
        if not items_covering_156_150(paragraph) and paragraph not in MET_BY_THE_PLAN
    ]
    return of_120 + of_150
