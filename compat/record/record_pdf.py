"""The record as a PDF/A made from its data file alone, with that file attached; made and signed as a plan is."""

from __future__ import annotations

from django.template.loader import render_to_string

from compat.accord.pdf_making import Mark, Page, data_address, made_at, marked_page, page_to_sign
from compat.accord.plan_file import AUTHORITY_NAME, RECORD, PlanFile
from compat.record.pictures import record_picture
from compat.record.record_view import drawn, record_view
from shared.pictures import PictureUnits

_STYLES = ("plan.css", "plan_tables.css", "record_print.css")
SIGNATURES_NAME = f"{RECORD.file_name}.p7s"
DRAFT = Mark("DRAFT, NOT SIGNED", "This is a draft: not signed by both sides.")


def pdf_to_sign(file: PlanFile) -> bytes:
    """Return the PDF/A-3b of a record's data file with an empty signature field for each side.

    Raises PdfUnavailableError where Pango is missing.
    """
    return page_to_sign(Page(file, record_html(file), _STYLES))


def draft_pdf(file: PlanFile) -> bytes:
    """Return what is ready to sign as a PDF marked as a draft."""
    return marked_page(Page(file, record_html(file, DRAFT), _STYLES), DRAFT)


def record_html(file: PlanFile, mark: Mark | None = None) -> str:
    """Return the record as the page that is printed, picture included; without a mark it is the copy to sign."""
    shown = drawn(file.payload)
    picture = record_picture(shown, title="Rate and manifold pressure, as read", units=PictureUnits()) if shown else b""
    return render_to_string(
        "record/print/record.html",
        {
            **record_view(file),
            "mark": mark,
            "made_at": made_at(file).isoformat(),
            "picture": data_address(picture) if picture else "",
            "data_file_name": RECORD.file_name,
            "signatures_name": SIGNATURES_NAME,
            "authority_name": AUTHORITY_NAME,
        },
    )
