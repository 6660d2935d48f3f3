"""The plan as a PDF/A made from its data file alone, with that file attached.

It reads no row and no address, and the same data file gives the same bytes each time.
"""

from __future__ import annotations

import base64
import importlib
from datetime import UTC, datetime
from pathlib import Path
from types import ModuleType
from typing import Any

from django.conf import settings
from django.template.loader import render_to_string

from compat.accord.plan_file import PlanFile, read_envelope, read_statement
from compat.accord.plan_picture import diagram_picture
from compat.accord.plan_view import plan_view
from shared.calc.errors import AccordError
from shared.canonical import sha256_hex

INSTALL_LINE = (
    "apt-get install -y --no-install-recommends libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 fonts-dejavu-core"
)
DATA_FILE_NAME = "plan.json"
_STYLES = ("plan.css", "plan_tables.css")


class PdfUnavailableError(AccordError):
    """This machine can't make a PDF; the sentence says what to install."""


def plan_pdf(data_file: bytes) -> bytes:
    """Return the PDF/A-3b of a data file, signed or draft, with the data file attached.

    Raises PdfUnavailableError where Pango is missing, PlanFileError for a file that is no plan.
    """
    file = read_envelope(data_file)
    weasyprint = _weasyprint()
    fetcher = _no_fetching(weasyprint)
    style = weasyprint.CSS(string=_style_text(), url_fetcher=fetcher)
    page = weasyprint.HTML(string=plan_html(file), url_fetcher=fetcher)
    return bytes(
        page.write_pdf(
            pdf_variant="pdf/a-3b",
            pdf_identifier=sha256_hex(data_file).encode("ascii"),
            stylesheets=[style],
            attachments=[_attachment(weasyprint, file, data_file)],
        )
    )


def plan_html(file: PlanFile) -> str:
    """Return the plan as the page that is printed, pictures included."""
    diagram = file.payload["diagram"]
    return render_to_string(
        "accord/plan/plan.html",
        {
            **plan_view(file),
            "made_at": _made_at(file).isoformat(),
            "data_file_name": DATA_FILE_NAME,
            "diagram_source": _data_address(diagram_picture(diagram)) if diagram else "",
        },
    )


def _weasyprint() -> ModuleType:
    """Import the renderer only when it is needed: it loads Pango, which a machine may lack."""
    try:
        return importlib.import_module("weasyprint")
    except OSError as error:
        raise PdfUnavailableError(
            f"A PDF needs Pango from the operating system, which is missing here. On Debian or Ubuntu: {INSTALL_LINE}"
        ) from error


def _no_fetching(weasyprint: ModuleType) -> Any:
    """Return a fetcher that refuses everything but what the page itself carries."""
    return weasyprint.urls.URLFetcher(allowed_protocols={"data"}, allow_redirects=False, fail_on_errors=True)


def _style_text() -> str:
    folder = Path(settings.BASE_DIR) / "templates" / "static"
    return "\n".join((folder / name).read_text(encoding="utf-8") for name in _STYLES)


def _data_address(svg: bytes) -> str:
    return "data:image/svg+xml;base64," + base64.b64encode(svg).decode("ascii")


def _attachment(weasyprint: ModuleType, file: PlanFile, data_file: bytes) -> Any:
    made_at = _made_at(file)
    return weasyprint.Attachment(
        string=data_file,
        name=DATA_FILE_NAME,
        description="The plan's signed bytes with their signatures",
        created=made_at,
        modified=made_at,
        relationship="Data",
    )


def _made_at(file: PlanFile) -> datetime:
    """Return the time of the last signature, or of preparation for a draft."""
    times = [read_statement(signed.statement)["signed_at"] for signed in file.signatures]
    times.append(file.payload["accord"]["prepared_at"])
    return max(datetime.fromisoformat(text).astimezone(UTC) for text in times)
