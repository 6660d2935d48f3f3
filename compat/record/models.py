"""A transfer record and what belongs to it: readings, answers to drifts, checks, events, watches, signatures.

Nothing here is ever changed but a record's state: a correction is a new row that names the one it corrects.
"""

from __future__ import annotations

import uuid
from decimal import Decimal
from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q

from compat.accord.checklist.item import Side
from compat.accord.models import Accord, AnswerChoice
from compat.record.arrangement import Arrangement, check_arrangement
from compat.record.events import CAUSED_BY, Kind
from compat.record.states import FIRST_STATE, FROZEN_STATES, State

_SIDES = [(str(side), str(side)) for side in Side]
SIGNED_BYTES = ("payload", "signatures", "pdf")
"""Fields of a record that are large and seldom read."""
_FROZEN = sorted(str(state) for state in FROZEN_STATES)


def _person(**more: Any) -> Any:
    return models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", **more)


def _one_of(field: str, values: list[str], name: str) -> models.CheckConstraint:
    return models.CheckConstraint(condition=Q(**{f"{field}__in": values}), name=name)


def _both_or_none(one: str, other: str, name: str) -> models.CheckConstraint:
    none = Q(**{f"{one}__isnull": True, f"{other}__isnull": True})
    both = Q(**{f"{one}__isnull": False, f"{other}__isnull": False})
    return models.CheckConstraint(condition=none | both, name=name)


class TransferRecord(models.Model):
    """The record of one transfer, kept by both sides under one plan and its amendments."""

    accord = models.OneToOneField(Accord, on_delete=models.PROTECT, related_name="transfer_record")
    state = models.CharField(max_length=30, choices=[(str(s), str(s)) for s in State], default=FIRST_STATE)
    state_changed_at = models.DateTimeField()
    state_reason = models.CharField(max_length=500, blank=True)
    arrangement = models.JSONField()
    arranged_side = models.CharField(max_length=10, choices=_SIDES)
    arranged_by = _person()
    arranged_at = models.DateTimeField()
    accepted_by = _person(null=True)
    accepted_at = models.DateTimeField(null=True)
    go_ship_by = _person(null=True)
    go_ship_at = models.DateTimeField(null=True)
    go_terminal_by = _person(null=True)
    go_terminal_at = models.DateTimeField(null=True)
    started_at = models.DateTimeField(null=True)
    ended_at = models.DateTimeField(null=True)
    # How many repeated items were overdue when flow ended: nobody answers those any more.
    missed_checks = models.PositiveIntegerField(default=0)
    payload = models.BinaryField(null=True)
    payload_sha256 = models.CharField(max_length=64, blank=True)
    closed_at = models.DateTimeField(null=True)
    # As both sides signed it: detached signatures over the payload, and the PDF with both signatures in it.
    signatures = models.BinaryField(null=True)
    pdf = models.BinaryField(null=True)

    class Meta:
        ordering = ["-arranged_at"]
        constraints = [
            _one_of("state", [str(state) for state in State], "record_state_known"),
            _one_of("arranged_side", [str(side) for side in Side], "record_side_known"),
            _both_or_none("accepted_by", "accepted_at", "record_accepted_by_someone_at_some_time"),
            _both_or_none("go_ship_by", "go_ship_at", "record_ship_said_go_at_some_time"),
            _both_or_none("go_terminal_by", "go_terminal_at", "record_terminal_said_go_at_some_time"),
            models.CheckConstraint(
                condition=Q(state__in=_FROZEN, payload__isnull=False) & ~Q(payload_sha256="")
                | ~Q(state__in=_FROZEN) & Q(payload__isnull=True, payload_sha256=""),
                name="record_frozen_with_its_payload",
            ),
            models.CheckConstraint(
                condition=Q(state=State.CLOSED, closed_at__isnull=False, signatures__isnull=False, pdf__isnull=False)
                | ~Q(state=State.CLOSED) & Q(closed_at__isnull=True, signatures__isnull=True, pdf__isnull=True),
                name="record_closed_with_its_signatures",
            ),
        ]

    def __str__(self) -> str:
        return f"Record of {self.accord}"

    def arranged(self) -> Arrangement:
        """Return the arrangement as the typed document it was checked as."""
        return check_arrangement(self.arrangement)

    def go_said_by(self, side: Side) -> bool:
        """Tell whether a side has said go since the record last changed its state."""
        return (self.go_ship_at if side is Side.SHIP else self.go_terminal_at) is not None


