"""Verifies data files from before people had signing keys of their own (pure: no Django). None is made any more.

Such a file carries the plan's bytes as text, a statement for each side, and over each statement the signature of the
installation's key, which is the authority's key today.
"""

from __future__ import annotations

import base64
import binascii
from collections.abc import Iterator, Mapping
from typing import Any

from cryptography import x509
from cryptography.hazmat.primitives import serialization

from compat.accord.checklist.item import Side
from compat.accord.plan_file import PlanFile, PlanFileError, canonical_object, check_kind, read_plan
from compat.accord.verdict import SignatureVerdict, Verdict
from compat.accord.verifying import follows, refused, verdict_of
from shared.signing import ALGORITHM
from shared.signing import verify as signature_is_valid

FILE_TYPE = "berth-accord-plan-file"
STATEMENT_TYPE = "berth-accord-signature"
_TEXTS = ("payload", "public_key_pem", "algorithm")
_FILE_KEYS = {"type", "schema_version", "signatures", *_TEXTS}
_STATED = ("side", "person", "organisation", "title", "signed_at", "statement", "payload_sha256")


def is_earlier_file(data: bytes) -> bool:
    """Tell whether a data file is of the earlier kind."""
    return f'"type":"{FILE_TYPE}"'.encode("ascii") in data


def verify_earlier(data: bytes, authority: x509.Certificate) -> Verdict:
    """Verify an earlier data file; a damaged one gives a verdict that does not hold."""
    key_pem = _public_pem(authority)
    try:
        outer = _outer(data)
        file = read_plan(outer["payload"].encode("utf-8"))
    except PlanFileError as error:
        return Verdict(None, file_problems=(str(error),))
    problems: tuple[str, ...] = ()
    if outer["public_key_pem"] != key_pem:
        problems = ("The file names another key than the given authority's; it was issued elsewhere or changed.",)
    return verdict_of(file, [_judged(file, one, key_pem) for one in outer["signatures"]], problems)


def _public_pem(authority: x509.Certificate) -> str:
    public = authority.public_key()
    return public.public_bytes(serialization.Encoding.PEM, serialization.PublicFormat.SubjectPublicKeyInfo).decode(
        "ascii"
    )


def _outer(data: bytes) -> dict[str, Any]:
    outer = canonical_object(data, "The file")
    check_kind(outer, FILE_TYPE, "The file")
    whole = set(outer) == _FILE_KEYS and all(isinstance(outer[key], str) for key in _TEXTS)
    if not whole or not isinstance(outer["signatures"], list):
        raise PlanFileError("The file does not have the parts of a data file.")
    if outer["algorithm"] != ALGORITHM:
        raise PlanFileError(f"The file was signed by a method that this program does not know: {outer['algorithm']!r}.")
    return outer


def _judged(file: PlanFile, signed: object, key_pem: str) -> SignatureVerdict:
    if not isinstance(signed, dict) or {key: type(part) for key, part in signed.items()} != {
        "statement": str,
        "signature": str,
    }:
        return refused("A signature in the file does not have the parts statement and signature.")
    statement = signed["statement"].encode("utf-8")
    try:
        said = canonical_object(statement, "A signature's statement")
        check_kind(said, STATEMENT_TYPE, "A signature's statement")
    except PlanFileError as error:
        return refused(str(error))
    if not all(isinstance(said.get(key), str) for key in _STATED):
        return refused("A signature does not name its side, person and time.")
    side = next((side for side in Side if side == said["side"]), None)
    fits = _is_exact_base64(signed["signature"]) and signature_is_valid(key_pem, statement, signed["signature"])
    whose = f"The signature of {said['person']} for the {said['side']}"
    problem = next((f"{whose} {fault}" for fault in _faults(file, said, side, fits=fits)), "")
    return SignatureVerdict(side, said["person"], said["organisation"], said["title"], said["signed_at"], problem)


def _faults(file: PlanFile, said: Mapping[str, Any], side: Side | None, *, fits: bool) -> Iterator[str]:
    """Yield why a signature does not hold for this file, the gravest reason first."""
    if not fits:
        yield "does not fit its statement and this key: one of them was changed, or the key is another one."
    if said["payload_sha256"] != file.sha256:
        yield "was made over other bytes than those in this file."
    if side is None:
        yield "is for no side of a plan."
        return
    if file.payload.get("parties", {}).get(side, {}).get("organisation") != said["organisation"]:
        yield f"is for {said['organisation']}, which is not the plan's {side} party."
    if file.payload.get("statements", {}).get(side) != said["statement"]:
        yield "certifies another text than the plan states."
    if not follows(file, said["signed_at"]):
        yield f"is dated {said['signed_at']}, before the plan was prepared or in no readable form."


def _is_exact_base64(text: str) -> bool:
    """Refuse base64 whose idle last bits were changed: it decodes to the same bytes."""
    try:
        return base64.b64encode(base64.b64decode(text, validate=True)).decode("ascii") == text
    except (binascii.Error, ValueError):
        return False
