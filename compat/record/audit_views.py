"""Pages for auditors and the parties: one transfer with its exceptions, all records with filters, and what to keep."""

from __future__ import annotations

import io
import random
import secrets
import zipfile
from collections.abc import Iterator
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import Exists, F, OuterRef, Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_GET

from compat.accord.auditing import note_reading
from compat.accord.bargaining import agreed_values, standing
from compat.accord.keys import authority
from compat.accord.models import Accord, Plan
from compat.accord.plan_file import AUTHORITY_NAME, RECORD
from compat.accord.values import DEFINITIONS
from compat.record.chain import chain_of, current_accord
from compat.record.exceptions import SIGNED_WITHIN, exceptions_of
from compat.record.models import Check, Reading, TransferRecord
from compat.record.pages import base_context, kept_of
from compat.record.queries import records_visible_to
from compat.record.record_document import record_payload
from compat.record.states import RUNNING_STATES, State
from compat.record.what_is_due import due_now
from shared.canonical import canonical_bytes, sha256_hex
from shared.http import person_of
from shared.lists import listing
from shared.models import TrailRow
from shared.trail_files import as_lines

MOST_SAMPLED = 50
FILTERS = {
    "overdue": "with overdue checks",
    "drift": "with a drift that nobody explained",
    "amended": "amended during the transfer",
    "late": "signed late",
}