class RecordSignature(models.Model):
    """One person's signature for one side over a record that is ready to sign; void once it is opened again.

    ``cms`` is the detached signature over the payload, ``signed_pdf`` the PDF with this signature in it.
    """

    record = models.ForeignKey(TransferRecord, on_delete=models.PROTECT, related_name="given")
    payload_sha256 = models.CharField(max_length=64)
    side = models.CharField(max_length=10, choices=_SIDES)
    person = _person()
    person_name = models.CharField(max_length=120)
    person_title = models.CharField(max_length=120)
    organisation_name = models.CharField(max_length=120)
    certificate_sha256 = models.CharField(max_length=64)
    cms = models.BinaryField()
    signed_pdf = models.BinaryField()
    signed_at = models.DateTimeField()
    void_at = models.DateTimeField(null=True)
    void_by = _person(null=True)
    void_reason = models.CharField(max_length=500, blank=True)

    class Meta:
        ordering = ["signed_at", "id"]
        constraints = [
            _one_of("side", [str(side) for side in Side], "record_signature_side_known"),
            models.UniqueConstraint(
                fields=["record", "side"], condition=Q(void_at=None), name="one_valid_record_signature_per_side"
            ),
            models.CheckConstraint(
                condition=Q(void_at=None, void_by=None, void_reason="")
                | Q(void_at__isnull=False, void_by__isnull=False) & ~Q(void_reason=""),
                name="record_signature_voided_by_someone_with_reason",
            ),
            models.CheckConstraint(condition=~Q(person_title=""), name="record_signature_has_title"),
        ]

    def __str__(self) -> str:
        return f"{self.person_name} for the {self.side}"


class Source(models.TextChoices):
    """How a reading came in."""

    TYPED = "typed", "typed"
    IMPORTED = "imported", "from a file or pasted"
    INTERFACE = "interface", "by the programming interface"


