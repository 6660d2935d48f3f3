"""Whether everything that was ever signed and written down still holds."""

from __future__ import annotations

from collections.abc import Iterator

from cryptography.x509 import Certificate

from compat.accord.earlier_files import verify_earlier
from compat.accord.keys import authority
from compat.accord.models import Plan
from compat.accord.pdf_verifying import verify_pdf
from compat.accord.verdict import Verdict
from compat.accord.verifying import verify_data
from shared.models import TrailRow
from shared.trail import verify_trail


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
