"""From rows of a questionnaire to facts documents, with a sentence for each cell to correct (pure: no Django).

An empty cell leaves a fact as it is, and “not known” takes it out. A list that a subject has rows for is replaced by
them; items keep what their columns leave empty.
"""

from __future__ import annotations

import copy
import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from pydantic import ValidationError

from shared.calc.errors import InputError
from shared.facts import Facts, sentence_of
from shared.facts_reading import FactField, in_words
from shared.quantities import NOT_KNOWN, converted, exact, figure, offered, read_number
from shared.reading import DocumentError
from shared.sheets.layout import COLUMNS, README, Column, Layout, Path, Sheet, put_at, value_at
from shared.sheets.reading import Grid, Value, where

MOST_PROBLEMS = 50
Item = dict[str, Any]
Location = tuple[int | str, ...]


class _Clear:
    """Stands for a cell that says “not known”."""


CLEAR = _Clear()


@dataclass(frozen=True)
class Answered:
    """One subject of a questionnaire: its row, its facts as they would be, and what they are now if it is known.

    ``questions`` ask about lengths in metres that no ship or berth has, and that were taken for feet.
    """

    row: int
    facts: Facts
    before: Facts | None
    questions: tuple[str, ...] = ()


@dataclass
class _Row:
    number: int
    cells: dict[Path, Any]
    refs: tuple[str, ...]
    subject: str = ""


@dataclass
class _Subject:
    row: int
    document: Item
    before: Facts | None
    names: tuple[str, ...]
    places: dict[Location, tuple[Sheet, int]] = field(default_factory=dict)


