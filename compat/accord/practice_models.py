"""What a terminal prepares for all its accords, in versions; and the forms that were received already."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from terminals.models import Terminal


class TerminalPractice(models.Model):
    """One version of a terminal's usual values and own checklist items; never edited, a change makes the next number.

    ``values`` holds usual proposals by the key of the value, numbers as decimal text in its canonical unit.
    ``items`` holds documents of ``checklist.own_items.OwnItem``.
    """

    terminal = models.ForeignKey(Terminal, on_delete=models.PROTECT, related_name="practices")
    number = models.PositiveIntegerField()
    values = models.JSONField(default=dict)
    items = models.JSONField(default=list)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["-number"]
        constraints = [models.UniqueConstraint(fields=["terminal", "number"], name="one_practice_per_number")]

    def __str__(self) -> str:
        return f"Practice {self.number} of {self.terminal}"


class SentForm(models.Model):
    """One form as one person sent it; the same one sent again, after a link that dropped, is not done twice."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    sha256 = models.CharField(max_length=64)
    at = models.DateTimeField(db_index=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["person", "sha256"], name="one_form_is_sent_once")]

    def __str__(self) -> str:
        return f"{self.person} at {self.at}"
