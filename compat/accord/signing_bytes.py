"""One person's signature as bytes, in a PDF and over its data file; nothing is locked and nothing kept here."""

from __future__ import annotations

from datetime import datetime

from django.conf import settings

from compat.accord.cms_signature import Office, PersonSigner, sign_data
from compat.accord.keys import OpenedKey
from compat.accord.pdf_making import signature_picture
from compat.accord.pdf_signature import sign_pdf
from compat.accord.plan_document import utc_text
from compat.accord.plan_file import PlanFile, SignedBy
from compat.accord.time_stamps import time_stamper
from shared.calc.errors import InputError
from shared.models import Person

LONGEST_TITLE = 120


def signed_over(
    file: PlanFile,
    before: bytes,
    key: OpenedKey,
    office: Office,
    *,
    by: Person,
    now: datetime,
    statement: str,
    first: bool,
) -> tuple[bytes, bytes]:
    """Return the PDF with a person's signature, and their detached signature over the data file.

    ``before`` is the PDF as it stood; ``first`` tells that nobody signed it yet.
    """
    stamper = time_stamper(settings.TIMESTAMP_URL)
    signer = PersonSigner(key.private, key.certificate, office)
    shown = signature_picture(before, SignedBy(office.side, by.full_name, office.title, utc_text(now)))
    pdf = sign_pdf(before, signer, now=now, statement=statement, shown=shown, first=first, timestamper=stamper)
    return pdf, sign_data(file.data, signer, now=now, timestamper=stamper)


def signature_over(data: bytes, key: OpenedKey, office: Office, *, now: datetime) -> bytes:
    """Return a person's detached signature over ``data`` alone."""
    signer = PersonSigner(key.private, key.certificate, office)
    return sign_data(data, signer, now=now, timestamper=time_stamper(settings.TIMESTAMP_URL))


def checked_title(title: str) -> str:
    """Return the office in which a person signs; raise InputError where it is missing or too long."""
    office = title.strip()
    if not office:
        raise InputError("Title is missing; write the office in which you sign, such as Chief Officer.")
    if len(office) > LONGEST_TITLE:
        raise InputError(f"Title has {len(office)} characters; allowed: up to {LONGEST_TITLE}. Shorten it.")
    return office