class Reader:
    """Reads one file against a layout; ``known`` finds the stated facts of a subject by its row's identity cells."""

    def __init__(self, layout: Layout, known: Mapping[str, Facts], name: str) -> None:
        self.layout, self.known, self.name = layout, known, name
        self.problems: list[str] = []
        self.questions: dict[tuple[str, int], list[str]] = {}
        self._heads: dict[tuple[str, Path], tuple[int, str]] = {}

    def read(self, grids: Sequence[Grid]) -> list[Answered]:
        """Return every subject that the file names; raise DocumentError with a sentence for each thing to correct."""
        rows = self._rows(grids)
        subjects = self._subjects(rows.get(self.layout.sheets[0].name, []))
        self._stop_at_problems()
        for sheet in self.layout.sheets[1:]:
            self._fill(sheet, rows.get(sheet.name, []), subjects)
        self._stop_at_problems()
        answered = [self._checked(subject) for subject in {id(one): one for one in subjects.values()}.values()]
        self._stop_at_problems()
        found = [one for one in answered if one is not None]
        if not found:
            raise DocumentError([f"{self.name} names no {self.layout.subject.lower()}; fill in at least one row."])
        return found

    def _stop_at_problems(self) -> None:
        if self.problems:
            more = len(self.problems) - MOST_PROBLEMS
            told = [f"… and {more} more."] if more > 0 else []
            raise DocumentError([*self.problems[:MOST_PROBLEMS], *told])

    # Rows

    def _rows(self, grids: Sequence[Grid]) -> dict[str, list[_Row]]:
        found: dict[str, list[_Row]] = {}
        for grid in grids:
            self.problems += grid.problems
            sheet = self.layout.sheet(grid.name)
            if len(grids) == 1 and sheet is None:
                sheet = self.layout.sheets[0]  # a CSV file has the file's name
            if sheet is None:
                if grid.name.strip().casefold() not in {README.casefold(), COLUMNS.casefold()}:
                    names = ", ".join(one.name for one in self.layout.sheets)
                    self.problems.append(f"Sheet “{grid.name[:40]}” is not known; allowed: {names}.")
                continue
            found[sheet.name] = self._sheet_rows(sheet, grid)
        return found

    def _sheet_rows(self, sheet: Sheet, grid: Grid) -> list[_Row]:
        if not grid.rows:
            return []
        columns = self._match(sheet, grid)
        rows = []
        for number, values in enumerate(grid.rows[1:], start=2):
            if all(value is None for value in values):
                continue
            row = _Row(number, {}, ())
            refs = []
            for place, value in enumerate(values):
                column = columns.get(place)
                if column is None:
                    headed = place < len(grid.rows[0]) and grid.rows[0][place] is not None  # and told as not known
                    if value is not None and not headed:
                        self.problems.append(f"{where(grid.name, number, place)} stands under no head.")
                    continue
                kind, one, unit = column
                if kind == "subject":
                    row.subject = _text(value)
                elif kind == "ref":
                    refs.append(_text(self._cell(one, unit, value, where(grid.name, number, place, one.head))))
                elif value is not None:
                    row.cells[one.path] = self._fact(
                        sheet, row, one, unit, value, where(grid.name, number, place, one.head)
                    )
            row.refs = tuple(refs)
            rows.append(row)
        return rows

    def _fact(self, sheet: Sheet, row: _Row, column: Column, unit: str, value: Value, place: str) -> Any:
        feet = _as_feet(column.read, unit, value)
        if feet is None:
            return self._cell(column, unit, value, place)
        self.questions.setdefault((sheet.name, row.number), []).append(f"{place} {feet.question}")
        return feet.length_m

    def _match(self, sheet: Sheet, grid: Grid) -> dict[int, tuple[str, Column, str]]:
        """Return what each column of the file is, with the unit of its head."""
        known = {column.label.casefold(): ("fact", column) for column in sheet.columns}
        for ref in sheet.refs:
            known[ref.label.casefold()] = ("ref", ref)
        subject = self.layout.sheets[0].columns[0]
        if not sheet.is_root:
            known[self.layout.subject.casefold()] = ("subject", subject)
        found: dict[int, tuple[str, Column, str]] = {}
        for place, value in enumerate(grid.rows[0]):
            if value is None:
                continue
            label, _, rest = str(value).partition(" [")
            unit = rest.rstrip("]").strip()
            match = known.get(label.strip().casefold())
            at = where(grid.name, 1, place)
            if match is None:
                heads = [column.label for column in (*sheet.columns, *sheet.refs)]
                near = difflib.get_close_matches(label, heads, 1)
                hint = f" Did you mean “{near[0]}”?" if near else ""
                self.problems.append(f"{at} is “{label[:60]}”, a column that {sheet.name} does not have.{hint}")
                continue
            kind, column = match
            if any(one is column and other == kind for other, one, _ in found.values()):
                self.problems.append(f"{at} is “{label[:60]}” a second time; keep one of the columns.")
            elif unit and unit not in (offered(column.read.unit) if column.read.unit else ()):
                allowed = ", ".join(offered(column.read.unit)) if column.read.unit else "none"
                self.problems.append(f"{at} has the unit {unit[:20]}; allowed: {allowed}.")
            else:
                found[place] = kind, column, unit
                self._heads[sheet.name, column.path] = place, str(value)
        return found

    def _cell(self, column: Column, unit: str, value: Value, place: str) -> Any:
        if value is None:
            return None
        if isinstance(value, str) and value.casefold() == NOT_KNOWN:
            return CLEAR
        try:
            typed = _typed(column.read, unit, value)
        except InputError as error:
            self.problems.append(f"{place} {error}.")
            return None
        check = self.layout.checks.get(column.path)
        if check is not None:
            try:
                check(str(typed))
            except ValueError as error:
                self.problems.append(f"{place}: {error}")
        return typed

    # Subjects

    def _subjects(self, rows: Sequence[_Row]) -> dict[str, _Subject]:
        sheet = self.layout.sheets[0]
        found: dict[str, _Subject] = {}
        for row in rows:
            names = self._names(row)
            if not names:
                self.problems.append(f"{where(sheet.name, row.number)} names no {self.layout.subject.lower()}.")
                continue
            twice = _same_subject(names, found)
            if twice is not None:
                self.problems.append(
                    f"{where(sheet.name, row.number)} names {names[0]} a second time, after row {twice.row}; keep one."
                )
                continue
            before = next((self.known[name] for name in names if name in self.known), None)
            document: Item = {} if before is None else before.model_dump(mode="json", exclude_none=True)
            for path, value in row.cells.items():
                put_at(document, path, None if value is CLEAR else value)
            subject = _Subject(row.number, document, before, tuple(names))
            subject.places[()] = (sheet, row.number)
            for name in names:
                found.setdefault(name, subject)
        return found

    def _names(self, row: _Row) -> list[str]:
        """Return what a subject is known by, the surest first: its number, then its name."""
        found = [row.cells.get(("imo_number",)), row.cells.get(("name",))]
        return [str(value).casefold() for value in found if isinstance(value, str)]

    def _fill(self, sheet: Sheet, rows: Sequence[_Row], subjects: Mapping[str, _Subject]) -> None:
        """Put the rows of a list into their subjects; nested lists come after the lists that hold them."""
        together: dict[tuple[int, tuple[str, ...]], list[_Row]] = {}
        for row in rows:
            subject = subjects.get(row.subject.casefold())
            if subject is None:
                told = row.subject or "nothing"
                self.problems.append(
                    f"{where(sheet.name, row.number)} belongs to {told}, which sheet {self.layout.title} does not list."
                )
                continue
            together.setdefault((id(subject), row.refs), []).append(row)
        by_id = {id(subject): subject for subject in subjects.values()}
        for (mark, refs), own in together.items():
            self._replace(sheet, own, refs, by_id[mark])

    def _replace(self, sheet: Sheet, rows: Sequence[_Row], refs: tuple[str, ...], subject: _Subject) -> None:
        parent, location = self._parent(sheet, refs, subject)
        if parent is None:
            wanted = " › ".join(refs)
            self.problems.append(f"{where(sheet.name, rows[0].number)} belongs to {wanted}, which is not listed.")
            return
        path = sheet.chain[-1]
        old: list[Item] = value_at(parent, path) or []
        items = []
        for place, row in enumerate(rows):
            item = copy.deepcopy(_same(old, place, sheet.identity, row.cells.get((sheet.identity,))))
            for way, value in row.cells.items():
                put_at(item, way, None if value is CLEAR else value)
            subject.places[(*location, *path, place)] = (sheet, row.number)
            items.append(item)
        put_at(parent, path, items)

    def _parent(self, sheet: Sheet, refs: tuple[str, ...], subject: _Subject) -> tuple[Item | None, Location]:
        here: Item = subject.document
        location: Location = ()
        for path, ref, wanted in zip(sheet.chain[:-1], sheet.refs, refs, strict=False):
            items: list[Item] = value_at(here, path) or []
            place = next((i for i, item in enumerate(items) if _text(item.get(ref.path[0])) == wanted), None)
            if place is None:
                return None, ()
            here, location = items[place], (*location, *path, place)
        return here, location

    # Checked

    def _checked(self, subject: _Subject) -> Answered | None:
        try:
            facts = self.layout.model.model_validate(subject.document)
        except ValidationError as error:
            for found in error.errors(include_url=False):
                self.problems.append(self._sentence(subject, dict(found)))
            return None
        here = {(sheet.name, row) for sheet, row in subject.places.values()}
        asked = [question for place, told in self.questions.items() if place in here for question in told]
        return Answered(subject.row, facts, subject.before, tuple(asked))

    def _sentence(self, subject: _Subject, found: dict[str, Any]) -> str:
        location: Location = found["loc"]
        prefix = next(location[:size] for size in range(len(location), -1, -1) if location[:size] in subject.places)
        sheet, row = subject.places[prefix]
        rest = tuple(str(part) for part in location[len(prefix) :])
        head = self._heads.get((sheet.name, rest))
        place = where(sheet.name, row) if head is None else where(sheet.name, row, head[0], head[1])
        told = sentence_of({**found, "loc": location[-1:] if location else ()})
        return f"{place}: {in_words(told, self.layout.model)}"


