"""Files that people sent and have not confirmed yet."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from typing import Any

from django.conf import settings
from django.db import models

KEPT = timedelta(days=1)


class HeldFile(models.Model):
    """A file between its preview and its taking; it is dropped when it is taken, or after a day."""

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="held_files")
    purpose = models.CharField(max_length=120)
    name = models.CharField(max_length=120)
    data = models.BinaryField()
    sent_at = models.DateTimeField()

    class Meta:
        ordering = ["-sent_at"]


def hold(*, person: Any, purpose: str, name: str, data: bytes, now: datetime) -> HeldFile:
    """Keep a file until it is confirmed; one for each person and purpose, and none for longer than a day."""
    HeldFile.objects.filter(models.Q(person=person, purpose=purpose) | models.Q(sent_at__lt=now - KEPT)).delete()
    return HeldFile.objects.create(person=person, purpose=purpose, name=name[:120], data=data, sent_at=now)
