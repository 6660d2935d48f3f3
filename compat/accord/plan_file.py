"""The data file of a plan: the exact signed texts in one JSON document (pure: no Django)."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from compat.accord.checklist.item import Side
from compat.accord.plan_document import PAYLOAD_TYPE, SCHEMA_VERSION, utc_text
from shared.calc.errors import InputError
from shared.canonical import canonical_bytes, sha256_hex
from shared.signing import ALGORITHM

FILE_TYPE = "berth-accord-plan-file"
STATEMENT_TYPE = "berth-accord-signature"
LARGEST_FILE_BYTES = 20_000_000

_FILE_KEYS = {"type", "schema_version", "payload", "signatures", "algorithm", "public_key_pem"}
_SIGNATURE_KEYS = {"statement", "signature"}


class PlanFileError(InputError):
    """A data file that can't be read as a plan, with a sentence that says why."""


@dataclass(frozen=True)
class SignedStatement:
    """The exact bytes that one person signed, and the base64 signature over them."""

    statement: bytes
    signature: str


@dataclass(frozen=True)
class PlanFile:
    """A data file as read: the exact payload bytes with their parsed form, and the signatures."""

    payload_bytes: bytes
    payload: dict[str, Any]
    signatures: tuple[SignedStatement, ...]
    public_key_pem: str

    @property
    def sha256(self) -> str:
        """Return the SHA-256 of the signed payload in hexadecimal."""
        return sha256_hex(self.payload_bytes)


def signature_statement(
    *,
    payload_sha256: str,
    side: Side,
    person: str,
    organisation: str,
    title: str,
    signed_at: datetime,
    statement: str,
) -> bytes:
    """Return the canonical bytes that one person signs: who, for whom, when, what, and the payload's hash."""
    return canonical_bytes(
        {
            "type": STATEMENT_TYPE,
            "schema_version": SCHEMA_VERSION,
            "payload_sha256": payload_sha256,
            "side": str(side),
            "person": person,
            "organisation": organisation,
            "title": title,
            "signed_at": utc_text(signed_at),
            "statement": statement,
        }
    )


def envelope(payload: bytes, signatures: Sequence[SignedStatement], public_key_pem: str) -> bytes:
    """Return the data file: the exact texts that were hashed and signed, the signatures, and the public key.

    Without signatures it is a draft. The public key is for information: a reader verifies with the key that the
    installation published elsewhere.
    """
    return canonical_bytes(
        {
            "type": FILE_TYPE,
            "schema_version": SCHEMA_VERSION,
            "payload": payload.decode("utf-8"),
            "signatures": [
                {"statement": signed.statement.decode("utf-8"), "signature": signed.signature} for signed in signatures
            ],
            "algorithm": ALGORITHM,
            "public_key_pem": public_key_pem,
        }
    )


def read_envelope(data: bytes) -> PlanFile:
    """Read a data file; raise PlanFileError with a sentence for anything but a whole file of a known version."""
    outer = _canonical_object(data, "The file")
    _check_kind(outer, FILE_TYPE, "The file")
    if set(outer) != _FILE_KEYS:
        odd = ", ".join(sorted(set(outer) ^ _FILE_KEYS))
        raise PlanFileError(f"The file does not have the parts of a data file: {odd}.")
    if not isinstance(outer["payload"], str) or not isinstance(outer["public_key_pem"], str):
        raise PlanFileError("The file does not carry its payload and public key as text.")
    if outer["algorithm"] != ALGORITHM:
        raise PlanFileError(f"The file was signed by a method that this program does not know: {outer['algorithm']!r}.")
    payload_bytes = outer["payload"].encode("utf-8")
    return PlanFile(
        payload_bytes=payload_bytes,
        payload=read_payload(payload_bytes),
        signatures=_signatures(outer["signatures"]),
        public_key_pem=outer["public_key_pem"],
    )


def read_payload(data: bytes) -> dict[str, Any]:
    """Read the payload of a plan; raise PlanFileError with a sentence for another document or version."""
    payload = _canonical_object(data, "The plan")
    _check_kind(payload, PAYLOAD_TYPE, "The plan")
    return payload


def read_statement(data: bytes) -> dict[str, Any]:
    """Read what one person signed; raise PlanFileError with a sentence for another document or version."""
    statement = _canonical_object(data, "A signature's statement")
    _check_kind(statement, STATEMENT_TYPE, "A signature's statement")
    return statement


def _signatures(found: object) -> tuple[SignedStatement, ...]:
    if not isinstance(found, list):
        raise PlanFileError("The file does not carry a list of signatures.")
    signatures = []
    for one in found:
        if not isinstance(one, dict) or set(one) != _SIGNATURE_KEYS:
            raise PlanFileError("A signature in the file does not have the parts statement and signature.")
        if not isinstance(one["statement"], str) or not isinstance(one["signature"], str):
            raise PlanFileError("A signature in the file is not text.")
        signatures.append(SignedStatement(one["statement"].encode("utf-8"), one["signature"]))
    return tuple(signatures)


def _canonical_object(data: bytes, name: str) -> dict[str, Any]:
    if len(data) > LARGEST_FILE_BYTES:
        raise PlanFileError(f"{name} holds {len(data):,} bytes; a data file has at most {LARGEST_FILE_BYTES:,}.")
    if data.startswith(b"%PDF-"):
        raise PlanFileError(
            f"{name} is a PDF; what is signed is its data file. Save the attachment from a PDF reader, or run"
            " “pdfdetach -saveall” on it, and verify that file."
        )
    try:
        found = json.loads(data.decode("utf-8"))
    except (UnicodeDecodeError, ValueError, RecursionError):
        raise PlanFileError(f"{name} is not whole JSON text: it was changed, cut short, or is another file.") from None
    if not isinstance(found, dict):
        raise PlanFileError(f"{name} holds no JSON object; a plan does.")
    try:
        rebuilt = canonical_bytes(found)
    except InputError as error:
        raise PlanFileError(f"{name} has no canonical form: {error}") from error
    if rebuilt != data:
        raise PlanFileError(f"{name} is not in canonical form (RFC 8785); its bytes were changed since it was written.")
    return found


def _check_kind(found: Mapping[str, Any], kind: str, name: str) -> None:
    if found.get("type") != kind:
        raise PlanFileError(f"{name} is of type {found.get('type')!r}, not {kind!r}.")
    version = found.get("schema_version")
    major = version.partition(".")[0] if isinstance(version, str) else ""
    if not major.isdigit():
        raise PlanFileError(f"{name} states no version that can be read: {version!r}.")
    if major != SCHEMA_VERSION.partition(".")[0]:
        raise PlanFileError(
            f"{name} is of version {version}; this program reads version {SCHEMA_VERSION.partition('.')[0]}."
            " Use the program that wrote it, or a later one."
        )