def _same_subject(names: Sequence[str], found: Mapping[str, _Subject]) -> _Subject | None:
    """Return the subject that was listed before under the surest name, or under one that nothing surer tells apart."""
    if names[0] in found:
        return found[names[0]]
    return next((found[name] for name in names if name in found and len(found[name].names) == 1), None)


def _same(old: Sequence[Item], place: int, identity: str, wanted: Any) -> Item:
    """Return the item that a row is about: by its identity, or by its place where that tells nothing apart."""
    names = [_text(item.get(identity)) for item in old]
    name = _text(wanted)
    if name and names.count(name) == 1:
        return old[names.index(name)]
    if len(set(names)) < len(names) and place < len(old):
        return old[place]
    return {}


def _text(value: Any) -> str:
    if value is None or value is CLEAR:
        return ""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value).strip()


def _typed(read: FactField, unit: str, value: Value) -> Any:
    """Return a cell as a document states it; raise InputError with a sentence's ending."""
    match read.kind:
        case "quantity":
            number = exact(value) if isinstance(value, float) else read_number(_no_flag(value))
            return _within(read, float(converted(number, unit or read.unit, read.unit)))
        case "whole number":
            if isinstance(value, float) and value.is_integer():
                return int(value)
            text = _text(value)
            return int(text) if text.isascii() and text.isdigit() else text
        case "day":
            return value.isoformat() if isinstance(value, date) else _text(value)
        case "choice":
            text = _text(value)
            return next((choice for choice in read.choices if choice.casefold() == text.casefold()), text)
        case _:
            return _text(value)


@dataclass(frozen=True)
class _Feet:
    """A length that is too great in metres and usual in feet."""

    length_m: float
    question: str


def _as_feet(read: FactField, unit: str, value: Value) -> _Feet | None:
    """Return a length in metres that is allowed only if it is one in feet, with the question to ask; else None."""
    if read.kind != "quantity" or (unit or read.unit) != "m" or isinstance(value, bool | date):
        return None
    try:
        number = exact(value) if isinstance(value, float) else read_number(str(value))
    except InputError:
        return None
    least, greatest = float(read.least or 0.0), float(read.greatest or 0.0)
    length_m = float(converted(number, "ft", "m"))
    if float(number) <= greatest or not least <= length_m <= greatest:
        return None
    told = f"is {number:,g} m; allowed: {least:,g} to {greatest:,g} m"
    return _Feet(
        length_m,
        f"{told}. Is it in feet? {number:,g} ft is {figure(length_m, 'm')} m, which is what saving takes; if it is"
        " something else, leave without saving and correct it.",
    )


def _within(read: FactField, number: float) -> float:
    least, greatest = float(read.least or 0.0), float(read.greatest or 0.0)
    if least <= number <= greatest:
        return number
    unit = "" if read.unit == "1" else f" {read.unit}"
    hint = f". {read.hint.rstrip('.')}" if read.hint else ""
    raise InputError(f"is {number:,g}{unit}; allowed: {least:,g} to {greatest:,g}{unit}{hint}")


def _no_flag(value: Value) -> str:
    if isinstance(value, bool | date):
        raise InputError("is not a number")
    return str(value)
