"""What a person signs in with besides their secret, and the wrong attempts that close a door for a while."""

from __future__ import annotations

from django.conf import settings
from django.db import models


class Passkey(models.Model):
    """A key pair on a person's own device; only its public half is here."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="passkeys")
    name = models.CharField(max_length=60)
    credential_id = models.BinaryField(max_length=1023, unique=True)
    # Attested credential data (WebAuthn level 2, section 6.5.1): the credential's id with its public key in COSE form.
    public_data = models.BinaryField()
    host = models.CharField(max_length=253)
    counter = models.PositiveBigIntegerField(default=0)
    made_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["made_at", "id"]

    def __str__(self) -> str:
        return f"{self.name} of {self.person}"


class TimeCode(models.Model):
    """The secret behind a person's time codes (RFC 6238), sealed, and the last step of time that was used."""

    person = models.OneToOneField(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="time_code")
    sealed_secret = models.TextField()
    last_step = models.PositiveBigIntegerField()
    made_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"time codes of {self.person}"


class RecoveryCode(models.Model):
    """One code of a person's list for the day when nothing else is at hand; good once, kept as a hash."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="recovery_codes")
    code_hash = models.CharField(max_length=64)
    used_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["person", "code_hash"], name="recovery_code_once_per_person")]

    def __str__(self) -> str:
        return f"recovery code of {self.person}"


class SignInAttempt(models.Model):
    """One attempt to sign in that failed, or is being looked at."""

    name = models.CharField(max_length=150, db_index=True)
    address = models.CharField(max_length=45, db_index=True)
    at = models.DateTimeField(db_index=True)

    def __str__(self) -> str:
        return f"{self.name} from {self.address} at {self.at}"
