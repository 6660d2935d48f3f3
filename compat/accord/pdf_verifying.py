"""Verifies the PDF of a plan or of a record: both signatures, nothing added since, the attached data file (pure)."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import replace

from cryptography import x509
from pyhanko.pdf_utils.generic import ArrayObject, DictionaryObject
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign.diff_analysis import ModificationLevel
from pyhanko.sign.validation.pdf_embedded import EmbeddedPdfSignature, async_validate_pdf_signature
from pyhanko.sign.validation.status import PdfSignatureStatus, SignatureCoverageLevel

from compat.accord.cms_signature import SignatureFileError, is_exact, load, office_of, run
from compat.accord.pdf_signature import FIELD_NAMES
from compat.accord.plan_file import KINDS, PlanFile, PlanFileError, read_signed
from compat.accord.verdict import SignatureVerdict, Verdict
from compat.accord.verifying import UNREADABLE, context_for, judged, refused, verdict_of, watches_judged

ORIGINAL_NAME = "signed-plan.pdf"
"""The name under which a marked copy carries what was signed."""


def verify_pdf(pdf: bytes, authority: x509.Certificate) -> Verdict:
    """Verify the PDF of a plan or of a record; a damaged one gives a verdict that does not hold."""
    try:
        reader = PdfFileReader(io.BytesIO(pdf))
        attached = dict(_attachments(reader))
    except UNREADABLE as error:
        return Verdict(None, file_problems=(f"The PDF can't be read: it was changed or cut short ({error}).",))
    if ORIGINAL_NAME in attached:
        inner = verify_pdf(attached[ORIGINAL_NAME], authority)
        told = "This PDF is a marked copy; what is verified here is the signed one attached to it."
        return replace(inner, told=(told, *inner.told))
    data = next((attached[kind.file_name] for kind in KINDS if kind.file_name in attached), None)
    if data is None:
        names = " or ".join(kind.file_name for kind in KINDS)
        return Verdict(None, file_problems=(f"No data file {names} is attached to the PDF.",))
    try:
        file = read_signed(data)
    except PlanFileError as error:
        return Verdict(None, file_problems=(str(error),))
    return _signatures_judged(pdf, reader, file, authority)


def _signatures_judged(pdf: bytes, reader: PdfFileReader, file: PlanFile, authority: x509.Certificate) -> Verdict:
    try:
        embedded = list(reader.embedded_signatures)
    except UNREADABLE as error:
        return Verdict(file, file_problems=(f"The signatures of the PDF can't be read: {error}.",))
    last = len(embedded) - 1
    found = [_judged(pdf, file, one, authority, is_last=place == last) for place, one in enumerate(embedded)]
    return verdict_of(file, found, watches_judged(file, authority))


def _judged(
    pdf: bytes, file: PlanFile, embedded: EmbeddedPdfSignature, authority: x509.Certificate, *, is_last: bool
) -> SignatureVerdict:
    try:
        signed = load(_contents(pdf, embedded))
        office, at = office_of(signed), embedded.self_reported_timestamp
        if at is None:
            return refused("A signature of the PDF states no time.")
        checked = async_validate_pdf_signature(embedded, signer_validation_context=context_for(authority, at))
        status: PdfSignatureStatus = run(checked)
        problem = next(_changes(status, is_last=is_last), "")
        if embedded.field_name != FIELD_NAMES[office.side]:
            problem = f"The signature for the {office.side} stands in the field {embedded.field_name}."
        return judged(file, signed, office, at, status, problem)
    except UNREADABLE as error:
        return refused(f"A signature of the PDF can't be read: {error}")


def _changes(status: PdfSignatureStatus, *, is_last: bool) -> Iterator[str]:
    """Yield what was added to the document after a signature that allows no more than another signature."""
    if not status.intact:
        return  # told with the signature
    if status.modification_level is None or status.modification_level > ModificationLevel.FORM_FILLING:
        yield "Something other than a signature was added to the PDF after it was signed."
    needed = SignatureCoverageLevel.ENTIRE_FILE if is_last else SignatureCoverageLevel.ENTIRE_REVISION
    if status.coverage < needed:
        yield "Bytes were added to the PDF after its last signature." if is_last else "A signature skips bytes."
    if not status.docmdp_ok:
        yield "The PDF was changed in a way that its first signature does not allow."


def _contents(pdf: bytes, embedded: EmbeddedPdfSignature) -> bytes:
    """Return the signature's DER; raise SignatureFileError unless it is written exactly as this program writes it.

    A signature can't cover itself, so idle bytes and another spelling of the same bytes are refused here.
    """
    _, start, end, _ = (int(number) for number in embedded.byte_range)
    text, der = pdf[start:end], embedded.pkcs7_content
    exact = der[: _length(der)]
    written = exact.hex().upper().encode("ascii").ljust(len(text) - 2, b"0")
    if text != b"<" + written + b">" or not is_exact(load(exact), exact):
        raise SignatureFileError("it is not written as this program writes it, so it was changed.")
    return exact


def _length(der: bytes) -> int:
    """Return how many bytes the outermost DER value takes; raise SignatureFileError for a length in another form."""
    size = der[1] & 0x7F
    if der[0] != 0x30 or not der[1] & 0x80 or not 1 <= size <= 3:
        raise SignatureFileError("it is no CMS signature.")
    return 2 + size + int.from_bytes(der[2 : 2 + size], "big")


def _attachments(reader: PdfFileReader) -> Iterator[tuple[str, bytes]]:
    """Yield name and bytes of each attached file."""
    held: DictionaryObject | ArrayObject = reader.root
    for key in ("/Names", "/EmbeddedFiles", "/Names"):
        held = held[key] if key in held else DictionaryObject()
    listed = list(held)
    for name, spec in zip(listed[::2], listed[1::2], strict=True):
        yield str(name), bytes(spec.get_object()["/EF"]["/F"].data)
