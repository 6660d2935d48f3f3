"""Readings from a table: CSV, a pasted sheet or an XLSX file, one reading a row (pure: no Django).

The first row names the columns: “Time (UTC)” and what the form calls its boxes, each with a unit in brackets where it
is not that of the record, such as “Manifold pressure [psi]”. Bounds and refusals are those of the form.
"""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

from compat.accord.checklist.item import Side
from compat.case.case_file import CaseFile
from compat.record.readings import Field, fields_for
from shared.calc.errors import InputError
from shared.quantities import converted, offered, preferred, read_number
from shared.reading import DocumentError

TIME = "Time (UTC)"
REMARK = "Remark"
MOST_ROWS = 500
LARGEST_BYTES = 2_000_000
LARGEST_UNPACKED_BYTES = 40_000_000
_TIME_FORMS = ("%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M:%S", "%Y-%m-%dT%H:%M:%S")

Cells = list[list[Any]]


@dataclass(frozen=True)
class Row:
    """One reading of a table: when, values in the units of the record, what was written, and the remark."""

    number: int
    at: datetime
    values: dict[str, Decimal]
    typed: dict[str, str]
    remark: str


def template(case: CaseFile, side: Side, units: dict[str, str]) -> str:
    """Return an empty table with the columns of one side, in a person's units, as CSV."""
    held = io.StringIO()
    writer = csv.writer(held, lineterminator="\n")
    writer.writerow(
        [TIME, *(f"{field.label} [{preferred(units, field.reading.unit)}]" for field in fields_for(case, side)), REMARK]
    )
    return held.getvalue()


