"""Pages on which readings come in as a table."""

from __future__ import annotations

import json
from datetime import datetime
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from compat.accord.checklist.item import Side
from compat.accord.permissions import check_acting_side
from compat.record.doubts import value_doubts
from compat.record.forms import ImportConfirmForm, ImportForm
from compat.record.importing import Row, read_table, read_text, readings_in, template
from compat.record.models import Source
from compat.record.pages import Kept, address_of, base_context, case_of, kept_of
from compat.record.taking import standing_readings, take_reading
from shared.calc.errors import AccordError, InputError
from shared.quantities import plain_text
from shared.reading import DocumentError

form_page = require_http_methods(["GET", "POST"])


@require_GET
def import_template(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Give an empty table with the columns of one's own side, in one's own units."""
    kept = kept_of(request, public_id)
    side = check_acting_side(kept.person, kept.record.accord)
    return HttpResponse(
        template(case_of(kept), side, kept.person.units),
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": 'attachment; filename="readings.csv"'},
    )


@form_page
def import_readings(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Take a table: first what it holds and what is asked about it, then the readings themselves."""
    kept = kept_of(request, public_id)
    side = check_acting_side(kept.person, kept.record.accord)
    if "table" in request.POST:
        return _take(request, kept, side)
    form = ImportForm(request.POST or None, request.FILES or None)
    if form.is_valid():
        try:
            return _preview(request, kept, side, _cells(form))
        except DocumentError as error:
            for problem in error.problems[:30]:
                form.add_error(None, problem)
    return render(request, "record/import.html", base_context(kept) | {"form": form})


def _cells(form: ImportForm) -> list[list[Any]]:
    file = form.cleaned_data.get("file")
    if file:
        return read_table(file.read(), (file.name or "The file")[:60])
    return read_text(form.cleaned_data["pasted"])


def _preview(request: HttpRequest, kept: Kept, side: Side, cells: list[list[Any]]) -> HttpResponse:
    rows = readings_in(cells, case_of(kept), side)
    table = json.dumps([[_cell(cell) for cell in row] for row in cells])
    questions = _questions(kept, side, rows)
    context = base_context(kept) | {
        "form": ImportConfirmForm(initial={"table": table}),
        "rows": rows,
        "questions": questions,
    }
    return render(request, "record/import_preview.html", context)


def _cell(cell: Any) -> str:
    return cell.strftime("%Y-%m-%d %H:%M") if isinstance(cell, datetime) else "" if cell is None else str(cell)


def _questions(kept: Kept, side: Side, rows: list[Row]) -> list[str]:
    case = case_of(kept)
    first = standing_readings(kept.record).filter(side=side, at__lt=rows[0].at).order_by("-at").first()
    before = first.values if first else None
    found = []
    for row in rows:
        values = {key: plain_text(value) for key, value in row.values.items()}
        found += [f"Row {row.number}: {question}" for question in value_doubts(case, values, before)]
        before = values
    return found


def _take(request: HttpRequest, kept: Kept, side: Side) -> HttpResponse:
    form = ImportConfirmForm(request.POST)
    try:
        if not form.is_valid():
            raise InputError("The table was lost on its way; send it again.")
        cells = json.loads(form.cleaned_data["table"])
        if not isinstance(cells, list) or not all(isinstance(row, list) for row in cells):
            raise InputError("The table was damaged on its way; send it again.")
        rows = readings_in(cells, case_of(kept), side)
        if _questions(kept, side, rows) and not form.cleaned_data["confirmed"]:
            messages.error(request, "Look at the questions and confirm the values, or correct the table.")
            return _preview(request, kept, side, cells)
        drifted = sum(_kept(kept, row) for row in rows)
    except (AccordError, ValueError, TypeError) as error:
        messages.error(request, str(error) if isinstance(error, AccordError) else "The table was damaged on its way.")
        return redirect("record-import", kept.shown.public_id)
    said = f"{len(rows)} readings are kept"
    messages.success(request, f"{said}; {drifted} drifted from the plan." if drifted else f"{said}.")
    return redirect(address_of(kept, "readings"))


def _kept(kept: Kept, row: Row) -> bool:
    reading = take_reading(
        by=kept.person,
        now=timezone.now(),
        record=kept.record,
        at=row.at,
        values=row.values,
        typed=row.typed,
        remark=row.remark,
        confirmed=True,
        source=Source.IMPORTED,
    )
    return reading.drifted
