"""Verifies a plan or a record, as PDF or as data file with signatures, with the authority's certificate alone (pure).

No database and no server is asked. pyHanko judges each signature; what no signature covers is compared byte for byte
with how this program writes it.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Iterator
from datetime import UTC, datetime

from asn1crypto import cms
from asn1crypto import x509 as asn1_x509
from cryptography import x509
from cryptography.hazmat.primitives import serialization
from cryptography.x509.oid import NameOID
from pyhanko.pdf_utils.misc import PdfError
from pyhanko.sign.validation.errors import SignatureValidationError
from pyhanko.sign.validation.generic_cms import async_validate_detached_cms
from pyhanko.sign.validation.status import StandardCMSSignatureStatus
from pyhanko_certvalidator import ValidationContext

from compat.accord.checklist.item import Side
from compat.accord.cms_signature import (
    Office,
    SignatureFileError,
    certificate_of,
    office_of,
    run,
    signing_time,
    split,
)
from compat.accord.plan_document import utc_text
from compat.accord.plan_file import PlanFile, PlanFileError, read_signed
from compat.accord.verdict import SignatureVerdict, Verdict
from compat.accord.watch_verifying import watch_problems

UNREADABLE = (
    PdfError,
    SignatureValidationError,
    SignatureFileError,
    ValueError,
    TypeError,
    LookupError,
    AttributeError,
    ArithmeticError,
    AssertionError,
    NotImplementedError,
    RecursionError,
    EOFError,
    OSError,
    zlib.error,
)
"""What a reader of changed bytes may come upon, wherever in the file they are."""


def verify_data(data: bytes, signatures: bytes, authority: x509.Certificate) -> Verdict:
    """Verify a data file with its file of detached signatures; damaged files give a verdict that does not hold."""
    try:
        file = read_signed(data)
    except PlanFileError as error:
        return Verdict(None, file_problems=(str(error),))
    try:
        signed = split(signatures)
    except SignatureFileError as error:
        return Verdict(file, file_problems=(str(error),))
    return verdict_of(file, [_detached(file, one, authority) for one in signed], watches_judged(file, authority))


def watches_judged(file: PlanFile, authority: x509.Certificate) -> tuple[str, ...]:
    """Return what is wrong with the signed changes of watch that a record carries."""

    def judge(statement: bytes, signed: cms.SignedData) -> str:
        at = signing_time(signed["signer_infos"][0])
        context = context_for(authority, at)
        checked = async_validate_detached_cms(
            statement, signed, signer_validation_context=context, ts_validation_context=None
        )
        status: StandardCMSSignatureStatus = run(checked)
        named = _named(certificate_of(signed), NameOID.COMMON_NAME)
        if not (status.intact and status.valid and status.trusted):
            return "does not hold: something was changed since, or another authority certified its signer."
        said = json.loads(statement)
        return "" if (named, utc_text(at)) == (said["person"], said["at"]) else "is of another person or time."

    return tuple(watch_problems(file, judge))


def verdict_of(
    file: PlanFile, signatures: list[SignatureVerdict], problems: tuple[str, ...] = (), told: tuple[str, ...] = ()
) -> Verdict:
    """Return the verdict over the signatures of a plan."""
    sides = [one.side for one in signatures if one.valid]
    twice = tuple(f"There are two signatures for the {side}." for side in Side if sides.count(side) > 1)
    return Verdict(file, tuple(signatures), (*problems, *twice), told)


def context_for(authority: x509.Certificate, moment: datetime) -> ValidationContext:
    """Return the trust in one authority, at the time of signing: a certificate may have run out since."""
    root = asn1_x509.Certificate.load(authority.public_bytes(serialization.Encoding.DER))
    return ValidationContext(trust_roots=[root], moment=moment, best_signature_time=moment, allow_fetching=False)


def judged(
    file: PlanFile,
    signed: cms.SignedData,
    office: Office,
    at: datetime,
    status: StandardCMSSignatureStatus,
    problem: str = "",
) -> SignatureVerdict:
    """Return the verdict on one signature of ``at`` with the library's status; ``problem`` is one found before."""
    certificate = certificate_of(signed)
    person, organisation = _named(certificate, NameOID.COMMON_NAME), _named(certificate, NameOID.ORGANIZATION_NAME)
    faults = _faults(file, office, organisation, at, status)
    whose = f"The signature of {person} for the {office.side}"
    found = problem or next((f"{whose} {fault}" for fault in faults), "")
    return SignatureVerdict(office.side, person, organisation, office.title, utc_text(at), found, _stamp_words(status))


def _detached(file: PlanFile, signed: cms.SignedData, authority: x509.Certificate) -> SignatureVerdict:
    try:
        office, at = office_of(signed), signing_time(signed["signer_infos"][0])
        checked = async_validate_detached_cms(
            file.data, signed, signer_validation_context=context_for(authority, at), ts_validation_context=None
        )
        return judged(file, signed, office, at, run(checked))
    except UNREADABLE as error:
        return refused(f"A signature can't be read: {error}")


def refused(problem: str) -> SignatureVerdict:
    """Return the verdict on a signature of which nothing can be told but what is wrong."""
    return SignatureVerdict(None, "", "", "", "", problem)


def _named(certificate: x509.Certificate, oid: x509.ObjectIdentifier) -> str:
    found = certificate.subject.get_attributes_for_oid(oid)
    return str(found[0].value) if len(found) == 1 else ""


def _faults(
    file: PlanFile, office: Office, organisation: str, at: datetime, status: StandardCMSSignatureStatus
) -> Iterator[str]:
    """Yield why a signature does not hold for this plan, the gravest reason first."""
    if not status.intact:
        yield "was made over other bytes than these: something was changed since."
    if not status.valid:
        yield "does not fit its signer's key: one of them was changed."
    if not status.trusted:
        yield "was not made with a key that the given authority certified for that time."
    if not _stamp_holds(status):
        yield "carries a time stamp that does not hold."
    party = file.payload.get("parties", {}).get(office.side, {}).get("organisation")
    if party is None or party[:64] != organisation:
        yield f"is for {organisation}, which is not the {file.kind.word}'s {office.side} party."
    if not follows(file, utc_text(at)):
        yield f"is dated {utc_text(at)}, before the {file.kind.word} was prepared."


def _stamp_holds(status: StandardCMSSignatureStatus) -> bool:
    stamp = status.timestamp_validity
    return stamp is None or (stamp.intact and stamp.valid)


def follows(file: PlanFile, signed_at: str) -> bool:
    """Tell whether a time in RFC 3339 is not before the {file.kind.word} was prepared."""
    try:
        return datetime.fromisoformat(signed_at) >= datetime.fromisoformat(file.payload["accord"]["prepared_at"])
    except (KeyError, TypeError, ValueError):
        return False


def _stamp_words(status: StandardCMSSignatureStatus) -> str:
    """Say what a time stamp tells; whether its service is to be trusted, the reader decides."""
    stamp = status.timestamp_validity
    if stamp is None or not _stamp_holds(status):
        return ""
    at = stamp.timestamp.astimezone(UTC)
    return f"Time stamp of {utc_text(at)} by {stamp.signing_cert.subject.human_friendly}."