@require_GET
def audit_page(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Show one transfer: what was agreed, what happened, and each exception with how it was closed."""
    kept, now = kept_of(request, public_id), timezone.now()
    record = kept.record
    note_reading(by=kept.person, now=now, accord=kept.shown, what="record's exceptions")
    accords = chain_of(record.accord)
    agreed = agreed_values(standing(kept.accord))
    shown = [(DEFINITIONS[key], value) for key, value in agreed.items() if key in DEFINITIONS]
    departures = exceptions_of(record, now)
    context = base_context(kept) | {
        "plans": Plan.objects.filter(accord__in=accords).select_related("accord").defer("payload", "pdf"),
        "agreed": [one for one in shown if one[0].at_a_glance],
        "agreed_besides": [one for one in shown if not one[0].at_a_glance],
        "departures": departures,
        "open_count": sum(not one.closed for one in departures),
        "readings": record.readings.count(),
        "checks": record.checks.count(),
        "watches": record.watches.defer("statement", "signature"),
    }
    return render(request, "record/audit.html", context)


@require_GET
def record_list(request: HttpRequest) -> HttpResponse:
    """List the records that exist for this person, filtered, or a random sample of them for review."""
    person, now = person_of(request), timezone.now()
    chosen = [key for key in request.GET.getlist("only") if key in FILTERS]
    rows = records_visible_to(person).select_related("accord__ship_party", "accord__terminal_party")
    rows = rows.order_by("-arranged_at")
    for key in chosen:
        rows = _filtered(rows, key, now)
    seed = request.GET.get("seed", "")
    wanted = _whole(request.GET.get("sample", ""))
    if wanted:
        seed = seed or secrets.token_hex(4)
        rows = _sampled(rows, wanted, seed)
    found = listing(
        request,
        rows,
        search_in=["accord__ship_name", "accord__berth_name", "accord__reference", "accord__cargo_name"],
        keep={"sample": str(wanted or ""), "seed": seed} | ({"only": chosen[0]} if len(chosen) == 1 else {}),
    )
    marked = [(record, _marks(record, now)) for record in found.page]
    context: dict[str, Any] = {
        "list": found,
        "rows": marked,
        "filters": [(key, words, key in chosen) for key, words in FILTERS.items()],
        "sample": wanted,
        "seed": seed if wanted else "",
        "filtered": bool(chosen),
    }
    return render(request, "record/list.html", context)


def _whole(text: str) -> int:
    return min(int(text), MOST_SAMPLED) if text.isdecimal() and len(text) < 6 else 0


def _sampled(rows: QuerySet[TransferRecord], wanted: int, seed: str) -> QuerySet[TransferRecord]:
    """Return a random sample that the same seed gives again over the same records."""
    numbers = sorted(rows.values_list("pk", flat=True))
    chosen = random.Random(seed).sample(numbers, min(wanted, len(numbers)))  # noqa: S311 - no secret, but repeatable
    return rows.filter(pk__in=chosen)


def _filtered(rows: QuerySet[TransferRecord], key: str, now: datetime) -> QuerySet[TransferRecord]:
    own = OuterRef("pk")
    if key == "overdue":
        running = [record.pk for record in rows.filter(state__in=RUNNING_STATES) if _overdue_now(record, now)]
        answered_late = Exists(Check.objects.filter(record=own, late_min__gt=0))
        return rows.filter(Q(answered_late) | Q(missed_checks__gt=0) | Q(pk__in=running))
    if key == "drift":
        return rows.filter(Exists(Reading.objects.filter(record=own, drifted=True, answer=None, corrected_by=None)))
    if key == "amended":
        during = Accord.objects.filter(amends=OuterRef("accord"), opened_at__gte=OuterRef("started_at"))
        return rows.filter(
            Exists(during.filter(Q(opened_at__lte=OuterRef("ended_at")))) | Q(ended_at=None) & Exists(during)
        )
    late = Q(closed_at__gt=F("ended_at") + SIGNED_WITHIN) | ~Q(state=State.CLOSED) & Q(ended_at__lt=now - SIGNED_WITHIN)
    signed = Plan.objects.filter(accord=OuterRef("accord"), signed_last_at__gt=OuterRef("started_at"))
    return rows.filter(late | Exists(signed))


def _overdue_now(record: TransferRecord, now: datetime) -> bool:
    return any(one.overdue for one in due_now(record, current_accord(record), now))


def _marks(record: TransferRecord, now: datetime) -> list[str]:
    return [
        words
        for key, words in FILTERS.items()
        if _filtered(TransferRecord.objects.filter(pk=record.pk), key, now).exists()
    ]


@require_GET
def export(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Give everything that is needed to verify a transfer elsewhere, in one archive."""
    kept, now = kept_of(request, public_id), timezone.now()
    note_reading(by=kept.person, now=now, accord=kept.shown, what="record with everything to verify it")
    held = io.BytesIO()
    names: list[str] = []
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in _files(kept.record, now):
            archive.writestr(name, data)
            names.append(f"{sha256_hex(data)}  {name}")
        archive.writestr("SHA256SUMS", "\n".join(names) + "\n")
    stem = slugify(f"{kept.record.accord.ship_name} {kept.record.accord.reference} record")
    headers = {"Content-Disposition": f'attachment; filename="{stem}.zip"'}
    return HttpResponse(held.getvalue(), content_type="application/zip", headers=headers)


_READ_ME = """What is in this archive

SHA256SUMS            the SHA-256 of every other file; check with: sha256sum -c SHA256SUMS
record.json           the whole transfer record, RFC 8785 canonical JSON; where it is signed, the signed bytes
record.json.p7s       the signatures of both sides over record.json, once both have signed
record.pdf            the same record as a PDF with both signatures in it
watch-N.json, .p7s    what the Nth person to take over a watch signed, and the signature
plan-N.json, .p7s     the signed bytes of plan N of this accord, and the signatures of both sides over them
plan-N.pdf            the same plan as a PDF with both signatures in it
trail.jsonl           the rows of the trail about this accord, each with its own hash and the one before it
authority.pem         the certificate of the installation; compare it with the one that the installation publishes

With a copy of the program, and no server:

  manage.py verify_plan record.pdf --authority authority.pem
  manage.py verify_plan record.json --authority authority.pem
  manage.py verify_plan plan-1.pdf --authority authority.pem
  manage.py verify_trail --file trail.jsonl

With OpenSSL alone, for any .json that has its .p7s beside it:

  openssl cms -verify -binary -inform DER -in record.json.p7s -content record.json \\
    -CAfile authority.pem -purpose any -signer signers.pem -out verified.json
  openssl storeutl -noout -text -certs signers.pem

Follow local regulations and the terminal's own procedures; the persons in charge decide.
"""


def _files(record: TransferRecord, now: datetime) -> Iterator[tuple[str, bytes]]:
    yield "READ-ME.txt", _READ_ME.encode()
    whole = TransferRecord.objects.get(pk=record.pk)
    frozen = whole.payload
    yield RECORD.file_name, bytes(frozen) if frozen else canonical_bytes(record_payload(record, now=now))
    yield from _filled({f"{RECORD.file_name}.p7s": whole.signatures, "record.pdf": whole.pdf})
    for number, watch in enumerate(record.watches.all(), 1):
        yield f"watch-{number}.json", bytes(watch.statement)
        yield f"watch-{number}.json.p7s", bytes(watch.signature)
    accords = chain_of(record.accord)
    for plan in Plan.objects.filter(accord__in=accords).order_by("number"):
        name = f"plan-{plan.number}"
        yield f"{name}.json", bytes(plan.earlier_file or plan.payload)
        yield from _filled({f"{name}.json.p7s": plan.signatures, f"{name}.pdf": plan.pdf})
    rows = TrailRow.objects.filter(subject__in=[accord.subject for accord in accords]).order_by("position")
    yield "trail.jsonl", "".join(as_lines(rows)).encode()
    yield AUTHORITY_NAME, authority().pem().encode("ascii")


def _filled(files: dict[str, Any]) -> Iterator[tuple[str, bytes]]:
    return ((name, bytes(data)) for name, data in files.items() if data)
