"""A questionnaire as tables to be written: blank, or filled with what is stated (pure: no Django)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from shared.facts import Facts
from shared.sheets.layout import COLUMNS, README, Column, Layout, Sheet, value_at

Cell = str | float | int | None
Table = tuple[str, list[str], list[list[Cell]]]


def tables_of(layout: Layout, stated: Sequence[Facts]) -> list[Table]:
    """Return every sheet with its heads and rows: how to fill it in, the questionnaire, and what each column means."""
    documents = [one.model_dump(mode="json", exclude_none=True) for one in stated]
    sheets = [(sheet.name, heads_of(layout, sheet), list(_rows(sheet, documents))) for sheet in layout.sheets]
    return [
        (README, ["How to fill in this questionnaire"], [[line] for line in _readme(layout)]),
        *sheets,
        _meanings(layout),
    ]


def heads_of(layout: Layout, sheet: Sheet) -> list[str]:
    """Return the heads of a sheet, those that say where a row belongs first."""
    belongs = [] if sheet.is_root else [layout.subject, *(ref.head for ref in sheet.refs)]
    return [*belongs, *(column.head for column in sheet.columns)]


def _rows(sheet: Sheet, documents: Sequence[dict[str, Any]]) -> Iterator[list[Cell]]:
    for document in documents:
        if sheet.is_root:
            yield [value_at(document, column.path) for column in sheet.columns]
            continue
        subject = document.get("imo_number") or document.get("name")
        yield from _items(sheet, document, [subject], 0)


def _items(sheet: Sheet, item: dict[str, Any], refs: list[Cell], depth: int) -> Iterator[list[Cell]]:
    for inner in value_at(item, sheet.chain[depth]) or []:
        if depth + 1 == len(sheet.chain):
            yield [*refs, *(value_at(inner, column.path) for column in sheet.columns)]
        else:
            yield from _items(sheet, inner, [*refs, inner.get(sheet.refs[depth].path[0])], depth + 1)


def _readme(layout: Layout) -> Iterator[str]:
    first, subject = layout.sheets[0].name, layout.subject.lower()
    yield f"One row of sheet {first} for each {subject}; the other sheets hold the lists that belong to it."
    yield f"In those, the column {layout.subject} says to which {subject} a row belongs: its number or its name."
    yield "The unit stands in brackets in each head; another one of the same kind may stand there, such as [ft]."
    yield "An empty cell leaves a fact as it is. “not known” takes it out."
    yield f"A list for which a {subject} has rows is replaced by them; without any row it stays as it is."
    yield "Write values, no formulas; decimals with a point; days as 2031-04-14."
    yield f"Sheet {COLUMNS} says what each column means and what is allowed in it."
    yield "Nothing is saved before you have seen what the file would change."


def _meanings(layout: Layout) -> Table:
    rows: list[list[Cell]] = [
        [sheet.name, column.head, column.read.help_text, _allowed(column), "yes" if column.read.required else ""]
        for sheet in layout.sheets
        for column in sheet.columns
    ]
    return COLUMNS, ["Sheet", "Column", "Meaning", "Allowed", "Must be stated"], rows


def _allowed(column: Column) -> str:
    read = column.read
    if read.kind == "choice":
        return ", ".join(read.choices)
    if read.kind == "day":
        return "a day, as 2031-04-14"
    if read.least is not None and read.greatest is not None and read.kind != "text":
        return f"{read.least:,g} to {read.greatest:,g}"
    return "text" if read.kind == "text" else ""
