"""Screenings, the pieces in which they are worked out, and with whom they are shared."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models

from compat.screening.states import State
from compat.screening.terms import ScreeningTerms
from shared.models import Organisation


class Screening(models.Model):
    """Ships × cargoes × berths on common terms; the revisions that were screened are frozen.

    ``ships`` and ``berths`` are lists of revision keys, in the order that results count by. ``beat_at`` is when a
    worker last wrote to it.
    """

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    organisation = models.ForeignKey(Organisation, on_delete=models.PROTECT, related_name="screenings")
    title = models.CharField(max_length=120)
    terms = models.JSONField()
    ships = models.JSONField()
    berths = models.JSONField()
    total = models.PositiveIntegerField()
    done = models.PositiveIntegerField(default=0)
    state = models.CharField(max_length=20, default=State.WAITING)
    trouble = models.CharField(max_length=300, blank=True)
    earlier = models.ForeignKey("self", on_delete=models.PROTECT, null=True, blank=True, related_name="later")
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    beat_at = models.DateTimeField()

    class Meta:
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(done__lte=models.F("total")), name="screening_done_within_total"),
            models.CheckConstraint(
                condition=models.Q(state__in=[str(state) for state in State]), name="screening_state_is_known"
            ),
        ]

    def __str__(self) -> str:
        return self.title

    @property
    def subject(self) -> str:
        """Return the name under which the trail knows the screening."""
        return f"screening:{self.public_id}"

    def screening_terms(self) -> ScreeningTerms:
        """Return the terms as the typed document they were checked as."""
        return ScreeningTerms.model_validate(self.terms)


class ScreeningPiece(models.Model):
    """The results of a run of pairs, as a file of columns; each piece is written once, by whoever comes first."""

    screening = models.ForeignKey(Screening, on_delete=models.CASCADE, related_name="pieces")
    start = models.PositiveIntegerField()
    stop = models.PositiveIntegerField()
    columns = models.BinaryField()

    class Meta:
        ordering = ["start"]
        constraints = [
            models.UniqueConstraint(fields=["screening", "start"], name="one_screening_piece_per_start"),
            models.CheckConstraint(condition=models.Q(stop__gt=models.F("start")), name="screening_piece_holds_pairs"),
        ]


class ScreeningShare(models.Model):
    """A named person who sees a screening beside the one who made it."""

    screening = models.ForeignKey(Screening, on_delete=models.CASCADE, related_name="shares")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="shared_screenings")
    shared_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    shared_at = models.DateTimeField()

    class Meta:
        ordering = ["person__full_name"]
        constraints = [
            models.UniqueConstraint(fields=["screening", "person"], name="one_share_per_person_and_screening")
        ]
