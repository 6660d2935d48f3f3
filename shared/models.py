"""People, the organisations they act for, and the trail of what was done."""

from __future__ import annotations

from django.contrib.auth.models import AbstractUser
from django.db import models

from shared.roles import Kind, Role


class Organisation(models.Model):
    """A company that owns ships or terminals, or that audits."""

    name = models.CharField(max_length=120, unique=True)
    kind = models.CharField(max_length=20, choices=Kind.choices)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    @property
    def subject(self) -> str:
        """Return the name under which the trail knows the organisation."""
        return f"organisation:{self.pk}"


class Person(AbstractUser):
    """Someone who signs in: always one person, acting for one organisation in one role."""

    organisation = models.ForeignKey(
        Organisation, on_delete=models.PROTECT, null=True, blank=True, related_name="people"
    )
    role = models.CharField(max_length=20, choices=Role.choices, default=Role.READER)
    full_name = models.CharField(max_length=120)
    title = models.CharField(max_length=120, blank=True)
    units = models.JSONField(default=dict, blank=True)
    # Set while the secret is one that an administrator chose; nothing can be done until it is the person's own.
    secret_is_initial = models.BooleanField(default=False)

    REQUIRED_FIELDS = ["full_name"]

    class Meta:
        ordering = ["full_name"]

    def __str__(self) -> str:
        return self.full_name or self.username

    @property
    def subject(self) -> str:
        """Return the name under which the trail knows the person."""
        return f"person:{self.username}"


class TrailRow(models.Model):
    """One act. Plain strings only, so that it outlives what it describes; database triggers refuse change."""

    position = models.PositiveBigIntegerField(unique=True)
    at = models.DateTimeField()
    person = models.CharField(max_length=300)
    organisation = models.CharField(max_length=120)
    act = models.CharField(max_length=60)
    subject = models.CharField(max_length=120, db_index=True)
    facts = models.TextField()
    previous_sha256 = models.CharField(max_length=64)
    sha256 = models.CharField(max_length=64, unique=True)

    class Meta:
        ordering = ["position"]

    def __str__(self) -> str:
        return f"{self.position}: {self.act} {self.subject}"