class Reading(models.Model):
    """What one side read at one moment, with the comparison as it was worked out then."""

    record = models.ForeignKey(TransferRecord, on_delete=models.PROTECT, related_name="readings")
    side = models.CharField(max_length=10, choices=_SIDES)
    at = models.DateTimeField()
    values = models.JSONField()
    typed = models.JSONField(default=dict)
    remark = models.CharField(max_length=300, blank=True)
    source = models.CharField(max_length=12, choices=Source.choices, default=Source.TYPED)
    doubts = models.JSONField(default=list)
    comparison = models.JSONField(null=True)
    drifted = models.BooleanField(default=False)
    plan_number = models.PositiveIntegerField()
    by = _person()
    entered_at = models.DateTimeField()
    draft = models.UUIDField(unique=True, default=uuid.uuid4)
    corrects = models.OneToOneField("self", on_delete=models.PROTECT, null=True, related_name="corrected_by")
    correction_reason = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["at", "id"]
        indexes = [models.Index(fields=["record", "side", "at"], name="reading_in_order")]
        constraints = [
            _one_of("side", [str(side) for side in Side], "reading_side_known"),
            models.CheckConstraint(
                condition=Q(corrects__isnull=True, correction_reason="")
                | Q(corrects__isnull=False) & ~Q(correction_reason=""),
                name="reading_corrected_with_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"Reading of the {self.side} at {self.at:%Y-%m-%d %H:%M}"

    def value(self, key: str) -> Decimal | None:
        """Return a value in the unit of its line, None where it was not read."""
        text = self.values.get(key)
        return None if text is None else Decimal(text)


class DriftAnswer(models.Model):
    """One side's answer to a drifted reading: why it drifted, or that what was agreed was done."""

    class What(models.TextChoices):
        """What was said."""

        EXPLAINED = "explained", "explained"
        ACTED = "acted", "the agreed action was taken"

    reading = models.OneToOneField(Reading, on_delete=models.PROTECT, related_name="answer")
    what = models.CharField(max_length=12, choices=What.choices)
    said = models.CharField(max_length=500)
    side = models.CharField(max_length=10, choices=_SIDES)
    by = _person()
    at = models.DateTimeField()

    class Meta:
        constraints = [models.CheckConstraint(condition=~Q(said=""), name="drift_answered_in_words")]


class Check(models.Model):
    """One side's answer to a repeated or closing item; a later one stands beside the earlier ones and counts."""

    record = models.ForeignKey(TransferRecord, on_delete=models.PROTECT, related_name="checks")
    item_key = models.CharField(max_length=60)
    side = models.CharField(max_length=10, choices=_SIDES)
    answer = models.CharField(max_length=20, choices=AnswerChoice.choices)
    values = models.JSONField(default=dict, blank=True)
    remark = models.CharField(max_length=500, blank=True)
    by = _person()
    at = models.DateTimeField()
    late_min = models.PositiveIntegerField(default=0)
    draft = models.UUIDField(null=True, unique=True)

    class Meta:
        ordering = ["id"]
        indexes = [models.Index(fields=["record", "item_key", "side"], name="check_latest")]
        constraints = [
            _one_of("answer", list(AnswerChoice.values), "check_answer_known"),
            models.CheckConstraint(
                condition=Q(answer=AnswerChoice.YES) | ~Q(remark=""), name="check_reason_unless_yes"
            ),
        ]


class LogEvent(models.Model):
    """One line of the time sheet."""

    record = models.ForeignKey(TransferRecord, on_delete=models.PROTECT, related_name="events")
    kind = models.CharField(max_length=40, choices=[(str(kind), str(kind)) for kind in Kind])
    at = models.DateTimeField()
    remark = models.CharField(max_length=300, blank=True)
    caused_by = models.CharField(max_length=10, blank=True)
    pressure_bar_gauge = models.DecimalField(max_digits=8, decimal_places=3, null=True)
    side = models.CharField(max_length=10, choices=_SIDES)
    by = _person()
    entered_at = models.DateTimeField()
    corrects = models.OneToOneField("self", on_delete=models.PROTECT, null=True, related_name="corrected_by")
    correction_reason = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["at", "id"]
        constraints = [
            _one_of("kind", [str(kind) for kind in Kind], "event_kind_known"),
            _one_of("caused_by", ["", *CAUSED_BY], "event_cause_known"),
            models.CheckConstraint(
                condition=Q(corrects__isnull=True, correction_reason="")
                | Q(corrects__isnull=False) & ~Q(correction_reason=""),
                name="event_corrected_with_reason",
            ),
        ]


class Watch(models.Model):
    """A person in charge who took over the watch of one side, having read plan and checks, and signed for it."""

    record = models.ForeignKey(TransferRecord, on_delete=models.PROTECT, related_name="watches")
    side = models.CharField(max_length=10, choices=_SIDES)
    person = _person()
    person_name = models.CharField(max_length=120)
    person_title = models.CharField(max_length=120)
    at = models.DateTimeField()
    remark = models.CharField(max_length=300, blank=True)
    statement = models.BinaryField()
    signature = models.BinaryField()
    certificate_sha256 = models.CharField(max_length=64)

    class Meta:
        ordering = ["at", "id"]
        constraints = [models.CheckConstraint(condition=~Q(person_title=""), name="watch_signed_with_title")]
