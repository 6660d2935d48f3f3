"""The data file of a plan or of a record: the canonical bytes that both sides sign (pure: no Django)."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from compat.accord.checklist.item import Side
from compat.accord.plan_document import PAYLOAD_TYPE, SCHEMA_VERSION
from shared.calc.errors import InputError
from shared.canonical import canonical_bytes, sha256_hex

LARGEST_FILE_BYTES = 20_000_000
DATA_FILE_NAME, SIGNATURES_NAME, AUTHORITY_NAME = "plan.json", "plan.json.p7s", "authority.pem"


@dataclass(frozen=True)
class Kind:
    """A kind of document that both sides sign; ``in_force`` names the act in the trail that the second one makes."""

    type: str
    schema_version: str
    file_name: str
    word: str
    in_force: str


PLAN = Kind(PAYLOAD_TYPE, SCHEMA_VERSION, DATA_FILE_NAME, "plan", "plan in force")
RECORD = Kind("berth-accord-record", "1.0", "record.json", "record", "record closed")
KINDS = (PLAN, RECORD)


class PlanFileError(InputError):
    """A file that can't be read as a plan, with a sentence that says why."""


@dataclass(frozen=True)
class SignedBy:
    """Who signed for a side, as the printed plan names them; ``signed_at`` is RFC 3339 in UTC."""

    side: Side
    person: str
    title: str
    signed_at: str


@dataclass(frozen=True)
class PlanFile:
    """A data file as read: the exact bytes with their parsed form, and who signed them as far as that is known."""

    data: bytes
    payload: dict[str, Any]
    signed: tuple[SignedBy, ...] = ()
    kind: Kind = PLAN

    @property
    def sha256(self) -> str:
        """Return the SHA-256 of the signed bytes in hexadecimal."""
        return sha256_hex(self.data)

    @property
    def title(self) -> str:
        """Return which plan this is, in a few words."""
        try:
            accord, ship, place = self.payload["accord"], self.payload["ship"], self.payload["place"]
            if self.kind is RECORD:
                return f"Record of accord {accord['reference']}, {ship['name']} at {place['berth']}"
            return f"Plan {accord['plan_number']} of accord {accord['reference']}, {ship['name']} at {place['berth']}"
        except (KeyError, TypeError):
            return self.kind.word.capitalize()


def read_plan(data: bytes, signed: tuple[SignedBy, ...] = ()) -> PlanFile:
    """Read a data file; raise PlanFileError with a sentence for another document or version."""
    payload = canonical_object(data, "The data file")
    check_kind(payload, PLAN.type, "The data file")
    return PlanFile(data, payload, signed)


def read_record(data: bytes, signed: tuple[SignedBy, ...] = ()) -> PlanFile:
    """Read the data file of a record; raise PlanFileError with a sentence for another document or version."""
    payload = canonical_object(data, "The data file")
    check_kind(payload, RECORD.type, "The data file", RECORD.schema_version)
    return PlanFile(data, payload, signed, RECORD)


def read_signed(data: bytes) -> PlanFile:
    """Read a data file of either kind; raise PlanFileError with a sentence for another document or version."""
    payload = canonical_object(data, "The data file")
    kind = next((kind for kind in KINDS if kind.type == payload.get("type")), PLAN)
    check_kind(payload, kind.type, "The data file", kind.schema_version)
    return PlanFile(data, payload, kind=kind)


def canonical_object(data: bytes, name: str) -> dict[str, Any]:
    """Return the JSON object whose canonical bytes are ``data``; raise PlanFileError for anything else."""
    if len(data) > LARGEST_FILE_BYTES:
        raise PlanFileError(f"{name} holds {len(data):,} bytes; a data file has at most {LARGEST_FILE_BYTES:,}.")
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


def check_kind(found: Mapping[str, Any], kind: str, name: str, schema_version: str = SCHEMA_VERSION) -> None:
    """Raise PlanFileError unless a document is of this kind and of a version that this program reads."""
    if found.get("type") != kind:
        raise PlanFileError(f"{name} is of type {found.get('type')!r}, not {kind!r}.")
    version = found.get("schema_version")
    major = version.partition(".")[0] if isinstance(version, str) else ""
    if not major.isdigit():
        raise PlanFileError(f"{name} states no version that can be read: {version!r}.")
    reads = schema_version.partition(".")[0]
    if major != reads:
        raise PlanFileError(
            f"{name} is of version {version}; this program reads version {reads}."
            " Use the program that wrote it, or a later one."
        )
