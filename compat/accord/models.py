"""An accord and what belongs to it: values proposed, checklist answers, signatures, the plan, who may look.

Rules that the database can hold stand here as constraints; the others stand in the acts.
"""

from __future__ import annotations

import secrets
import uuid
from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q

from compat.accord.checklist.conditions import TransferConditions
from compat.accord.checklist.item import Side
from compat.accord.guest_models import GuestInvitation as GuestInvitation
from compat.accord.key_models import PersonKey as PersonKey
from compat.accord.key_models import SecretAttempt as SecretAttempt
from compat.accord.practice_models import SentForm as SentForm
from compat.accord.practice_models import TerminalPractice as TerminalPractice
from compat.accord.states import FIRST_STATE, FROZEN_STATES, PLAN_STATES, State
from compat.accord.value_kinds import LONGEST_WORDS, Given
from compat.case.case_file import CaseFile, check_case
from shared.models import Organisation
from shared.zones import LONGEST_ZONE
from terminals.models import BerthRevision
from vessels.models import VesselRevision

_SIDES = [(str(side), str(side)) for side in Side]
_STATES = [(str(state), str(state)) for state in State]
_FROZEN = [str(state) for state in (*sorted(FROZEN_STATES), *sorted(PLAN_STATES))]


def _person() -> Any:
    return models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")


def _person_or_none() -> Any:
    return models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")


def _one_of(field: str, values: list[str], name: str) -> models.CheckConstraint:
    return models.CheckConstraint(condition=Q(**{f"{field}__in": values}), name=name)


def new_reference() -> str:
    """Return a short name for radio and mail that tells nothing about how many accords there are."""
    digits = secrets.token_hex(4).upper()
    return f"{digits[:4]}-{digits[4:]}"


class Accord(models.Model):
    """What one ship party and one terminal party negotiate, settle and sign for one ship at one berth."""

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    reference = models.CharField(max_length=9, unique=True, default=new_reference, editable=False)
    ship_party = models.ForeignKey(Organisation, on_delete=models.PROTECT, related_name="accords_as_ship")
    terminal_party = models.ForeignKey(Organisation, on_delete=models.PROTECT, related_name="accords_as_terminal")
    vessel_revision = models.ForeignKey(VesselRevision, on_delete=models.PROTECT, related_name="accords")
    berth_revision = models.ForeignKey(BerthRevision, on_delete=models.PROTECT, related_name="accords")
    ship_name = models.CharField(max_length=120)
    berth_name = models.CharField(max_length=250)
    cargo_name = models.CharField(max_length=120)
    case = models.JSONField()
    facts_sha256 = models.CharField(max_length=64)
    stay = models.JSONField(null=True)
    """What a stay file states beside the case; None where no stay is part of the accord."""
    conditions = models.JSONField(default=dict)
    own_items = models.JSONField(default=list)
    practice_number = models.PositiveIntegerField(null=True)
    ship_zone = models.CharField(max_length=LONGEST_ZONE, blank=True)
    terminal_zone = models.CharField(max_length=LONGEST_ZONE, blank=True)
    place = models.CharField(max_length=250)
    planned_start = models.DateTimeField()
    # None: no end was stated, and the plan holds until it is withdrawn or superseded.
    holds_until = models.DateTimeField(null=True, blank=True)
    plan_number = models.PositiveIntegerField(default=1)
    amends = models.ForeignKey("self", on_delete=models.PROTECT, null=True, blank=True, related_name="amendments")
    amendment_reason = models.CharField(max_length=500, blank=True)
    state = models.CharField(max_length=30, choices=_STATES, default=FIRST_STATE)
    state_changed_at = models.DateTimeField()
    state_reason = models.CharField(max_length=500, blank=True)
    payload = models.BinaryField(null=True)
    payload_sha256 = models.CharField(max_length=64, blank=True)
    opened_by = _person()
    opened_side = models.CharField(max_length=10, choices=_SIDES)
    opened_at = models.DateTimeField()

    class Meta:
        ordering = ["-planned_start", "-opened_at"]
        indexes = [models.Index(fields=["holds_until"], condition=Q(state=str(State.IN_FORCE)), name="accord_expires")]
        constraints = [
            _one_of("opened_side", [str(side) for side in Side], "accord_opened_side_known"),
            models.CheckConstraint(condition=~Q(ship_party=models.F("terminal_party")), name="accord_has_two_parties"),
            models.CheckConstraint(
                condition=Q(payload__isnull=True, payload_sha256="") | Q(payload__isnull=False) & ~Q(payload_sha256=""),
                name="accord_payload_with_its_hash",
            ),
            models.CheckConstraint(
                condition=Q(state__in=_FROZEN, payload__isnull=False)
                | Q(state=str(State.ON_TABLE), payload__isnull=True)
                | Q(state=str(State.WITHDRAWN)),
                name="accord_state_known_with_its_payload",
            ),
            models.CheckConstraint(
                condition=Q(amends__isnull=True, plan_number=1)
                | Q(amends__isnull=False, plan_number__gt=1) & ~Q(amendment_reason=""),
                name="accord_amendment_has_number_and_reason",
            ),
            models.CheckConstraint(
                condition=Q(holds_until=None) | Q(holds_until__gt=models.F("planned_start")),
                name="accord_holds_beyond_its_start",
            ),
            models.UniqueConstraint(
                fields=["amends"], condition=~Q(state=str(State.WITHDRAWN)), name="one_live_amendment_per_accord"
            ),
        ]

    def __str__(self) -> str:
        return self.title

    @property
    def title(self) -> str:
        """Ship and berth, as people say it."""
        return f"{self.ship_name} at {self.berth_name}"

    @property
    def subject(self) -> str:
        """The name under which the trail keeps this accord."""
        return f"accord:{self.public_id}"

    @property
    def next_plan_number(self) -> int:
        """The number that an amendment of this accord gets."""
        return self.plan_number + 1

    def case_file(self) -> CaseFile:
        """Return the frozen case as the typed document it was checked as."""
        return check_case(self.case, self.title)

    def transfer_conditions(self) -> TransferConditions:
        """Return the stated conditions, which decide the checklist items that apply."""
        return TransferConditions.from_document(self.conditions)

    def party(self, side: Side) -> Organisation:
        """Return the organisation that sits on ``side``."""
        return self.ship_party if side is Side.SHIP else self.terminal_party

    def side_of(self, organisation_id: int | None) -> Side | None:
        """Return the side on which an organisation sits, or None where it sits on neither."""
        if organisation_id is None:
            return None
        return {self.ship_party_id: Side.SHIP, self.terminal_party_id: Side.TERMINAL}.get(organisation_id)


