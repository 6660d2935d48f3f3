"""The files of a plan as they are given out: as signed while it holds, and marked on every page from then on."""

from __future__ import annotations

import io
import zipfile
from datetime import UTC, datetime

from django.core.cache import cache

from compat.accord.checklist.item import Side
from compat.accord.keys import authority
from compat.accord.models import Accord, Plan
from compat.accord.pdf_making import Mark
from compat.accord.plan_document import utc_text
from compat.accord.plan_file import AUTHORITY_NAME, DATA_FILE_NAME, SIGNATURES_NAME, PlanFile, SignedBy, read_plan
from compat.accord.plan_pdf import DRAFT, marked_pdf
from compat.accord.plan_view import moment_words
from compat.accord.states import State
from shared.canonical import sha256_hex

STATE_NAME = "state.txt"
_CACHE_S = 24 * 3600
_ZIP_TIME = (1980, 1, 1, 0, 0, 0)  # the earliest that the format knows: a package is the same each time


def file_of(accord: Accord) -> PlanFile:
    """Return the settled bytes of an accord with who signed them so far."""
    signed = tuple(
        SignedBy(Side(one.side), one.person_name, one.person_title, utc_text(one.signed_at))
        for one in accord.signatures.filter(void_at=None)
    )
    return read_plan(bytes(accord.payload or b""), signed)


def mark_of(accord: Accord, plan: Plan) -> Mark | None:
    """Return what every page of a plan's copies says once it no longer holds, or None while it does."""
    since = moment_words(utc_text(accord.state_changed_at))
    state = State(accord.state)
    if state is State.IN_FORCE:
        return None
    if state is State.SUPERSEDED and plan.superseded_by is not None:
        words = f"Plan {plan.superseded_by.number} of accord {plan.superseded_by.accord.reference} took its place"
    else:
        words = {State.EXPIRED: "The time until which it was to hold is past", State.WITHDRAWN: "It was withdrawn"}[
            state
        ]
    reason = f": {accord.state_reason}" if accord.state_reason else ""
    return Mark(str(state).upper(), f"This plan holds no longer, since {since}. {words}{reason}")


def plan_pdf(accord: Accord, plan: Plan) -> bytes:
    """Return the signed PDF of a plan in force, else a marked copy with the signed one attached."""
    mark = mark_of(accord, plan)
    signed = bytes(plan.pdf) if plan.pdf else None
    if mark is None and signed is not None:
        return signed
    key = f"plan-copy:{sha256_hex((signed or bytes(plan.payload)) + str(mark).encode('utf-8'))}"
    made: bytes | None = cache.get(key)
    if made is None:
        made = marked_pdf(file_of(accord), mark or Mark("EARLIER FORM", _EARLIER), signed)
        cache.set(key, made, _CACHE_S)
    return made


def draft_pdf(accord: Accord) -> bytes:
    """Return what is settled as a PDF marked as a draft."""
    return marked_pdf(file_of(accord), DRAFT)


def package(accord: Accord, plan: Plan) -> bytes:
    """Return data file, signatures, the authority's certificate, and how the plan stands, as one ZIP."""
    folder = f"plan-{plan.number}{'' if accord.state == State.IN_FORCE else f'-{accord.state.upper()}'}"
    files: dict[str, bytes] = {
        DATA_FILE_NAME: bytes(plan.earlier_file or plan.payload),
        AUTHORITY_NAME: authority().pem().encode("ascii"),
        STATE_NAME: _state_words(accord, plan).encode("utf-8"),
    }
    if plan.signatures:
        files[SIGNATURES_NAME] = bytes(plan.signatures)
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files.items():
            archive.writestr(zipfile.ZipInfo(f"{folder}/{name}", _ZIP_TIME), data, zipfile.ZIP_DEFLATED)
    return held.getvalue()


_EARLIER = "It was signed before people had keys of their own here; its signatures are in its data file."


def _state_words(accord: Accord, plan: Plan) -> str:
    mark = mark_of(accord, plan)
    until = moment_words(utc_text(accord.holds_until)) if accord.holds_until else "its withdrawal or an amendment"
    stands = mark.words if mark else f"This plan is in force; it holds until {until}."
    return _STATE_TEXT.format(
        title=file_of(accord).title,
        stands=stands,
        at=moment_words(utc_text(datetime.now(UTC))),
        sha256=plan.sha256,
        data=DATA_FILE_NAME,
        signatures=SIGNATURES_NAME,
        authority=AUTHORITY_NAME,
    )


_STATE_TEXT = """{title}
{stands}
(as of {at}, when this copy was given out)

SHA-256 of {data}: {sha256}

To verify the signatures with OpenSSL, in this folder:

  openssl cms -verify -binary -inform DER -in {signatures} -content {data} \\
    -CAfile {authority} -purpose any -signer signers.pem -out verified.json
  openssl storeutl -noout -text -certs signers.pem

Compare {authority} with the one that the installation publishes.

Follow local regulations and the terminal's own procedures; where they are stricter than these figures, they win.
"""
