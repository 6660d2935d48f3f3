"""From the bytes of a CSV or XLSX file to rows of plain cells, within bounds (pure: no Django).

A formula is no fact: its cell is refused, since what it comes to depends on where it is opened.
"""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from openpyxl import load_workbook
from openpyxl.utils import get_column_letter

from shared.reading import DocumentError

LARGEST_FILE_BYTES = 5_000_000
LARGEST_UNPACKED_BYTES = 60_000_000
MOST_PARTS = 200
MOST_SHEETS = 40
MOST_ROWS = 5_000
MOST_COLUMNS = 200
LONGEST_TEXT = 500
_PACKED = b"PK\x03\x04"

Value = str | float | bool | date | None


@dataclass(frozen=True)
class Grid:
    """One sheet as rows of values; ``rows`` begin with the heads, and a row's number counts from 1 as shown.

    ``problems`` are cells that hold no value that could be taken; they read as empty.
    """

    name: str
    rows: tuple[tuple[Value, ...], ...]
    problems: tuple[str, ...] = ()


def read_sheets(data: bytes, name: str) -> list[Grid]:
    """Return the sheets of a workbook, or the one of a CSV file; raise DocumentError where it is none."""
    if len(data) > LARGEST_FILE_BYTES:
        limit = f"allowed: up to {LARGEST_FILE_BYTES:,}. Split it, or take out what is no answer."
        raise DocumentError([f"{name} holds {len(data):,} bytes; {limit}"])
    if not data.strip():
        raise DocumentError([f"{name} is empty; choose another file."])
    return _workbook(data, name) if data.startswith(_PACKED) else [_csv(data, name)]


def where(sheet: str, row: int, column: int | None = None, head: str = "") -> str:
    """Say where a cell stands, as a spreadsheet shows it; ``column`` counts from 0."""
    place = f"{sheet}, row {row}"
    if column is None:
        return place
    told = f" ({head})" if head else ""
    return f"{place}, column {get_column_letter(column + 1)}{told}"


def _workbook(data: bytes, name: str) -> list[Grid]:
    _check_packed(data, name)
    try:
        book = load_workbook(io.BytesIO(data), read_only=True, data_only=False, keep_links=False)
    except Exception as error:  # openpyxl raises whatever its parts raise
        raise DocumentError([f"{name} can't be read as a workbook. Save it as XLSX again, or as CSV."]) from error
    try:
        if len(book.worksheets) > MOST_SHEETS:
            raise DocumentError([f"{name} has {len(book.worksheets)} sheets; allowed: up to {MOST_SHEETS}."])
        grids = []
        for sheet in book.worksheets:
            sheet.reset_dimensions()
            problems: list[str] = []
            grids.append(Grid(sheet.title, tuple(_rows(sheet, problems)), tuple(problems)))
    except DocumentError:
        raise
    except Exception as error:
        raise DocumentError([f"{name} can't be read to its end. Save it as XLSX again, or as CSV."]) from error
    finally:
        book.close()
    return grids


def _check_packed(data: bytes, name: str) -> None:
    """Refuse a workbook that unpacks to more than a questionnaire can hold, before anything is unpacked."""
    try:
        parts = zipfile.ZipFile(io.BytesIO(data)).infolist()
    except zipfile.BadZipFile:
        raise DocumentError([f"{name} is no whole workbook. Was it cut short?"]) from None
    unpacked = sum(part.file_size for part in parts)
    if len(parts) > MOST_PARTS or unpacked > LARGEST_UNPACKED_BYTES:
        limit = f"allowed: up to {LARGEST_UNPACKED_BYTES:,} in {MOST_PARTS}"
        raise DocumentError(
            [f"{name} unpacks to {unpacked:,} bytes in {len(parts)} parts; {limit}. Nothing of it was read."]
        )


def _rows(sheet: Any, problems: list[str]) -> Iterator[tuple[Value, ...]]:
    filled = 0
    for number, cells in enumerate(sheet.iter_rows(), start=1):
        if len(cells) > MOST_COLUMNS:
            raise DocumentError(
                [f"{where(sheet.title, number)} has {len(cells)} columns; allowed: up to {MOST_COLUMNS}."]
            )
        values = tuple(_value(cell, sheet.title, number, place, problems) for place, cell in enumerate(cells))
        filled = number if any(value is not None for value in values) else filled
        if number > MOST_ROWS:
            raise DocumentError([f"{sheet.title} has more than {MOST_ROWS:,} rows. Split it into several files."])
        yield values


def _value(cell: Any, sheet: str, row: int, column: int, problems: list[str]) -> Value:
    value = cell.value
    if value is None:
        return None
    if cell.data_type == "f" or type(value).__name__ in {"ArrayFormula", "DataTableFormula"}:
        problems.append(f"{where(sheet, row, column)} holds a formula; write the value itself.")
        return None
    if cell.data_type == "e":
        problems.append(f"{where(sheet, row, column)} holds an error ({str(value)[:20]}); write the value itself.")
        return None
    return _plain(value, where(sheet, row, column), problems)


def _plain(value: Any, place: str, problems: list[str]) -> Value:
    if isinstance(value, datetime):
        return value.date()
    if isinstance(value, bool | date):
        return value
    if isinstance(value, int | float):
        return float(value)
    text = str(value).strip()
    if len(text) > LONGEST_TEXT:
        problems.append(f"{place} holds {len(text):,} characters; allowed: up to {LONGEST_TEXT}.")
        return None
    return text or None


def _csv(data: bytes, name: str) -> Grid:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise DocumentError(
            [f"{name} is not UTF-8 text (byte {error.start}). Save it as CSV in UTF-8, or as XLSX."]
        ) from None
    first = text.partition("\n")[0]
    delimiter = max((",", ";", "\t"), key=first.count)
    problems: list[str] = []
    rows = []
    try:
        for number, cells in enumerate(csv.reader(io.StringIO(text), delimiter=delimiter, strict=True), start=1):
            if number > MOST_ROWS:
                raise DocumentError([f"{name} has more than {MOST_ROWS:,} rows. Split it into several files."])
            if len(cells) > MOST_COLUMNS:
                raise DocumentError([f"{where(name, number)} has {len(cells)} columns; allowed: up to {MOST_COLUMNS}."])
            rows.append(tuple(_csv_value(cell, where(name, number, i), problems) for i, cell in enumerate(cells)))
    except csv.Error as error:
        raise DocumentError([f"{name} is not whole CSV: {error}. Was it cut short?"]) from None
    return Grid(name, tuple(rows), tuple(problems))


def _csv_value(cell: str, place: str, problems: list[str]) -> Value:
    text = cell.strip()
    if text.startswith(("=", "@")):
        problems.append(f"{place} holds a formula; write the value itself.")
        return None
    text = text.removeprefix("'")  # written before text that would be taken for a formula
    return _plain(text, place, problems) if text else None
