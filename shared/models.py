"""People, the organisations they act for, and the trail of what was done."""

from __future__ import annotations

from django.contrib.auth.models import AbstractUser
from django.db import models
from django.utils.crypto import salted_hmac

from shared.factor_models import Passkey as Passkey
from shared.factor_models import RecoveryCode as RecoveryCode
from shared.factor_models import SignInAttempt as SignInAttempt
from shared.factor_models import TimeCode as TimeCode
from shared.held_files import HeldFile as HeldFile
from shared.roles import Kind, Notices, Role
from shared.zones import LONGEST_ZONE


class Organisation(models.Model):
    """A company that owns ships or terminals, or that audits."""

    name = models.CharField(max_length=120, unique=True)
    kind = models.CharField(max_length=20, choices=Kind.choices)
    second_factor_required = models.BooleanField(default=False)

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
    # UTC where empty; “terminal” or “ship” stand for the zone of the accord that a page is about.
    zone = models.CharField(max_length=LONGEST_ZONE, blank=True)
    # Set while the secret is one that an administrator chose; nothing can be done until it is the person's own.
    secret_is_initial = models.BooleanField(default=False)
    # A guest belongs to no organisation, so no rule about members lets one in; this only says who invited them.
    guest_of = models.ForeignKey(Organisation, on_delete=models.PROTECT, null=True, blank=True, related_name="guests")
    notices = models.CharField(max_length=20, choices=Notices.choices, default=Notices.ALL)
    session_number = models.PositiveIntegerField(default=0)
    # The name of the token through which a program acts for this person now; empty where they act themselves.
    through = ""

    REQUIRED_FIELDS = ["full_name"]

    class Meta:
        ordering = ["full_name"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(organisation=None) | models.Q(guest_of=None), name="guest_belongs_to_no_organisation"
            )
        ]

    def __str__(self) -> str:
        return self.full_name or self.username

    @property
    def acting_for(self) -> Organisation | None:
        """The organisation that the person belongs to, or whose guest they are."""
        return self.organisation or self.guest_of

    @property
    def subject(self) -> str:
        """Return the name under which the trail knows the person."""
        return f"person:{self.username}"

    def _get_session_auth_hash(self, secret: str | bytes | None = None) -> str:
        """Tie sessions to the secret, as Django does, and to a number with which they are ended."""
        return salted_hmac(
            "shared.Person.session", f"{self.password}:{self.session_number}", secret=secret, algorithm="sha256"
        ).hexdigest()


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