class ProposalStatus(models.TextChoices):
    """What became of a proposed value."""

    OPEN = "open", "on the table"
    ACCEPTED = "accepted", "accepted"
    ANSWERED = "answered", "answered with another value"
    TAKEN_BACK = "taken back", "taken back"


class ValueProposal(models.Model):
    """One value put on the table by one side; the latest accepted one of a key is what is agreed."""

    accord = models.ForeignKey(Accord, on_delete=models.PROTECT, related_name="proposals")
    key = models.CharField(max_length=60)
    value = models.DecimalField(max_digits=18, decimal_places=6, null=True)
    words = models.CharField(max_length=LONGEST_WORDS, blank=True)
    typed = models.CharField(max_length=60, blank=True)
    side = models.CharField(max_length=10, choices=_SIDES)
    by = _person()
    at = models.DateTimeField()
    status = models.CharField(max_length=20, choices=ProposalStatus.choices, default=ProposalStatus.OPEN)
    decided_side = models.CharField(max_length=10, choices=_SIDES, blank=True)
    decided_by = _person_or_none()
    decided_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(value__isnull=False, words="") | Q(value__isnull=True) & ~Q(words=""),
                name="proposal_is_a_number_or_words",
            ),
            _one_of("status", list(ProposalStatus.values), "proposal_status_known"),
            _one_of("side", [str(side) for side in Side], "proposal_side_known"),
            models.UniqueConstraint(
                fields=["accord", "key"], condition=Q(status=ProposalStatus.OPEN), name="one_open_proposal_per_value"
            ),
            models.CheckConstraint(
                condition=Q(status=ProposalStatus.OPEN, decided_side="", decided_by=None, decided_at=None)
                | ~Q(status=ProposalStatus.OPEN)
                & ~Q(decided_side="")
                & Q(decided_by__isnull=False, decided_at__isnull=False),
                name="proposal_decided_by_someone_at_some_time",
            ),
            models.CheckConstraint(
                condition=~Q(status__in=[ProposalStatus.ACCEPTED, ProposalStatus.ANSWERED])
                | ~Q(decided_side=models.F("side")),
                name="proposal_decided_by_the_other_side",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.key} {self.given} ({self.status})"

    @property
    def given(self) -> Given:
        """The value itself: a number in its canonical unit, or words."""
        return self.words if self.value is None else self.value


class AnswerChoice(models.TextChoices):
    """What a side can say to a checklist item."""

    YES = "yes", "Yes"
    NO = "no", "No"
    DOES_NOT_APPLY = "does not apply", "Does not apply"


