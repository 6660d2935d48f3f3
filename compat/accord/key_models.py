"""What an accord keeps about people's means to sign: their sealed keys, and wrong secrets they typed."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q


class PersonKey(models.Model):
    """One person's signing key, sealed under their own secret, with the authority's certificate over it.

    ``sealed`` is None once the key is closed: replaced by another, or locked under a secret that was lost.
    """

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="signing_keys")
    sealed = models.BinaryField(null=True)
    certificate_pem = models.TextField()
    certificate_sha256 = models.CharField(max_length=64, unique=True)
    name = models.CharField(max_length=120)
    organisation = models.CharField(max_length=120)
    made_at = models.DateTimeField()
    valid_until = models.DateTimeField()

    class Meta:
        ordering = ["made_at", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["person"], condition=Q(sealed__isnull=False), name="one_open_signing_key_per_person"
            ),
            models.CheckConstraint(
                condition=Q(valid_until__gt=models.F("made_at")), name="signing_key_valid_after_it_is_made"
            ),
        ]

    def __str__(self) -> str:
        return f"signing key of {self.name} for {self.organisation}"


class SecretAttempt(models.Model):
    """One wrong secret typed by one person when signing."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(db_index=True)

    def __str__(self) -> str:
        return f"{self.person} at {self.at}"