def read_table(data: bytes, name: str) -> Cells:
    """Return the cells of a CSV or XLSX file; raise DocumentError for anything else."""
    if len(data) > LARGEST_BYTES:
        raise DocumentError(
            [f"{name} holds {len(data):,} bytes; allowed: up to {LARGEST_BYTES:,}. Is it the right file?"]
        )
    if data.startswith(b"PK"):
        return _xlsx(data, name)
    try:
        return read_text(data.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise DocumentError(
            [f"{name} is neither XLSX nor UTF-8 text (byte {error.start}); save it as CSV UTF-8 and send it again."]
        ) from None


def read_text(text: str) -> Cells:
    """Return the cells of CSV or of a sheet as pasted: parted by tabs, semicolons or commas."""
    first = text.lstrip().partition("\n")[0]
    parting = next((mark for mark in ("\t", ";", ",") if mark in first), ",")
    try:
        rows = list(csv.reader(io.StringIO(text.strip("\n")), delimiter=parting))
    except csv.Error as error:
        raise DocumentError([f"The table can't be read: {error}."]) from None
    return [row for row in rows if any(str(cell).strip() for cell in row)]


def _xlsx(data: bytes, name: str) -> Cells:
    from openpyxl import load_workbook  # noqa: PLC0415 - slow to import, and seldom needed

    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            if sum(part.file_size for part in packed.infolist()) > LARGEST_UNPACKED_BYTES:
                raise DocumentError([f"{name} unpacks to more than a table of readings can hold; send it as CSV."])
        book = load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        sheet = book.worksheets[0]
        rows = [list(row) for row in sheet.iter_rows(values_only=True, max_row=MOST_ROWS + 2, max_col=80)]
        book.close()
    except DocumentError:
        raise
    except Exception as error:  # noqa: BLE001 - the library raises whatever a damaged file leads it to
        raise DocumentError(
            [f"{name} can't be read as an XLSX file ({type(error).__name__}); send it as CSV."]
        ) from None
    return [row for row in rows if any(cell not in (None, "") for cell in row)]


def readings_in(cells: Cells, case: CaseFile, side: Side) -> list[Row]:
    """Return the readings of a table in order of time; raise DocumentError with every problem found."""
    if not cells:
        raise DocumentError(["The table is empty; its first row names the columns, each further row is one reading."])
    if len(cells) - 1 > MOST_ROWS:
        raise DocumentError([f"The table has {len(cells) - 1} readings; allowed: up to {MOST_ROWS}. Send it in parts."])
    columns = _columns(cells[0], case, side)
    problems: list[str] = []
    rows = []
    for number, row in enumerate(cells[1:], start=2):
        try:
            rows.append(_row(number, row, columns))
        except DocumentError as error:
            problems += error.problems
    if not rows and not problems:
        problems.append("The table has no readings under its first row.")
    times = [row.at for row in rows]
    twice = sorted({row.at for row in rows if times.count(row.at) > 1})
    problems += [f"Two rows stand at {at:%Y-%m-%d %H:%M} UTC; keep one of them." for at in twice]
    if problems:
        raise DocumentError(problems)
    return sorted(rows, key=lambda row: row.at)


_Column = tuple[Field | None, str]


def _columns(head: Sequence[Any], case: CaseFile, side: Side) -> list[_Column]:
    fields = {name.casefold(): field for field in fields_for(case, side) for name in (field.label, field.key)}
    found: list[_Column] = []
    problems = []
    for cell in head:
        text = str(cell or "").strip()
        name, _, rest = text.partition("[")
        unit = rest.rstrip("] ").strip()
        field = fields.get(name.strip().casefold())
        if text.casefold() in {TIME.casefold(), "time", "at"}:
            found.append((None, TIME))
        elif text.casefold() == REMARK.casefold():
            found.append((None, REMARK))
        elif field is None:
            if text:
                problems.append(
                    f"Column “{text[:60]}” is not read by the {side} here; take it out or correct its name."
                )
            found.append((None, ""))
        elif unit and unit not in offered(field.reading.unit):
            choice = ", ".join(offered(field.reading.unit))
            problems.append(f"Column “{text[:60]}” has the unit {unit[:20]}; choose one of {choice}.")
        else:
            found.append((field, unit or field.reading.unit))
    if not any(unit == TIME for field, unit in found if field is None):
        problems.insert(0, f"There is no column “{TIME}”; name when each reading was taken.")
    if problems:
        raise DocumentError(problems)
    return found


def _row(number: int, row: Sequence[Any], columns: Sequence[_Column]) -> Row:
    at: datetime | None = None
    values, typed, remark, problems = dict[str, Decimal](), dict[str, str](), "", list[str]()
    for (field, unit), cell in zip(columns, row, strict=False):
        text = "" if cell is None else str(cell).strip()
        if field is None:
            if unit == TIME:
                at = _time(cell)
            elif unit == REMARK:
                remark = text[:300]
            continue
        if not text:
            continue
        try:
            value = converted(read_number(text), unit, field.reading.unit)
            values[field.key] = field.reading.check(value, field.label)
            typed[field.key] = f"{text} {unit}"
        except InputError as error:
            said = str(error)
            whole = said if said.startswith(field.label) else f"{field.label} “{text[:40]}” {said}."
            problems.append(f"Row {number}: {whole}")
    if at is None:
        problems.insert(0, f"Row {number}: its time is missing or can't be read; write it as 2026-03-21 14:30, in UTC.")
    if not values and not problems:
        problems.append(f"Row {number}: nothing was read; give at least one value or take the row out.")
    if problems or at is None:
        raise DocumentError(problems)
    return Row(number, at, values, typed, remark)


def _time(cell: Any) -> datetime | None:
    if isinstance(cell, datetime):
        return cell.replace(second=0, microsecond=0, tzinfo=UTC) if cell.tzinfo is None else cell.astimezone(UTC)
    text = str(cell or "").strip().removesuffix("Z").removesuffix(" UTC")
    for form in _TIME_FORMS:
        try:
            return datetime.strptime(text, form).replace(tzinfo=UTC)
        except ValueError:
            continue
    return None
