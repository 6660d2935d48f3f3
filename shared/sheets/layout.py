"""The sheets of a questionnaire, made from a facts class: one for the subjects, one for each list in them (pure)."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from shared.facts import Facts
from shared.facts_reading import FactField, fields_of

README = "Read me"
COLUMNS = "Columns"
LONGEST_NAME = 31  # of a sheet, as spreadsheets allow
_IDENTITIES = ("key", "name", "speed_rpm")
_UNNAMED = frozenset({"berthing"})  # parts that say nothing where they are named

Path = tuple[str, ...]


@dataclass(frozen=True)
class Column:
    """One column: where its fact stands in the item of its sheet; ``label`` is its head without the unit."""

    label: str
    path: Path
    read: FactField

    @property
    def head(self) -> str:
        """Return the head with its unit in brackets."""
        unit = self.read.unit
        return f"{self.label} [{unit}]" if unit and unit != "1" else self.label


@dataclass(frozen=True)
class Sheet:
    """One sheet: the subjects themselves, or one list of theirs.

    ``chain`` is the way to the list, from item to item; ``refs`` are columns by which a row names its subject's
    item, and that item's item.
    """

    name: str
    chain: tuple[Path, ...]
    refs: tuple[Column, ...]
    columns: tuple[Column, ...]
    identity: str

    @property
    def is_root(self) -> bool:
        """Tell whether it lists the subjects."""
        return not self.chain


@dataclass(frozen=True)
class Layout:
    """A whole questionnaire; ``subject`` is the head by which lists name what they belong to.

    ``checks`` are rules on single cells of the first sheet, which raise ValueError with a sentence.
    """

    model: type[Facts]
    title: str
    subject: str
    sheets: tuple[Sheet, ...]
    checks: Mapping[Path, Callable[[str], None]]

    def sheet(self, name: str) -> Sheet | None:
        """Return the sheet of this name, or nothing."""
        return next((sheet for sheet in self.sheets if sheet.name.casefold() == name.strip().casefold()), None)


def layout_of(
    model: type[Facts],
    title: str,
    subject: str,
    skip: Sequence[str] = (),
    checks: Mapping[Path, Callable[[str], None]] | None = None,
) -> Layout:
    """Return the questionnaire of a facts class; ``skip`` are plain keys that are stated elsewhere."""
    sheets = [Sheet(title, (), (), tuple(_columns(model, (), (), frozenset(skip))), identity_of(model))]
    sheets += _lists(model, (), (), ())
    return Layout(model, title, subject, tuple(sheets), checks or {})


def identity_of(model: type[Facts]) -> str:
    """Return the key by which items of a list are told apart."""
    keys = fields_of(model)
    return next((key for key in _IDENTITIES if key in keys), next(iter(keys)))


def value_at(item: Any, path: Path) -> Any:
    """Return the value at a way into nested dictionaries, or None."""
    for part in path:
        item = item.get(part) if isinstance(item, dict) else None
    return item


def put_at(item: dict[str, Any], path: Path, value: Any) -> None:
    """Set the value at a way into nested dictionaries; None takes it out."""
    *way, last = path
    for part in way:
        if value is None and not isinstance(item.get(part), dict):
            return
        item = item.setdefault(part, {})
    if value is None:
        item.pop(last, None)
    else:
        item[last] = value


def _columns(model: type[Facts], path: Path, labels: Path, skip: frozenset[str]) -> Iterator[Column]:
    for key, read in fields_of(model).items():
        if key in skip:
            continue
        if read.kind == "document" and read.inner is not None:
            inner = labels if key in _UNNAMED else (*labels, read.label)
            yield from _columns(read.inner, (*path, key), inner, frozenset())
        elif read.kind != "list":
            yield Column(": ".join((*labels[-1:], read.label)), (*path, key), read)


def _lists(model: type[Facts], chain: tuple[Path, ...], labels: Path, refs: tuple[Column, ...]) -> Iterator[Sheet]:
    for path, names, read in _lists_in(model, (), ()):
        if read.inner is None:
            continue
        here, called = (*chain, path), (*labels, *names)
        name = ", ".join((called[0], *(one.lower() for one in called[1:])))[:LONGEST_NAME]
        identity = identity_of(read.inner)
        yield Sheet(name, here, refs, tuple(_columns(read.inner, (), (), frozenset())), identity)
        own = fields_of(read.inner)[identity]
        yield from _lists(read.inner, here, called, (*refs, Column(f"{name}: {own.label}", (identity,), own)))


def _lists_in(model: type[Facts], path: Path, labels: Path) -> Iterator[tuple[Path, Path, FactField]]:
    for key, read in fields_of(model).items():
        if read.kind == "list":
            yield (*path, key), (*labels, read.label), read
        elif read.kind == "document" and read.inner is not None:
            inner = labels if key in _UNNAMED else (*labels, read.label)
            yield from _lists_in(read.inner, (*path, key), inner)
