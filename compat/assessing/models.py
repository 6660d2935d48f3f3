"""Assessments: frozen inputs and the answer that was worked out from them."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models

from compat.case.case_file import CaseFile, check_case
from shared.models import Organisation
from terminals.models import BerthRevision
from vessels.models import VesselRevision


class Assessment(models.Model):
    """One ship, one cargo, one berth, one answer; the case is frozen as it was assessed."""

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    organisation = models.ForeignKey(Organisation, on_delete=models.PROTECT, related_name="assessments")
    title = models.CharField(max_length=120)
    vessel_revision = models.ForeignKey(VesselRevision, on_delete=models.PROTECT, related_name="assessments")
    berth_revision = models.ForeignKey(BerthRevision, on_delete=models.PROTECT, related_name="assessments")
    case = models.JSONField()
    answer = models.JSONField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["-made_at"]

    def __str__(self) -> str:
        return self.title

    def case_file(self) -> CaseFile:
        """Return the frozen case as the typed document it was checked as."""
        return check_case(self.case, self.title)
