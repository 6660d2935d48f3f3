"""Who signed a plan, who is missing, and what is wrong with its data file (pure: no Django, no database)."""

from __future__ import annotations

import base64
import binascii
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from compat.accord.checklist.item import Side
from compat.accord.plan_file import PlanFile, PlanFileError, SignedStatement, read_envelope, read_statement
from shared.signing import KeyFileError, key_id_of
from shared.signing import verify as signature_is_valid


@dataclass(frozen=True)
class SignatureVerdict:
    """One signature: whose it says it is, and why it does not hold (empty where it does)."""

    side: Side | None
    person: str
    organisation: str
    title: str
    signed_at: str
    problem: str

    @property
    def valid(self) -> bool:
        """Tell whether the signature holds."""
        return not self.problem


@dataclass(frozen=True)
class Verdict:
    """The outcome for one data file; ``file_problems`` concern the file as a whole."""

    payload_sha256: str | None
    title: str
    digest_ok: bool
    signatures: tuple[SignatureVerdict, ...]
    missing: tuple[Side, ...]
    file_problems: tuple[str, ...]

    @property
    def holds(self) -> bool:
        """Tell whether both sides signed exactly these bytes."""
        return self.digest_ok and not self.missing and not self.problems

    @property
    def problems(self) -> tuple[str, ...]:
        """Return a sentence for each thing that is wrong; a missing side is not among them."""
        return self.file_problems + tuple(signature.problem for signature in self.signatures if not signature.valid)

    def sentences(self) -> list[str]:
        """Return the outcome in sentences, good and bad."""
        found = [f"{self.title}: SHA-256 of the signed bytes {self.payload_sha256}."] if self.payload_sha256 else []
        found += [
            f"Signed for the {one.side} by {one.person}, {one.title}, {one.organisation}, at {one.signed_at}."
            for one in self.signatures
            if one.valid
        ]
        found += [f"No valid signature for the {side}." for side in self.missing]
        return [*found, *self.problems]


def verify(data: bytes, public_key_pem: str) -> Verdict:
    """Verify a data file against the public key of the installation that issued it.

    A damaged file gives a verdict that does not hold. Raises KeyFileError where the key itself can't be used.
    """
    key_id = key_id_of(public_key_pem)
    try:
        file = read_envelope(data)
    except PlanFileError as error:
        return Verdict(None, "", False, (), tuple(Side), (str(error),))
    signatures = tuple(_signature(file, signed, public_key_pem) for signed in file.signatures)
    found = [one.side for one in signatures if one.valid and one.side is not None]
    problems = [f"There are two signatures for the {side}." for side in Side if found.count(side) > 1]
    if not _is_key(file.public_key_pem, key_id):
        problems.append("The file names another public key than the one given; it was issued elsewhere or changed.")
    return Verdict(
        payload_sha256=file.sha256,
        title=_title(file.payload),
        digest_ok=all(_digest(signed) == file.sha256 for signed in file.signatures),
        signatures=signatures,
        missing=tuple(side for side in Side if side not in found),
        file_problems=tuple(problems),
    )


def _title(payload: Mapping[str, Any]) -> str:
    try:
        accord, ship, place = payload["accord"], payload["ship"], payload["place"]
        return f"Plan {accord['plan_number']} of accord {accord['reference']}, {ship['name']} at {place['berth']}"
    except (KeyError, TypeError):
        return "Plan"


def _is_key(pem: str, key_id: str) -> bool:
    try:
        return key_id_of(pem) == key_id
    except KeyFileError:
        return False


def _digest(signed: SignedStatement) -> object:
    try:
        return read_statement(signed.statement).get("payload_sha256")
    except PlanFileError:
        return None


def _signature(file: PlanFile, signed: SignedStatement, public_key_pem: str) -> SignatureVerdict:
    try:
        said = read_statement(signed.statement)
    except PlanFileError as error:
        return SignatureVerdict(None, "", "", "", "", str(error))
    texts = {key: said.get(key) for key in ("side", "person", "organisation", "title", "signed_at", "statement")}
    if not all(isinstance(text, str) for text in texts.values()):
        return SignatureVerdict(None, "", "", "", "", "A signature does not name its side, person and time.")
    side = next((side for side in Side if side == texts["side"]), None)
    problem = next(_faults(file, said, side, signed, public_key_pem), "")
    return SignatureVerdict(
        side, str(texts["person"]), str(texts["organisation"]), str(texts["title"]), str(texts["signed_at"]), problem
    )


def _faults(
    file: PlanFile, said: Mapping[str, Any], side: Side | None, signed: SignedStatement, public_key_pem: str
) -> Iterator[str]:
    """Yield why a signature does not hold for this file, the gravest reason first."""
    whose = f"The signature of {said['person']} for the {said['side']}"
    exact = _is_exact_base64(signed.signature)
    if not (exact and signature_is_valid(public_key_pem, signed.statement, signed.signature)):
        yield f"{whose} does not fit its statement and this key: one of them was changed, or the key is another one."
    if said.get("payload_sha256") != file.sha256:
        yield f"{whose} was made over other bytes than those in this file."
    if side is None:
        yield f"{whose} is for no side of a plan."
        return
    parties, statements = file.payload.get("parties", {}), file.payload.get("statements", {})
    if parties.get(side, {}).get("organisation") != said["organisation"]:
        yield f"{whose} is for {said['organisation']}, which is not the plan's {side} party."
    if statements.get(side) != said["statement"]:
        yield f"{whose} certifies another text than the plan states."
    if not _follows(file.payload, said["signed_at"]):
        yield f"{whose} is dated {said['signed_at']}, before the plan was prepared or in no readable form."


def _is_exact_base64(text: str) -> bool:
    """Refuse base64 whose idle last bits were changed: it decodes to the same bytes."""
    try:
        return base64.b64encode(base64.b64decode(text, validate=True)).decode("ascii") == text
    except (binascii.Error, ValueError):
        return False


def _follows(payload: Mapping[str, Any], signed_at: str) -> bool:
    try:
        return datetime.fromisoformat(signed_at) >= datetime.fromisoformat(payload["accord"]["prepared_at"])
    except (KeyError, TypeError, ValueError):
        return False
