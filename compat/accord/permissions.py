"""Who may see an accord and who may act in it; what its state allows stands in ``states``."""

from __future__ import annotations

from django.db.models import Q, QuerySet

from compat.accord.checklist.item import Side
from compat.accord.models import Accord, AuditGrant, GuestInvitation
from shared.models import Organisation, Person
from shared.permissions import NotAllowedError, acts_for
from shared.roles import Kind


def visible_to(person: Person) -> QuerySet[Accord]:
    """Return the accords that exist for a person: those of their organisation, granted to it, or invited to."""
    if not person.is_active:
        return Accord.objects.none()
    if person.guest_of_id is not None:
        return Accord.objects.filter(pk__in=_living_invitations(person).values("accords"))
    if person.organisation_id is None:
        return Accord.objects.none()
    own = Q(ship_party=person.organisation_id) | Q(terminal_party=person.organisation_id)
    granted = AuditGrant.objects.filter(organisation=person.organisation_id, ended_at=None).values("accord")
    return Accord.objects.filter(own | Q(pk__in=granted))


def side_of(person: Person, accord: Accord) -> Side | None:
    """Return the side a person belongs to or was invited by, or None for a stranger or an auditor."""
    if not person.is_active:
        return None
    if person.guest_of_id is not None:
        invitation = _invitation_to(person, accord)
        return Side(invitation.side) if invitation else None
    return accord.side_of(person.organisation_id)


def acting_side(person: Person, accord: Accord) -> Side | None:
    """Return the side a person may act for, as one of its people or as its guest, or None."""
    return side_of(person, accord) if person.guest_of_id is not None else own_side(person, accord)


def own_side(person: Person, accord: Accord) -> Side | None:
    """Return the side whose administrator or officer a person is: no guest, no reader."""
    side = accord.side_of(person.organisation_id) if person.is_active else None
    return side if side is not None and acts_for(person, accord.party(side)) else None


def may_sign(person: Person, accord: Accord) -> bool:
    """Tell whether a person may sign for their side: its people may, a guest where the invitation says so."""
    if person.guest_of_id is None:
        return own_side(person, accord) is not None
    invitation = _invitation_to(person, accord) if person.is_active else None
    return invitation is not None and invitation.may_sign


def check_acting_side(person: Person, accord: Accord) -> Side:
    """Return the side a person acts for; raise NotAllowedError for readers, auditors and strangers."""
    return _or_refuse(acting_side(person, accord))


def check_own_side(person: Person, accord: Accord) -> Side:
    """Return the side whose administrator or officer a person is; raise NotAllowedError for guests as well."""
    return _or_refuse(own_side(person, accord))


def check_signing_side(person: Person, accord: Accord) -> Side:
    """Return the side a person may sign for; raise NotAllowedError for a guest who was invited without it."""
    side = check_acting_side(person, accord)
    if not may_sign(person, accord):
        raise NotAllowedError(
            f"You were invited by the {side} to work on this accord, not to sign it;"
            " one of its own people signs, or invites you anew."
        )
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


def _or_refuse(side: Side | None) -> Side:
    if side is None:
        raise NotAllowedError("Only an administrator or officer of the ship or terminal party may do this.")
    return side


def _living_invitations(person: Person) -> QuerySet[GuestInvitation]:
    return GuestInvitation.objects.filter(person=person, ended_at=None)


def _invitation_to(person: Person, accord: Accord) -> GuestInvitation | None:
    return _living_invitations(person).filter(accords=accord).first()
