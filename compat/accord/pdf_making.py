"""Makes PDF/A from a page, with the data file attached, and the fields in which both sides sign.

It reads no row and no address, and the same data file gives the same pages each time. A copy that does not hold says
so on every page.
"""

from __future__ import annotations

import base64
import gc
import importlib
from collections.abc import Iterator
from contextlib import contextmanager
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
from compat.accord.plan_file import PlanFile, SignedBy
from compat.accord.plan_view import moment_words
from shared.calc.errors import AccordError
from shared.canonical import sha256_hex

INSTALL_LINE = (
    "apt-get install -y --no-install-recommends libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 fonts-dejavu-core"
)
_VARIANT = "pdf/a-3b"
_POINTS_PER_PX = 0.75  # CSS Values and Units, section 6.2: 96 px and 72 pt are one inch


class PdfUnavailableError(AccordError):
    """This machine can't make a PDF; the sentence says what to install."""


@dataclass(frozen=True)
class Mark:
    """What stands on every page of a copy that does not hold: one word or two, and a sentence."""

    short: str
    words: str


@dataclass(frozen=True)
class Page:
    """A data file as the page that is printed, and the style sheets that it is printed with."""

    file: PlanFile
    html: str
    styles: tuple[str, ...]


def page_to_sign(page: Page) -> bytes:
    """Return the PDF/A-3b of a page with an empty signature field for each side, where the page has their places.

    Raises PdfUnavailableError where Pango is missing.
    """
    weasyprint = _weasyprint()
    with _garbage_left():
        return _drawn_to_sign(weasyprint, page)


def _drawn_to_sign(weasyprint: ModuleType, page: Page) -> bytes:
    document = _rendered(weasyprint, page)
    pdf = _written(weasyprint, document, page.file, "", {})
    return with_fields(pdf, {side: _box(document.pages[0], f"field-{side}") for side in Side})


def marked_page(page: Page, mark: Mark, original: bytes | None = None) -> bytes:
    """Return a PDF/A-3b of a page that carries ``mark``, with what was signed attached where there is such."""
    weasyprint = _weasyprint()
    attached = {ORIGINAL_NAME: original} if original is not None else {}
    with _garbage_left():
        return _written(weasyprint, _rendered(weasyprint, page), page.file, f"{mark.short} {mark.words}", attached)


@contextmanager
def _garbage_left() -> Iterator[None]:
    """Leave garbage until a document is drawn: looking for it among all its boxes takes a fifth of the time."""
    collects = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collects:
            gc.enable()


def signature_picture(pdf: bytes, signed: SignedBy) -> bytes:
    """Return what the field of one side shows once it is signed, as a PDF of one page of the field's size."""
    weasyprint = _weasyprint()
    width, height = field_size(pdf, signed.side)
    fetcher = _fetcher(weasyprint)
    size = f"@page {{ size: {width}pt {height}pt; margin: 0; }}"
    style = weasyprint.CSS(string=_style_text("plan_field.css") + size, url_fetcher=fetcher)
    text = render_to_string("accord/plan/field.html", {"signed": signed, "at": moment_words(signed.signed_at)})
    return bytes(weasyprint.HTML(string=text, url_fetcher=fetcher).write_pdf(stylesheets=[style]))


def made_at(file: PlanFile) -> datetime:
    """Return when the data file was prepared: its PDF bears no later time, so that it is the same each time."""
    return datetime.fromisoformat(file.payload["accord"]["prepared_at"]).astimezone(UTC)


def data_address(svg: bytes) -> str:
    """Return a picture as an address that carries the picture itself."""
    return "data:image/svg+xml;base64," + base64.b64encode(svg).decode("ascii")


def _rendered(weasyprint: ModuleType, page: Page) -> Any:
    fetcher = _fetcher(weasyprint)
    style = weasyprint.CSS(string=_style_text(*page.styles), url_fetcher=fetcher)
    html = weasyprint.HTML(string=page.html, url_fetcher=fetcher)
    return html.render(pdf_variant=_VARIANT, stylesheets=[style])


def _written(weasyprint: ModuleType, document: Any, file: PlanFile, told: str, attached: dict[str, bytes]) -> bytes:
    at = made_at(file)
    whole = f"The {file.kind.word} as data: the bytes that both sides sign"
    document.metadata.attachments = [
        weasyprint.Attachment(
            string=data, name=name, description=what, created=at, modified=at, relationship=relationship
        )
        for name, data, what, relationship in (
            (file.kind.file_name, file.data, whole, "Data"),
            *((name, data, f"The {file.kind.word} as it was signed", "Source") for name, data in attached.items()),
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
