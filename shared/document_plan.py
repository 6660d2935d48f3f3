"""How a facts document stands in a form: said once, for the form, the page and the table (pure: no Django)."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from shared.facts import Facts
from shared.facts_reading import FactField, fields_of

ROWS_COMMAND = "rows"
_BLOCK_KINDS = ("document", "list")

Posted = Mapping[str, str] | None
RowCheck = Callable[[list[dict[str, Any]]], tuple[int, str] | None]


@dataclass(frozen=True)
class Plan:
    """How one document class stands in a form.

    ``keys`` are the plain keys shown (None: all of them), ``parts`` the nested documents and lists. ``item`` is what
    one entry of a list is called. An ``optional`` part may be left blank as a whole. Rows are put ``in_order_of`` a
    key, and ``check_rows`` may name the first row that does not fit the ones before it. A ``seldom`` part is folded
    away while it is blank.
    """

    model: type[Facts]
    heading: str = ""
    note: str = ""
    keys: tuple[str, ...] | None = None
    parts: Mapping[str, Plan] = field(default_factory=dict)
    help_texts: Mapping[str, str] = field(default_factory=dict)
    labels: Mapping[str, str] = field(default_factory=dict)
    item: str = "row"
    optional: bool = False
    seldom: bool = False
    spare_rows: int = 2
    in_order_of: str = ""
    check_rows: RowCheck | None = None

    @property
    def columns(self) -> list[FactField]:
        """Return the plain keys of the document in this form, in order."""
        reads = fields_of(self.model)
        keys = plain_keys(self.model) if self.keys is None else self.keys
        return [reads[key] for key in keys]

    def label(self, read: FactField) -> str:
        """Return what a key is called in this form."""
        return self.labels.get(read.key, read.label)


def plain_keys(model: type[Facts], *first: str) -> tuple[str, ...]:
    """Return the plain keys of a document class, those named ``first`` before the others."""
    plain = [key for key, read in fields_of(model).items() if read.kind not in _BLOCK_KINDS]
    return (*first, *(key for key in plain if key not in first))


@dataclass(frozen=True)
class Filling:
    """What a form is filled with: the person's units, and what was posted if anything was."""

    units: Mapping[str, str]
    posted: Posted = None

    @property
    def command(self) -> str:
        """Return the row command that was posted, or nothing."""
        return (self.posted or {}).get(ROWS_COMMAND, "")

    def works_on(self, prefix: str) -> bool:
        """Tell whether the row command that was posted is about the part with this prefix."""
        return self.command.partition(":")[2].startswith(prefix)
