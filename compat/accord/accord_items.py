"""The checklist of one accord: the common items that apply, and those of the terminal frozen into it."""

from __future__ import annotations

from compat.accord.checklist import duties, items_before_signing, items_for
from compat.accord.checklist.item import Item
from compat.accord.checklist.own_items import items_of_documents
from compat.accord.models import Accord


def own_items_of(accord: Accord) -> tuple[Item, ...]:
    """Return the terminal's own items as they were when the accord was opened."""
    return items_of_documents(accord.own_items)


def items_of(accord: Accord) -> list[Item]:
    """Return every item of the accord, in order."""
    return items_for(accord.transfer_conditions(), own_items_of(accord))


def before_signing_of(accord: Accord) -> list[Item]:
    """Return the items that are answered before the plan is signed."""
    return items_before_signing(accord.transfer_conditions(), own_items_of(accord))


def duties_of(accord: Accord) -> list[Item]:
    """Return the items kept while oil flows and on completion."""
    return duties(accord.transfer_conditions(), own_items_of(accord))
