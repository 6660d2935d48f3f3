"""Who may see an accord and who may act in it; what its state allows stands in ``states``."""

from __future__ import annotations

from django.db.models import Q, QuerySet

from compat.accord.checklist.item import Side
from compat.accord.models import Accord, AuditGrant
from shared.models import Organisation, Person
from shared.permissions import NotAllowedError, acts_for
from shared.roles import Kind


def visible_to(person: Person) -> QuerySet[Accord]:
    """Return the accords that exist for a person: those of their organisation, or granted to their auditors."""
    if not person.is_active or person.organisation_id is None:
        return Accord.objects.none()
    own = Q(ship_party=person.organisation_id) | Q(terminal_party=person.organisation_id)
    granted = AuditGrant.objects.filter(organisation=person.organisation_id, ended_at=None).values("accord")
    return Accord.objects.filter(own | Q(pk__in=granted))


def side_of(person: Person, accord: Accord) -> Side | None:
    """Return the side a person belongs to, or None for a stranger or an auditor."""
    return accord.side_of(person.organisation_id) if person.is_active else None


def acting_side(person: Person, accord: Accord) -> Side | None:
    """Return the side a person may act for, or None."""
    side = side_of(person, accord)
    return side if side is not None and acts_for(person, accord.party(side)) else None


def check_acting_side(person: Person, accord: Accord) -> Side:
    """Return the side a person acts for; raise NotAllowedError for readers, auditors and strangers."""
    side = acting_side(person, accord)
    if side is None:
        raise NotAllowedError("Only an administrator or officer of the ship or terminal party may do this.")
    return side


def sees_line_data(person: Person, accord: Accord) -> bool:
    """Tell whether a person may see the shore line itself, not only the answer worked out from it.

    The terminal's people always may. The ship's people may where the terminal shares the line of this berth,
    and auditors where it is shared or the terminal let them in.
    """
    if accord.berth_revision.berth.line_data_shared or side_of(person, accord) is Side.TERMINAL:
        return True
    return AuditGrant.objects.filter(
        accord=accord, organisation=person.organisation_id, granted_side=Side.TERMINAL, ended_at=None
    ).exists()


def check_sees_line_data(person: Person, accord: Accord) -> None:
    """Raise NotAllowedError where the terminal keeps its line data from this person."""
    if not sees_line_data(person, accord):
        raise NotAllowedError(
            f"{accord.terminal_party} keeps the data of its shore line to itself; the answer stands on the page."
        )


def can_be_granted(organisation: Organisation) -> bool:
    """Tell whether an organisation is one that reads accords for audit."""
    return organisation.kind == Kind.AUDIT
