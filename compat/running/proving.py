"""Whether everything that was ever signed and written down still holds."""

from __future__ import annotations

from collections.abc import Iterator

from django.conf import settings

from compat.accord.models import Plan
from compat.accord.verifying import verify
from shared.models import TrailRow
from shared.signing import load_key
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
    key = load_key(settings.SIGNING_KEY_FILE).public_key_pem() if Plan.objects.exists() else ""
    for plan in Plan.objects.order_by("pk").iterator(chunk_size=20):
        verdict = verify(bytes(plan.envelope), key)
        if not verdict.holds or verdict.payload_sha256 != plan.sha256:
            yield f"{plan} does not hold: {' '.join(verdict.problems) or 'a signature is missing.'}"
