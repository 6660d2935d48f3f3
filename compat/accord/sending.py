"""A form that is sent twice, because the link dropped before the answer came, is done once."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta

from django.db import IntegrityError, transaction
from django.http import HttpRequest
from django.utils import timezone

from compat.accord.models import SentForm
from shared.canonical import canonical_bytes, sha256_hex
from shared.http import person_of

SENDING = "sending"
"""The hidden field whose value is new each time a form is shown."""
REMEMBERED = timedelta(days=30)
_NOT_CONTENT = {"csrfmiddlewaretoken"}


@contextmanager
def sent_once(request: HttpRequest) -> Iterator[bool]:
    """Open a transaction for the act of a form; yield False where this very sending was done already.

    What is refused inside is not remembered, so it can be sent again. The content counts as well as the field, so that
    a form changed after going back in the browser is another sending. A form without the field is always new.
    """
    with transaction.atomic():
        yield not request.POST.get(SENDING) or _remembered_now(request)


def _remembered_now(request: HttpRequest) -> bool:
    now = timezone.now()
    SentForm.objects.filter(at__lt=now - REMEMBERED).delete()
    content = [[name, request.POST.getlist(name)] for name in sorted(request.POST) if name not in _NOT_CONTENT]
    digest = sha256_hex(canonical_bytes({"path": request.path, "content": content}))
    try:
        with transaction.atomic():
            SentForm.objects.create(person=person_of(request), sha256=digest, at=now)
    except IntegrityError:
        return False
    return True
