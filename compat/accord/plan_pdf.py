"""The plan as a PDF/A made from its data file alone, with that file attached.

The copy that is signed has an empty field for each side on its first page; a draft, and a copy of a plan that no longer
holds, say so on every page.
"""

from __future__ import annotations

from django.template.loader import render_to_string

from compat.accord.pdf_making import Mark, Page, data_address, made_at, marked_page, page_to_sign
from compat.accord.plan_file import AUTHORITY_NAME, DATA_FILE_NAME, SIGNATURES_NAME, PlanFile
from compat.accord.plan_picture import diagram_picture
from compat.accord.plan_view import plan_view

_STYLES = ("plan.css", "plan_tables.css")
DRAFT = Mark("DRAFT, NOT SIGNED", "This is a draft: not signed by both sides, so it is no plan to work by.")


def pdf_to_sign(file: PlanFile) -> bytes:
    """Return the PDF/A-3b of a data file with an empty signature field for each side.

    Raises PdfUnavailableError where Pango is missing.
    """
    return page_to_sign(Page(file, plan_html(file, None), _STYLES))


def marked_pdf(file: PlanFile, mark: Mark, original: bytes | None = None) -> bytes:
    """Return a PDF/A-3b with ``mark`` on every page, and with the signed plan attached where there is one."""
    return marked_page(Page(file, plan_html(file, mark), _STYLES), mark, original)


def plan_html(file: PlanFile, mark: Mark | None = None) -> str:
    """Return the plan as the page that is printed, pictures included; without a mark it is the copy to sign."""
    diagram = file.payload["diagram"]
    return render_to_string(
        "accord/plan/plan.html",
        {
            **plan_view(file),
            "mark": mark,
            "made_at": made_at(file).isoformat(),
            "data_file_name": DATA_FILE_NAME,
            "signatures_name": SIGNATURES_NAME,
            "authority_name": AUTHORITY_NAME,
            "diagram_source": data_address(diagram_picture(diagram)) if diagram else "",
        },
    )
