"""Whether everything that was ever signed and written down still holds."""

from __future__ import annotations

from collections.abc import Iterator

from cryptography.x509 import Certificate

from compat.accord.earlier_files import verify_earlier
from compat.accord.keys import authority
from compat.accord.models import Accord, Plan
from compat.accord.pdf_verifying import verify_pdf
from compat.accord.states import FROZEN_STATES
from compat.accord.verdict import Verdict
from compat.accord.verifying import verify_data
from shared.canonical import sha256_hex
from shared.models import TrailRow
from shared.trail import facts_of, verify_trail


def everything_wrong(*, rows: int, head: str) -> Iterator[str]:
    """Yield a sentence for each plan and each row of the trail that does not hold.

    ``rows`` and ``head`` are the number of rows and the last hash that were noted when the trail was copied.
    """
    if broken := verify_trail():
        yield f"The trail does not hold: {broken.reason}"
    found = TrailRow.objects.filter(position=rows).values_list("sha256", flat=True).first()
    if rows and found != head:
        yield f"The trail does not hold: its row {rows} is not the one that was copied."
    yield from _plans_that_do_not_hold()
    yield from _plans_and_rows_without_each_other()
    yield from _half_signed_that_do_not_hold()


def _plans_and_rows_without_each_other() -> Iterator[str]:
    """Yield what only one of them knows: a plan that the trail tells of and that is gone, or one that it never told."""
    told = {str(facts_of(row)["payload_sha256"]): row.position for row in TrailRow.objects.filter(act="plan in force")}
    kept = {plan.sha256: str(plan) for plan in Plan.objects.select_related("accord").only("number", "sha256", "accord")}
    for sha256 in sorted(told.keys() - kept.keys()):
        yield f"Row {told[sha256]} of the trail tells of a plan with the SHA-256 {sha256}, which is missing."
    for sha256 in sorted(kept.keys() - told.keys()):
        yield f"{kept[sha256]} is here, and the trail tells of no such plan."


def _half_signed_that_do_not_hold() -> Iterator[str]:
    """Yield each settled text, and each signature that waits for the other one, that was changed."""
    waiting = Accord.objects.filter(state__in=[str(state) for state in FROZEN_STATES])
    for accord in waiting.iterator(chunk_size=20):
        payload = bytes(accord.payload or b"")
        if sha256_hex(payload) != accord.payload_sha256:
            yield f"{accord} does not hold: its settled text was changed."
        for signature in accord.signatures.filter(void_at=None, cms__isnull=False):
            verdict = verify_data(payload, bytes(signature.cms or b""), authority().certificate)
            if verdict.problems or str(signature.side) in verdict.missing:
                yield f"{accord} does not hold: {' '.join(verdict.problems) or 'a signature is missing.'}"


def _plans_that_do_not_hold() -> Iterator[str]:
    if not Plan.objects.exists():
        return
    certificate = authority().certificate
    for plan in Plan.objects.order_by("pk").iterator(chunk_size=20):
        for verdict in _verdicts(plan, certificate):
            if not verdict.holds or verdict.file is None or verdict.file.sha256 != plan.sha256:
                yield f"{plan} does not hold: {' '.join(verdict.problems) or 'a signature is missing.'}"


def _verdicts(plan: Plan, certificate: Certificate) -> Iterator[Verdict]:
    if plan.earlier_file is not None:
        yield verify_earlier(bytes(plan.earlier_file), certificate)
        return
    yield verify_data(bytes(plan.payload), bytes(plan.signatures or b""), certificate)
    yield verify_pdf(bytes(plan.pdf or b""), certificate)
