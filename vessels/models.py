"""Ships and the revisions of what is stated about them."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models

from shared.models import Organisation
from vessels.facts import ShipFacts


class Vessel(models.Model):
    """A ship of one operator; what is known about her stands in her revisions."""

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    organisation = models.ForeignKey(Organisation, on_delete=models.PROTECT, related_name="vessels")
    name = models.CharField(max_length=120)
    imo_number = models.CharField(max_length=7, blank=True)
    archived = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                fields=["organisation", "imo_number"],
                condition=~models.Q(imo_number=""),
                name="one_vessel_per_imo_number",
            )
        ]

    def __str__(self) -> str:
        return self.name


class VesselRevision(models.Model):
    """One stated version of a ship's facts; never edited, a change makes the next number."""

    vessel = models.ForeignKey(Vessel, on_delete=models.PROTECT, related_name="revisions")
    number = models.PositiveIntegerField()
    facts = models.JSONField()
    note = models.CharField(max_length=200, blank=True)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["-number"]
        constraints = [models.UniqueConstraint(fields=["vessel", "number"], name="one_vessel_revision_per_number")]

    def __str__(self) -> str:
        return f"{self.vessel} revision {self.number}"

    def ship_facts(self) -> ShipFacts:
        """Return the facts as the typed document they were checked as."""
        return ShipFacts.model_validate(self.facts)
