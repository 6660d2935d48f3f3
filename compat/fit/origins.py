"""Who stated a fact, when, and how sure: from a document's revisions and its own statements (pure: no Django)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from shared.berthing_facts import Statement
from shared.facts import Facts
from terminals.berthing_facts import BERTH_FACT_KEYS
from vessels.berthing_facts import SHIP_FACT_KEYS

OLD_AFTER_DAYS = 5 * 366
"""Five years: the time between two renewal surveys of a cargo ship (SOLAS I/10 and the harmonized survey system, from
memory). A fact older than that has not been looked at within one round of surveys."""


@dataclass(frozen=True)
class Stated:
    """One version of a document: its number, who made it and when, and the document as it was stored."""

    number: int
    by: str
    on: date
    document: Mapping[str, Any]


@dataclass(frozen=True)
class Origin:
    """Where a fact comes from; ``sure`` is measured, certificate, stated or assumed."""

    by: str
    on: date
    sure: str

    def is_old(self, today: date) -> bool:
        """Tell whether it was stated longer ago than OLD_AFTER_DAYS."""
        return (today - self.on).days > OLD_AFTER_DAYS


def origin_of(key: str, versions: Sequence[Stated], statements: Iterable[Statement]) -> Origin | None:
    """Return where the fact at a key comes from; ``versions`` are newest first, without any there is no origin.

    A fact counts as stated with the first version since which it has been the same; a statement that names it says
    more, and counts where it says something.
    """
    if not versions:
        return None
    first = versions[0]
    value = _at(first.document, key)
    for version in versions[1:]:
        if _at(version.document, key) != value:
            break
        first = version
    for statement in statements:
        if any(key.startswith(named) for named in _named_by(statement)):
            return Origin(statement.by or first.by, statement.on or first.on, statement.sure)
    return Origin(first.by, first.on, "stated")


def statements_of(document: Facts) -> Sequence[Statement]:
    """Return the statements that a ship or a berth makes about its own facts."""
    berthing = getattr(document, "berthing", None)
    found: Sequence[Statement] = berthing.statements if berthing is not None else ()
    return found


def _named_by(statement: Statement) -> tuple[str, ...]:
    fact: str = getattr(statement, "fact", "")
    return SHIP_FACT_KEYS.get(fact) or BERTH_FACT_KEYS.get(fact) or ()


def _at(document: Mapping[str, Any], key: str) -> Any:
    value: Any = document
    for part in key.split("."):
        value = value.get(part) if isinstance(value, Mapping) else None
    return value
