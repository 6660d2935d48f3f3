"""Reads the values that come with a checklist answer into the text that is kept (pure: no Django)."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date, datetime
from decimal import Decimal

from compat.accord.checklist.item import AskedValue, Item, ValueKind
from shared.calc.errors import InputError
from shared.quantities import plain_text, read_number

LONGEST_TEXT = 200


def checked_values(item: Item, given: Mapping[str, str], *, all_required: bool) -> dict[str, str]:
    """Return what was given for an item's values, each in the one form in which it is kept.

    Numbers are kept as decimal text in the unit of the value, days and moments as ISO 8601, a moment with its
    zone. Raises InputError naming the value, what was given and what is allowed; with ``all_required`` also for a
    required value that is missing.
    """
    asked = {value.key: value for value in item.asked}
    for key in given:
        if key not in asked:
            raise InputError(f"“{key}” is not asked for with this item; asked for: {', '.join(asked) or 'nothing'}.")
    kept: dict[str, str] = {}
    for key, value in asked.items():
        text = given.get(key, "").strip()
        if text:
            kept[key] = _READERS[value.kind](value, text)
        elif value.required and all_required:
            raise InputError(f"{value.label_with_unit()} is missing; it belongs to this answer.")
    return kept


def _number(value: AskedValue, text: str) -> str:
    allowed = _allowed(value)
    try:
        number = read_number(text)
    except InputError as error:
        raise InputError(f"{value.label_with_unit()} “{text[:40]}” {error}{allowed}.") from None
    below = value.least is not None and number < value.least
    if below or (value.greatest is not None and number > value.greatest):
        raise InputError(f"{value.label_with_unit()} is {plain_text(number)}{allowed}.")
    return plain_text(number)


def _allowed(value: AskedValue) -> str:
    if value.least is None or value.greatest is None:
        return ""
    return (
        f"; allowed: {plain_text(Decimal(value.least))} to {plain_text(Decimal(value.greatest))} {value.unit}".rstrip()
    )


def _text(value: AskedValue, text: str) -> str:
    if len(text) > LONGEST_TEXT:
        raise InputError(f"{value.label} has {len(text)} characters; allowed: up to {LONGEST_TEXT}. Shorten it.")
    return text


def _day(value: AskedValue, text: str) -> str:
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError:
        raise InputError(
            f"{value.label} is “{text[:40]}”; write a day as year-month-day, such as 2026-03-21."
        ) from None


def _moment(value: AskedValue, text: str) -> str:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None:
        raise InputError(f"{value.label} is “{text[:40]}”; write date, time and zone, such as 2026-03-21T14:30+00:00.")
    return moment.isoformat(timespec="minutes")


def _yes_or_no(value: AskedValue, text: str) -> str:
    if text not in {"yes", "no"}:
        raise InputError(f"{value.label} is “{text[:40]}”; choose yes or no.")
    return text


def _agreed(value: AskedValue, _: str) -> str:
    raise InputError(f"{value.label} is settled among the agreed values, not with an answer.")


_READERS: dict[ValueKind, Callable[[AskedValue, str], str]] = {
    "number": _number,
    "text": _text,
    "date": _day,
    "moment": _moment,
    "yes or no": _yes_or_no,
    "agreed": _agreed,
}
