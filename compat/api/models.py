"""Tokens of programs, and the answers kept so that a repeated request does nothing twice."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.conf import settings
from django.db import models

from shared.models import Organisation


class Token(models.Model):
    """Leave for a program to act for one person until a stated time; only the hash of its words is stored."""

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    organisation = models.ForeignKey(Organisation, on_delete=models.PROTECT, related_name="tokens")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="tokens")
    name = models.CharField(max_length=60)
    sha256 = models.CharField(max_length=64, unique=True)
    scopes = models.JSONField()
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True)
    used_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-made_at"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(expires_at__gt=models.F("made_at")), name="token_expires_after_it_was_made"
            )
        ]

    def __str__(self) -> str:
        return self.name

    def state_at(self, now: datetime) -> str:
        """Say in a word whether the token still works."""
        if self.revoked_at is not None:
            return "revoked"
        return "works" if now < self.expires_at else "expired"


class KeptAnswer(models.Model):
    """The answer to a request that named an idempotency key, given again when the request comes again."""

    token = models.ForeignKey(Token, on_delete=models.CASCADE, related_name="kept_answers")
    key = models.CharField(max_length=100)
    request_sha256 = models.CharField(max_length=64)
    answer = models.JSONField()
    at = models.DateTimeField(db_index=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["token", "key"], name="one_answer_per_idempotency_key")]

    def __str__(self) -> str:
        return f"{self.token}: {self.key}"
