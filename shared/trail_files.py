"""The trail as files that verify without this program's database: lines of JSON, or CSV."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Iterator
from datetime import datetime

from django.db.models import QuerySet

from shared.calc.errors import InputError
from shared.models import TrailRow
from shared.trail import chain_rows
from shared.trail_chain import FORMAT, ChainRow, hashed_words, time_text

_COLUMNS = ("format", *ChainRow._fields)
# A spreadsheet takes a cell that begins so for a formula; an apostrophe before it is taken off again on reading.
_TAKEN_FOR_FORMULA = frozenset("=+-@\t\r'")


class TrailFileError(InputError):
    """A file that is no export of a trail, with the line that is wrong."""


def as_lines(rows: QuerySet[TrailRow]) -> Iterator[str]:
    """Yield rows as lines of JSON, oldest first.

    A line without its ``sha256`` is exactly what that hash is taken over, after RFC 8785.
    """
    for row in chain_rows(rows):
        yield json.dumps({**hashed_words(row), "sha256": row.sha256}, ensure_ascii=False) + "\n"


def as_csv(rows: QuerySet[TrailRow]) -> Iterator[str]:
    """Yield rows as CSV with a head line, oldest first."""
    yield _csv_line(_COLUMNS)
    for row in chain_rows(rows):
        yield _csv_line([_safe(text) for text in (FORMAT, str(row.position), time_text(row.at), *row[2:])])


def read_rows(text: str) -> Iterator[ChainRow]:
    """Yield the rows of either file; raise TrailFileError at the first line that is none."""
    records = _csv_records(text) if text.startswith(_COLUMNS[0] + ",") else _json_records(text)
    for number, record in records:
        yield _row(number, record)


def _json_records(text: str) -> Iterator[tuple[int, dict[str, object]]]:
    for number, line in enumerate(text.split("\n"), 1):
        if not line.strip():
            continue
        try:
            record = json.loads(line)
        except ValueError as error:
            raise TrailFileError(f"Line {number} is no JSON: {error}.") from error
        if not isinstance(record, dict):
            raise TrailFileError(f"Line {number} is no row of a trail.")
        yield number, record


def _csv_records(text: str) -> Iterator[tuple[int, dict[str, object]]]:
    reader = csv.reader(io.StringIO(text, newline=""))
    columns = next(reader)
    for cells in reader:
        plain = [cell.removeprefix("'") for cell in cells]
        yield reader.line_num, dict(zip(columns, plain, strict=False))


def _row(number: int, record: dict[str, object]) -> ChainRow:
    if record.get("format") != FORMAT:
        raise TrailFileError(f"Line {number} is not in the format {FORMAT}.")
    missing = [name for name in ChainRow._fields if name not in record]
    if missing:
        raise TrailFileError(f"Line {number} has no {', '.join(missing)}.")
    words = [str(record[name]) for name in ChainRow._fields]
    try:
        return ChainRow(int(words[0]), datetime.fromisoformat(words[1]), *words[2:])
    except ValueError as error:
        raise TrailFileError(f"Line {number} has a position or time that can't be read: {error}.") from error


def _csv_line(cells: Iterable[str]) -> str:
    out = io.StringIO()
    csv.writer(out).writerow(cells)
    return out.getvalue()


def _safe(text: str) -> str:
    return f"'{text}" if text[:1] in _TAKEN_FOR_FORMULA else text
