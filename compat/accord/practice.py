"""What a terminal prepares: usual values to propose, and checklist items of its own. Acts, and what is read of them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import IntegrityError, transaction

from compat.accord.bargaining import propose_value, standing
from compat.accord.checklist.item import Side
from compat.accord.checklist.own_items import OwnItem, checked_item, items_of_documents
from compat.accord.models import Accord, TerminalPractice, ValueProposal
from compat.accord.moving import MeanwhileError
from compat.accord.permissions import check_acting_side
from compat.accord.value_kinds import Given
from compat.accord.values import DEFINITIONS, definition_of, values_for
from shared.calc.errors import InputError
from shared.models import Person
from shared.permissions import NotAllowedError, check_acts_for
from shared.quantities import plain_text
from shared.trail import Fact, record
from terminals.models import Terminal

Change = Callable[[dict[str, str], list[dict[str, Any]]], dict[str, Fact]]


def newest_practice(terminal: Terminal) -> TerminalPractice | None:
    """Return what the terminal prepared last, or None."""
    return terminal.practices.select_related("made_by").first()


def usual_values(practice: TerminalPractice | None) -> dict[str, Given]:
    """Return the usual values of a terminal by key, leaving out any that are no longer asked for."""
    kept = practice.values if practice else {}
    return {key: _given(key, text) for key, text in kept.items() if key in DEFINITIONS}


def own_items(practice: TerminalPractice | None) -> list[OwnItem]:
    """Return a terminal's own checklist items as they are stated."""
    return [checked_item(document) for document in (practice.items if practice else [])]


@transaction.atomic
def keep_usual_values(
    *, by: Person, now: datetime, terminal: Terminal, started_from: int, values: Mapping[str, Given]
) -> TerminalPractice:
    """Keep the values that the terminal usually proposes; nothing goes on any table by itself.

    ``started_from`` is the number of the version that the person had before them, 0 for none. Raises MeanwhileError
    if it is no longer the newest, InputError for a value outside its range.
    """
    kept = {key: _text(definition_of(key).check(value)) for key, value in values.items()}

    def change(stated: dict[str, str], _: list[dict[str, Any]]) -> dict[str, Fact]:
        if stated == kept:
            raise InputError("Nothing differs from what is kept already, so nothing was saved.")
        stated.clear()
        stated.update(kept)
        return {"values": {key: definition_of(key).shown(values[key]) for key in kept}}

    return _next(by=by, now=now, terminal=terminal, started_from=started_from, act="usual values kept", change=change)


@transaction.atomic
def keep_own_item(
    *, by: Person, now: datetime, terminal: Terminal, started_from: int, item: OwnItem
) -> TerminalPractice:
    """Add an item to the checklists of the terminal's later accords, or state the one with its key anew."""

    def change(_: dict[str, str], items: list[dict[str, Any]]) -> dict[str, Fact]:
        document = item.model_dump(mode="json")
        if document in items:
            raise InputError("Nothing differs from what is kept already, so nothing was saved.")
        places = [place for place, other in enumerate(items) if other["key"] == item.key]
        for place in places:
            items[place] = document
        if not places:
            items.append(document)
        return {"item": item.key, "statement": item.statement}

    return _next(by=by, now=now, terminal=terminal, started_from=started_from, act="own item kept", change=change)


@transaction.atomic
def drop_own_item(*, by: Person, now: datetime, terminal: Terminal, started_from: int, key: str) -> TerminalPractice:
    """Leave an item of one's own out of later accords; those that are open keep it."""

    def change(_: dict[str, str], items: list[dict[str, Any]]) -> dict[str, Fact]:
        left = [item for item in items if item["key"] != key]
        if len(left) == len(items):
            raise InputError(f"There is no item “{key}” of your own any more; nothing was changed.")
        items[:] = left
        return {"item": key}

    return _next(by=by, now=now, terminal=terminal, started_from=started_from, act="own item dropped", change=change)


@transaction.atomic
def propose_usual_values(*, by: Person, now: datetime, accord: Accord, keys: Sequence[str]) -> list[ValueProposal]:
    """Put the terminal's usual values of these keys on the table, where nothing is agreed or lies there yet.

    They are proposals like any other: the ship accepts or answers each one.
    """
    if check_acting_side(by, accord) is not Side.TERMINAL:
        raise NotAllowedError("Only the terminal's own people put its usual values on the table.")
    ready = usual_values_to_propose(accord)
    wanted = [key for key in dict.fromkeys(keys) if key in ready]
    if not wanted:
        raise InputError("None of these usual values is left to put on the table; tick at least one.")
    return [
        propose_value(by=by, now=now, accord=accord, key=key, value=ready[key], typed="as usual", seen=None)
        for key in wanted
    ]


def usual_values_to_propose(accord: Accord) -> dict[str, Given]:
    """Return the terminal's usual values that apply and on which nothing is agreed or open yet."""
    usual = usual_values(newest_practice(accord.berth_revision.berth.terminal))
    stand = standing(accord)
    asked = [definition.key for definition in values_for(accord.transfer_conditions())]
    return {key: usual[key] for key in asked if key in usual and key not in stand}


def _next(
    *, by: Person, now: datetime, terminal: Terminal, started_from: int, act: str, change: Change
) -> TerminalPractice:
    check_acts_for(by, terminal.organisation)
    newest = newest_practice(terminal)
    number = newest.number if newest else 0
    if number != started_from:
        raise MeanwhileError(_changed_meanwhile(terminal))
    values, items = dict(newest.values if newest else {}), list(newest.items if newest else [])
    facts = change(values, items)
    items_of_documents(items)
    made = TerminalPractice(terminal=terminal, number=number + 1, values=values, items=items, made_by=by, made_at=now)
    try:
        with transaction.atomic():
            made.save(force_insert=True)
    except IntegrityError as error:
        raise MeanwhileError(_changed_meanwhile(terminal)) from error
    about: dict[str, Fact] = {"name": terminal.name, "practice": made.number}
    record(act=act, by=by, now=now, subject=f"terminal:{terminal.public_id}", facts=about | facts)
    return made


def _changed_meanwhile(terminal: Terminal) -> str:
    return (
        f"Someone else changed what {terminal} prepares since you opened this page. Yours was not saved;"
        " look at it again, then send yours."
    )


def _text(value: Given) -> str:
    return plain_text(value) if isinstance(value, Decimal) else value


def _given(key: str, text: str) -> Given:
    return Decimal(text) if definition_of(key).numeric else text