class ChecklistAnswer(models.Model):
    """One answer of one side to one item; a correction is a new row, and the latest row counts."""

    accord = models.ForeignKey(Accord, on_delete=models.PROTECT, related_name="answers")
    item_key = models.CharField(max_length=60)
    side = models.CharField(max_length=10, choices=_SIDES)
    answer = models.CharField(max_length=20, choices=AnswerChoice.choices)
    values = models.JSONField(default=dict, blank=True)
    remark = models.CharField(max_length=500, blank=True)
    by = _person()
    at = models.DateTimeField()
    carried_from_plan = models.PositiveIntegerField(null=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            _one_of("answer", list(AnswerChoice.values), "checklist_answer_known"),
            _one_of("side", [str(side) for side in Side], "checklist_side_known"),
            models.CheckConstraint(
                condition=Q(answer=AnswerChoice.YES) | ~Q(remark=""), name="checklist_reason_unless_yes"
            ),
        ]
        indexes = [models.Index(fields=["accord", "item_key", "side"], name="checklist_latest")]

    def __str__(self) -> str:
        return f"{self.item_key} {self.side}: {self.answer}"


class Signature(models.Model):
    """One person's signature for one side over one settled payload.

    ``cms`` is the detached signature over the payload, ``pdf`` the plan's PDF as it stood with this signature.
    """

    accord = models.ForeignKey(Accord, on_delete=models.PROTECT, related_name="signatures")
    payload_sha256 = models.CharField(max_length=64)
    side = models.CharField(max_length=10, choices=_SIDES)
    person = _person()
    person_name = models.CharField(max_length=120)
    person_title = models.CharField(max_length=120)
    organisation_name = models.CharField(max_length=120)
    certificate_sha256 = models.CharField(max_length=64, blank=True)
    cms = models.BinaryField(null=True)
    pdf = models.BinaryField(null=True)
    signed_at = models.DateTimeField()
    void_at = models.DateTimeField(null=True)
    void_by = _person_or_none()
    void_reason = models.CharField(max_length=500, blank=True)

    class Meta:
        ordering = ["signed_at", "id"]
        constraints = [
            _one_of("side", [str(side) for side in Side], "signature_side_known"),
            models.UniqueConstraint(
                fields=["accord", "side"], condition=Q(void_at=None), name="one_valid_signature_per_side"
            ),
            models.CheckConstraint(
                condition=Q(void_at=None, void_by=None, void_reason="")
                | Q(void_at__isnull=False, void_by__isnull=False) & ~Q(void_reason=""),
                name="signature_voided_by_someone_with_reason",
            ),
            models.CheckConstraint(condition=~Q(person_title=""), name="signature_has_title"),
        ]

    def __str__(self) -> str:
        return f"{self.person_name} for the {self.side}"


class Plan(models.Model):
    """The plan as both sides signed it: the exact bytes, kept and never made again."""

    accord = models.OneToOneField(Accord, on_delete=models.PROTECT, related_name="plan")
    number = models.PositiveIntegerField()
    payload = models.BinaryField()
    sha256 = models.CharField(max_length=64, unique=True)
    signatures = models.BinaryField(null=True)
    signed_first_at = models.DateTimeField()
    signed_last_at = models.DateTimeField()
    pdf = models.BinaryField(null=True)
    # The head of the trail that the plan names, as it stood when the plan was settled.
    trail_position = models.PositiveBigIntegerField(default=0)
    trail_sha256 = models.CharField(max_length=64, blank=True)
    # Plans from before people had keys of their own: their data file, signed by the installation's key.
    earlier_file = models.BinaryField(null=True)
    superseded_by = models.ForeignKey("self", on_delete=models.PROTECT, null=True, related_name="supersedes")

    class Meta:
        ordering = ["-signed_last_at"]
        constraints = [
            models.CheckConstraint(
                condition=Q(earlier_file__isnull=False) | Q(pdf__isnull=False, signatures__isnull=False),
                name="plan_has_its_signatures",
            ),
            models.CheckConstraint(
                condition=Q(signed_last_at__gte=models.F("signed_first_at")), name="plan_signed_in_order"
            ),
        ]

    def __str__(self) -> str:
        return f"Plan {self.number} of {self.accord}"


class AuditGrant(models.Model):
    """A party's leave for an audit organisation to read one accord."""

    accord = models.ForeignKey(Accord, on_delete=models.PROTECT, related_name="audit_grants")
    organisation = models.ForeignKey(Organisation, on_delete=models.PROTECT, related_name="audit_grants")
    granted_side = models.CharField(max_length=10, choices=_SIDES)
    granted_by = _person()
    granted_at = models.DateTimeField()
    ended_by = _person_or_none()
    ended_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["granted_at"]
        constraints = [
            _one_of("granted_side", [str(side) for side in Side], "audit_grant_side_known"),
            models.UniqueConstraint(
                fields=["accord", "organisation", "granted_side"],
                condition=Q(ended_at=None),
                name="one_live_audit_grant_per_side",
            ),
            models.CheckConstraint(
                condition=Q(ended_at=None, ended_by=None) | Q(ended_at__isnull=False, ended_by__isnull=False),
                name="audit_grant_ended_by_someone",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.organisation} may read {self.accord}"
