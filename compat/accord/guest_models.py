"""Who was invited to one accord from outside the two organisations."""

from __future__ import annotations

from datetime import datetime

from django.conf import settings
from django.db import models
from django.db.models import Q

from compat.accord.checklist.item import Side

_SIDES = [str(side) for side in Side]


class GuestInvitation(models.Model):
    """One side's invitation of one named person to one accord; its link works once and for a time.

    ``person`` is the account that the guest made with the link; it is good for this invitation and nothing else.
    """

    accord = models.ForeignKey("accord.Accord", on_delete=models.PROTECT, related_name="+")
    # The accord and, as they are opened, its amendments: all that the guest sees.
    accords = models.ManyToManyField("accord.Accord", related_name="guest_invitations")
    side = models.CharField(max_length=10, choices=[(side, side) for side in _SIDES])
    full_name = models.CharField(max_length=120)
    title = models.CharField(max_length=120)
    email = models.EmailField(blank=True)
    may_sign = models.BooleanField(default=False)
    token_sha256 = models.CharField(max_length=64, unique=True)
    expires_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    person = models.OneToOneField(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="guest_invitation"
    )
    used_at = models.DateTimeField(null=True)
    ended_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    ended_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["made_at", "id"]
        constraints = [
            models.CheckConstraint(condition=Q(side__in=_SIDES), name="guest_side_known"),
            models.CheckConstraint(condition=~Q(title=""), name="guest_has_title"),
            models.CheckConstraint(
                condition=Q(ended_at=None, ended_by=None) | Q(ended_at__isnull=False, ended_by__isnull=False),
                name="guest_ended_by_someone",
            ),
            models.CheckConstraint(
                condition=Q(used_at=None) | Q(person__isnull=False), name="guest_link_used_by_a_person"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.full_name}, {self.title}, guest of the {self.side}"

    def link_works(self, now: datetime) -> bool:
        """Tell whether the link of this invitation still opens anything."""
        return self.used_at is None and self.ended_at is None and now < self.expires_at
