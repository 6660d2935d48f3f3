"""Signatures in the plan's PDF: PAdES (ETSI EN 319 142), first the one side's, then the other's (pure: no Django).

The first signature certifies the document and leaves both signature fields to be filled; the second is an incremental
update, so that the bytes which the first covers stay as they are. Each field shows what is given as a small PDF.
"""

from __future__ import annotations

import io
from collections.abc import Mapping
from datetime import UTC, datetime
from tempfile import NamedTemporaryFile

from pyhanko.pdf_utils.content import ImportedPdfPage
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.pdf_utils.layout import AxisAlignment, Margins, SimpleBoxLayoutRule
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign.fields import MDPPerm, SigFieldSpec, SigSeedSubFilter, append_signature_field, enumerate_sig_fields
from pyhanko.sign.signers import PdfSignatureMetadata, PdfSigner
from pyhanko.sign.signers.pdf_signer import PdfSigningSession
from pyhanko.sign.timestamps import TimeStamper
from pyhanko.stamp import StaticStampStyle

from compat.accord.checklist.item import Side
from compat.accord.cms_signature import DIGEST, PersonSigner, run

FIELD_NAMES = {side: f"signature-{side}" for side in Side}
_AS_IT_IS = SimpleBoxLayoutRule(AxisAlignment.ALIGN_MIN, AxisAlignment.ALIGN_MAX, margins=Margins.uniform(0))
Box = tuple[int, int, int, int]
"""Left, bottom, right, top in points from the lower left corner of the first page."""


class _AtOneTime(PdfSigner):
    """Signs with the time that the act was given."""

    def __init__(self, *args: object, now: datetime, **options: object) -> None:
        super().__init__(*args, **options)  # type: ignore[arg-type]
        self.now = now.astimezone(UTC)

    def init_signing_session(self, *args: object, **options: object) -> PdfSigningSession:
        """Begin as usual, at the given time."""
        session = super().init_signing_session(*args, **options)  # type: ignore[arg-type]
        session.system_time = self.now
        return session


def with_fields(pdf: bytes, boxes: Mapping[Side, Box]) -> bytes:
    """Return the PDF with an empty signature field for each side on its first page."""
    writer = IncrementalPdfFileWriter(io.BytesIO(pdf))
    for side, box in boxes.items():
        append_signature_field(writer, SigFieldSpec(FIELD_NAMES[side], box=box, on_page=0))
    return _written(writer)


def field_size(pdf: bytes, side: Side) -> tuple[int, int]:
    """Return width and height in points of the signature field of a side."""
    for name, _, field in enumerate_sig_fields(PdfFileReader(io.BytesIO(pdf))):
        if name == FIELD_NAMES[side]:
            left, bottom, right, top = (int(corner) for corner in field.get_object()["/Rect"])
            return right - left, top - bottom
    raise ValueError(f"The PDF has no field for the signature of the {side}.")


def sign_pdf(
    pdf: bytes,
    signer: PersonSigner,
    *,
    now: datetime,
    statement: str,
    shown: bytes,
    first: bool,
    timestamper: TimeStamper | None = None,
) -> bytes:
    """Return the PDF with one more signature, in the field of the signer's side.

    ``shown`` is a PDF of one page that is drawn into the field; ``first`` tells that nobody signed before.
    """
    metadata = PdfSignatureMetadata(
        field_name=FIELD_NAMES[signer.office.side],
        md_algorithm=DIGEST,
        subfilter=SigSeedSubFilter.PADES,
        reason=f"{signer.office.title}: {statement}",
        name=signer.subject_name,
        certify=first,
        docmdp_permissions=MDPPerm.FILL_FORMS,
    )
    with NamedTemporaryFile(suffix=".pdf") as file:  # the library takes what a field shows from a file only
        file.write(shown)
        file.flush()
        style = StaticStampStyle(background=ImportedPdfPage(file.name), background_layout=_AS_IT_IS, border_width=0)
        pdf_signer = _AtOneTime(metadata, signer=signer, timestamper=timestamper, stamp_style=style, now=now)
        made = pdf_signer.async_sign_pdf(IncrementalPdfFileWriter(io.BytesIO(pdf)), existing_fields_only=True)
        return bytes(run(made).getvalue())


def _written(writer: IncrementalPdfFileWriter) -> bytes:
    held = io.BytesIO()
    writer.write(held)
    return held.getvalue()
