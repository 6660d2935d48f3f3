"""Terminals, their berths and the revisions of what is stated about them."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models

from shared.models import Organisation
from shared.zones import LONGEST_ZONE
from terminals.facts import BerthFacts


class Terminal(models.Model):
    """A terminal of one operator in one port."""

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    organisation = models.ForeignKey(Organisation, on_delete=models.PROTECT, related_name="terminals")
    name = models.CharField(max_length=120)
    port = models.CharField(max_length=120)
    address = models.CharField(max_length=250)
    zone = models.CharField(max_length=LONGEST_ZONE, blank=True)  # empty: not known

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Berth(models.Model):
    """A place where a ship lies; every signed-in organisation sees that it exists."""

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    terminal = models.ForeignKey(Terminal, on_delete=models.PROTECT, related_name="berths")
    name = models.CharField(max_length=120)
    line_data_shared = models.BooleanField(default=False)
    archived = models.BooleanField(default=False)

    class Meta:
        ordering = ["terminal__name", "name"]
        constraints = [models.UniqueConstraint(fields=["terminal", "name"], name="one_berth_per_name")]

    def __str__(self) -> str:
        return f"{self.terminal}, {self.name}"


class BerthRevision(models.Model):
    """One stated version of a berth's facts; never edited, a change makes the next number."""

    berth = models.ForeignKey(Berth, on_delete=models.PROTECT, related_name="revisions")
    number = models.PositiveIntegerField()
    facts = models.JSONField()
    note = models.CharField(max_length=200, blank=True)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["-number"]
        constraints = [models.UniqueConstraint(fields=["berth", "number"], name="one_berth_revision_per_number")]

    def __str__(self) -> str:
        return f"{self.berth} revision {self.number}"

    def berth_facts(self) -> BerthFacts:
        """Return the facts as the typed document they were checked as."""
        return BerthFacts.model_validate(self.facts)
