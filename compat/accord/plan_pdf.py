"""The plan as a PDF/A made from its data file alone, with that file attached.

It reads no row and no address, and the same data file gives the same pages each time. The copy that is signed has an
empty field for each side on its first page; a draft, and a copy of a plan that no longer holds, say so on every page.
"""

from __future__ import annotations

import base64
import importlib
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from types import ModuleType
from typing import Any

from django.conf import settings
from django.template.loader import render_to_string

from compat.accord.checklist.item import Side
from compat.accord.pdf_signature import Box, field_size, with_fields
from compat.accord.pdf_verifying import ORIGINAL_NAME
from compat.accord.plan_file import AUTHORITY_NAME, DATA_FILE_NAME, SIGNATURES_NAME, PlanFile, SignedBy
from compat.accord.plan_picture import diagram_picture
from compat.accord.plan_view import moment_words, plan_view
from shared.calc.errors import AccordError
from shared.canonical import sha256_hex

INSTALL_LINE = (
    "apt-get install -y --no-install-recommends libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 fonts-dejavu-core"
)
_VARIANT = "pdf/a-3b"
_STYLES = ("plan.css", "plan_tables.css")
_POINTS_PER_PX = 0.75  # CSS Values and Units, section 6.2: 96 px and 72 pt are one inch


class PdfUnavailableError(AccordError):
    """This machine can't make a PDF; the sentence says what to install."""


@dataclass(frozen=True)
class Mark:
    """What stands on every page of a copy that does not hold as a plan: one word or two, and a sentence."""

    short: str
    words: str


DRAFT = Mark("DRAFT, NOT SIGNED", "This is a draft: not signed by both sides, so it is no plan to work by.")


def pdf_to_sign(file: PlanFile) -> bytes:
    """Return the PDF/A-3b of a data file with an empty signature field for each side.

    Raises PdfUnavailableError where Pango is missing.
    """
    weasyprint = _weasyprint()
    document = _rendered(weasyprint, file, None)
    pdf = _written(weasyprint, document, file, "", {})
    return with_fields(pdf, {side: _box(document.pages[0], f"field-{side}") for side in Side})


def marked_pdf(file: PlanFile, mark: Mark, original: bytes | None = None) -> bytes:
    """Return a PDF/A-3b with ``mark`` on every page, and with the signed plan attached where there is one."""
    weasyprint = _weasyprint()
    attached = {ORIGINAL_NAME: original} if original is not None else {}
    return _written(weasyprint, _rendered(weasyprint, file, mark), file, f"{mark.short} {mark.words}", attached)


def signature_picture(pdf: bytes, signed: SignedBy) -> bytes:
    """Return what the field of one side shows once it is signed, as a PDF of one page of the field's size."""
    weasyprint = _weasyprint()
    width, height = field_size(pdf, signed.side)
    fetcher = _fetcher(weasyprint)
    size = f"@page {{ size: {width}pt {height}pt; margin: 0; }}"
    style = weasyprint.CSS(string=_style_text("plan_field.css") + size, url_fetcher=fetcher)
    text = render_to_string("accord/plan/field.html", {"signed": signed, "at": moment_words(signed.signed_at)})
    return bytes(weasyprint.HTML(string=text, url_fetcher=fetcher).write_pdf(stylesheets=[style]))


def plan_html(file: PlanFile, mark: Mark | None = None) -> str:
    """Return the plan as the page that is printed, pictures included; without a mark it is the copy to sign."""
    diagram = file.payload["diagram"]
    return render_to_string(
        "accord/plan/plan.html",
        {
            **plan_view(file),
            "mark": mark,
            "made_at": _made_at(file).isoformat(),
            "data_file_name": DATA_FILE_NAME,
            "signatures_name": SIGNATURES_NAME,
            "authority_name": AUTHORITY_NAME,
            "diagram_source": _data_address(diagram_picture(diagram)) if diagram else "",
        },
    )


def _rendered(weasyprint: ModuleType, file: PlanFile, mark: Mark | None) -> Any:
    fetcher = _fetcher(weasyprint)
    style = weasyprint.CSS(string=_style_text(*_STYLES), url_fetcher=fetcher)
    page = weasyprint.HTML(string=plan_html(file, mark), url_fetcher=fetcher)
    return page.render(pdf_variant=_VARIANT, stylesheets=[style])


def _written(weasyprint: ModuleType, document: Any, file: PlanFile, told: str, attached: dict[str, bytes]) -> bytes:
    made_at = _made_at(file)
    document.metadata.attachments = [
        weasyprint.Attachment(
            string=data, name=name, description=what, created=made_at, modified=made_at, relationship=relationship
        )
        for name, data, what, relationship in (
            (DATA_FILE_NAME, file.data, "The plan as data: the bytes that both sides sign", "Data"),
            *((name, data, "The plan as it was signed", "Source") for name, data in attached.items()),
        )
    ]
    identifier = sha256_hex(file.data + told.encode("utf-8")).encode("ascii")
    return bytes(document.write_pdf(pdf_variant=_VARIANT, pdf_identifier=identifier))


def _box(page: Any, name: str) -> Box:
    """Return where an element stands, from the lower left corner in points, as a signature field wants it."""
    left, top, right, bottom = page.anchors[name]
    corners = (left, page.height - bottom, right, page.height - top)
    x1, y1, x2, y2 = (round(corner * _POINTS_PER_PX) for corner in corners)
    return x1, y1, x2, y2


def _weasyprint() -> ModuleType:
    """Import the renderer only when it is needed: it loads Pango, which a machine may lack."""
    try:
        return importlib.import_module("weasyprint")
    except OSError as error:
        raise PdfUnavailableError(
            f"A PDF needs Pango from the operating system, which is missing here. On Debian or Ubuntu: {INSTALL_LINE}"
        ) from error


def _fetcher(weasyprint: ModuleType) -> Any:
    """Return a fetcher that refuses everything but what the page itself carries."""
    return weasyprint.urls.URLFetcher(allowed_protocols={"data"}, allow_redirects=False, fail_on_errors=True)


def _style_text(*names: str) -> str:
    folder = Path(settings.BASE_DIR) / "templates" / "static"
    return "\n".join((folder / name).read_text(encoding="utf-8") for name in names)


def _data_address(svg: bytes) -> str:
    return "data:image/svg+xml;base64," + base64.b64encode(svg).decode("ascii")


def _made_at(file: PlanFile) -> datetime:
    """Return when the data file was prepared: its PDF bears no later time, so that it is the same each time."""
    return datetime.fromisoformat(file.payload["accord"]["prepared_at"]).astimezone(UTC)
