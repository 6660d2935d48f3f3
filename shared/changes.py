"""What differs between two versions of one facts document, in words (pure: no Django)."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from shared.facts import Facts
from shared.facts_reading import FactField, fields_of
from shared.quantities import NOT_KNOWN, exact, plain_text

ShowQuantity = Callable[[float, str], str]
_IDENTITIES = ("key", "speed_rpm", "flow_m3_per_h", "name")


@dataclass(frozen=True)
class Change:
    """One thing that differs: where it stands, what it was and what it is now."""

    where: str
    before: str
    after: str


def changes(before: Facts, after: Facts, show: ShowQuantity) -> list[Change]:
    """Return every difference between two documents of one class; ``show`` writes a number with its unit."""
    return _in_document((), before, after, show)


def shown_value(read: FactField, value: Any, show: ShowQuantity) -> str:
    """Write one value of a document; a missing one is *not known*."""
    if value is None or value == "":
        return NOT_KNOWN
    if read.kind == "quantity":
        return show(value, read.unit)
    return str(value)


def _in_document(path: tuple[str, ...], before: Facts, after: Facts, show: ShowQuantity) -> list[Change]:
    found: list[Change] = []
    for read in fields_of(type(after)).values():
        old, new = getattr(before, read.key), getattr(after, read.key)
        if old == new:
            continue
        where = (*path, read.label)
        if read.kind == "list":
            found.extend(_in_list(where, old or [], new or [], show))
        elif read.kind == "document":
            found.extend(_in_part(where, old, new, show))
        else:
            found.append(_of_value(where, read, old, new, show))
    return found


def _of_value(where: tuple[str, ...], read: FactField, old: Any, new: Any, show: ShowQuantity) -> Change:
    before, after = shown_value(read, old, show), shown_value(read, new, show)
    if before == after and read.kind == "quantity":  # they differ by less than is usually shown
        before, after = (f"{plain_text(exact(value))} {read.unit}" for value in (old, new))
    return Change(_joined(where), before, after)


def _in_part(where: tuple[str, ...], old: Facts | None, new: Facts | None, show: ShowQuantity) -> list[Change]:
    if old is not None and new is not None:
        return _in_document(where, old, new, show)
    return [Change(_joined(where), _summary(old, show), _summary(new, show))]


def _in_list(where: tuple[str, ...], old: Sequence[Facts], new: Sequence[Facts], show: ShowQuantity) -> list[Change]:
    names = _identities(old, new, show)
    old_named = dict(zip(names[0], old, strict=True))
    new_named = dict(zip(names[1], new, strict=True))
    found = []
    for name, item in old_named.items():
        if name not in new_named:
            found.append(Change(_joined((*where, name)), _summary(item, show), "taken off"))
    for name, item in new_named.items():
        if name not in old_named:
            found.append(Change(_joined((*where, name)), "", f"added: {_summary(item, show)}"))
        elif item != old_named[name]:
            found.extend(_in_document((*where, name), old_named[name], item, show))
    kept_before = [name for name in names[0] if name in new_named]
    kept_after = [name for name in names[1] if name in old_named]
    if kept_before != kept_after:
        found.append(Change(f"{_joined(where)}: order", ", ".join(kept_before), ", ".join(kept_after)))
    return found


def _identities(old: Sequence[Facts], new: Sequence[Facts], show: ShowQuantity) -> tuple[list[str], list[str]]:
    """Name the items of two lists by what tells them apart: a key, a speed, a flow, a name, or else their place."""
    read_as = fields_of(type((*old, *new)[0]))
    for key in _IDENTITIES:
        if key not in read_as:
            continue
        names = [[shown_value(read_as[key], getattr(item, key), show) for item in items] for items in (old, new)]
        if all(NOT_KNOWN not in items and len(set(items)) == len(items) for items in names):
            return names[0], names[1]
    return _places(old), _places(new)


def _places(items: Sequence[Facts]) -> list[str]:
    return [f"row {place}" for place in range(1, len(items) + 1)]


def _summary(part: Facts | None, show: ShowQuantity) -> str:
    """Write a whole part in one line, or how many rows it holds."""
    if part is None:
        return NOT_KNOWN
    told = []
    for read in fields_of(type(part)).values():
        value = getattr(part, read.key)
        if value in (None, "", []):
            continue
        if read.kind == "list":
            told.append(f"{read.label.lower()}: {len(value)}")
        elif read.kind == "document":
            told.append(f"{read.label.lower()} ({_summary(value, show)})")
        else:
            told.append(f"{read.label.lower()} {shown_value(read, value, show)}")
    return ", ".join(told) or NOT_KNOWN


def _joined(where: tuple[str, ...]) -> str:
    return " › ".join(where)
