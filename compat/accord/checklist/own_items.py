"""Checklist items of a terminal's own, stated as documents (pure: no Django)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any, Literal

from pydantic import Field, ValidationError

from compat.accord.checklist.conditions import ALWAYS, CONDITION_LABELS, Condition, Stated, TransferConditions
from compat.accord.checklist.item import (
    BOTH,
    SHIP,
    TERMINAL,
    AskedValue,
    Item,
    Phase,
    Repeat,
    Severity,
    Source,
)
from shared.calc.errors import InputError
from shared.facts import Facts, sentences

OWN = "own."
"""How keys of a terminal's own items begin, so that none is ever taken for one of the common checklist."""
MOST_OWN_ITEMS = 40
CONDITIONS_ASKED = tuple(key for key in CONDITION_LABELS if key not in {"operation", "connection"})
_SIDES = {"ship": SHIP, "terminal": TERMINAL, "both sides": BOTH}


class OwnItem(Facts):
    """One item that a terminal adds to the checklist of every accord at its berths."""

    key: Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=40)]
    phase: Phase
    statement: Annotated[str, Field(min_length=10, max_length=400)]
    answered_by: Literal["ship", "terminal", "both sides"]
    required: Annotated[bool, Field(strict=True)] = True
    when: str = ""
    source: Annotated[str, Field(min_length=3, max_length=120)]
    asks: Annotated[str, Field(max_length=60)] = ""
    asks_kind: Literal["number", "text", "date", "moment", "yes or no"] = "text"
    asks_unit: Annotated[str, Field(max_length=12)] = ""
    every_min: Annotated[int, Field(ge=5, le=1440)] | None = None
    each_watch: Annotated[bool, Field(strict=True)] = False

    def as_item(self) -> Item:
        """Return the item as the checklist works with it."""
        repeats = self.every_min is not None or self.each_watch
        asked = AskedValue("value", self.asks, self.asks_kind, self.asks_unit, required=self.required)
        return Item(
            key=f"{OWN}{self.key}",
            phase=self.phase,
            statement=self.statement,
            answered_by=_SIDES[self.answered_by],
            severity=Severity.OWN if self.required else Severity.ADVICE,
            values=(asked,) if self.asks else (),
            repeat=Repeat(every_min=self.every_min, each_watch=self.each_watch) if repeats else None,
            applies_when=_condition(self.when),
            sources=(Source(f"the terminal's own rule: {self.source}"),),
        )


def _condition(key: str) -> Condition:
    if not key:
        return ALWAYS

    def look(conditions: TransferConditions) -> bool | None:
        found: bool | None = getattr(conditions, key)
        return found

    return Stated(f"stated: {CONDITION_LABELS[key][:1].lower()}{CONDITION_LABELS[key][1:]}", look)


def checked_item(document: Any) -> OwnItem:
    """Check one item; raise InputError naming field and what is allowed."""
    try:
        item = OwnItem.model_validate(document)
    except ValidationError as error:
        raise InputError(" ".join(sentence for _, sentence in sentences(error))) from None
    if item.when and item.when not in CONDITIONS_ASKED:
        raise InputError(f"The condition is “{item.when[:40]}”; choose one of {', '.join(CONDITIONS_ASKED)}, or none.")
    return item


def items_of_documents(documents: Sequence[Any]) -> tuple[Item, ...]:
    """Return a terminal's items; raise InputError for a key that comes twice."""
    own = [checked_item(document) for document in documents]
    keys = [item.key for item in own]
    twice = next((key for key in keys if keys.count(key) > 1), None)
    if twice is not None:
        raise InputError(f"The key “{twice}” stands for two items; give each a key of its own.")
    if len(own) > MOST_OWN_ITEMS:
        raise InputError(f"There are {len(own)} items of your own; allowed: up to {MOST_OWN_ITEMS}.")
    return tuple(item.as_item() for item in own)
