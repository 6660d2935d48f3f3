"""Tables as files that spreadsheets open: CSV and XLSX, with text kept from being taken for a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

from django.http import HttpResponse
from django.utils.text import slugify
from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Font

Value = str | float | int | None
XLSX_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def csv_bytes(heads: Sequence[str], rows: Iterable[Sequence[Value]]) -> bytes:
    """Return a table as CSV in UTF-8 with a byte order mark, by which spreadsheets know the encoding."""
    file = io.StringIO()
    writer = csv.writer(file, lineterminator="\r\n")
    writer.writerow([_harmless(head) for head in heads])
    for row in rows:
        writer.writerow(["" if value is None else _harmless(value) for value in row])
    return file.getvalue().encode("utf-8-sig")


def xlsx_bytes(sheets: Sequence[tuple[str, Sequence[str], Iterable[Sequence[Value]]]]) -> bytes:
    """Return tables as the sheets of one workbook: name, heads and rows of each."""
    book = Workbook(write_only=True)
    bold = Font(bold=True)
    for name, heads, rows in sheets:
        sheet = book.create_sheet(name[:31])
        sheet.freeze_panes = "A2"
        first = []
        for place, head in enumerate(heads):
            cell = WriteOnlyCell(sheet, value=head)
            cell.font = bold
            cell.data_type = "s"
            first.append(cell)
            sheet.column_dimensions[_letters(place)].width = min(max(len(head) + 2, 12), 44)
        sheet.append(first)
        for row in rows:
            sheet.append([_cell(sheet, value) for value in row])
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def download(made: bytes, title: str, kind: str) -> HttpResponse:
    """Answer with a table that is saved under a name made of ``title``; ``kind`` is csv or xlsx."""
    name = f"{slugify(title) or 'table'}.{kind}"
    content_type = XLSX_TYPE if kind == "xlsx" else "text/csv; charset=utf-8"
    return HttpResponse(
        made, content_type=content_type, headers={"Content-Disposition": f'attachment; filename="{name}"'}
    )


def _harmless(value: Value) -> Value:
    """Put a quote before text that a spreadsheet would work out instead of showing."""
    return f"'{value}" if isinstance(value, str) and value.startswith(_FORMULA_STARTS) else value


def _cell(sheet: object, value: Value) -> object:
    if not isinstance(value, str):
        return value
    cell = WriteOnlyCell(sheet, value=value)
    cell.data_type = "s"
    return cell


def _letters(place: int) -> str:
    found = ""
    place += 1
    while place:
        place, rest = divmod(place - 1, 26)
        found = chr(65 + rest) + found
    return found
