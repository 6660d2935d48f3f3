"""Acts that invite a named person to one accord, let them in by a link, and end that."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import transaction
from django.db.models import F

from compat.accord.checklist.item import Side
from compat.accord.guest_models import GuestInvitation
from compat.accord.models import Accord
from compat.accord.moving import MeanwhileError
from compat.accord.permissions import check_own_side
from compat.accord.states import CLOSED_STATES
from shared.actions import checked_username
from shared.calc.errors import AccordError, InputError
from shared.canonical import sha256_hex
from shared.mail import Letter, mail_after_commit, site_address
from shared.models import Person
from shared.own_secrets import check_secret, set_secret
from shared.permissions import NotAllowedError
from shared.roles import Role
from shared.trail import Fact, record

LINK_HOURS = (24, 72, 168, 336)
LONGEST_NAME = 120


class LinkError(AccordError):
    """The link was used, ended, or is too old; it says so and whom to ask."""


@dataclass(frozen=True)
class Invited:
    """An invitation with the token of its link, which is nowhere kept and shown only now."""

    invitation: GuestInvitation
    token: str


@transaction.atomic
def invite_guest(
    *,
    by: Person,
    now: datetime,
    accord: Accord,
    full_name: str,
    title: str,
    email: str = "",
    may_sign: bool,
    link_hours: int,
) -> Invited:
    """Invite a person to act for one's own side in this accord only, by a link that works once."""
    side = check_own_side(by, accord)
    if accord.state in CLOSED_STATES:
        raise InputError(f"This accord is {accord.state}; a guest could do nothing in it.")
    name = _checked(full_name, "Full name", "Name the person, not an office.")
    _check_not_invited(accord, side, name)
    token = secrets.token_urlsafe(32)
    invitation = GuestInvitation.objects.create(
        accord=accord,
        side=side,
        full_name=name,
        title=_checked(title, "Title", "Write the office in which they act, such as Chief Officer."),
        email=_checked_email(email),
        may_sign=may_sign,
        token_sha256=sha256_hex(token.encode()),
        expires_at=now + _checked_hours(link_hours),
        made_by=by,
        made_at=now,
    )
    invitation.accords.add(accord)
    _record("guest invited", invitation, by=by, now=now)
    return _sent(Invited(invitation, token))


@transaction.atomic
def renew_guest_link(*, by: Person, now: datetime, invitation: GuestInvitation, link_hours: int) -> Invited:
    """Give a guest another link, because the first was lost or their secret was; sessions and the old link end."""
    _check_owner(by, invitation)
    token = secrets.token_urlsafe(32)
    changes = {
        "token_sha256": sha256_hex(token.encode()),
        "expires_at": now + _checked_hours(link_hours),
        "used_at": None,
    }
    _change_living(invitation, changes)
    if invitation.person_id is not None:
        Person.objects.filter(pk=invitation.person_id).update(session_number=F("session_number") + 1)
    _record("guest link renewed", invitation, by=by, now=now)
    return _sent(Invited(invitation, token))


def invitation_behind(token: str, now: datetime) -> GuestInvitation:
    """Return the invitation that a link stands for; raise LinkError where it opens nothing."""
    found = GuestInvitation.objects.select_related("accord", "person").filter(token_sha256=sha256_hex(token.encode()))
    invitation = found.first()
    if invitation is None or not invitation.link_works(now):
        raise LinkError(
            "This link opens nothing: it was used, replaced or ended, or it is too old."
            " Ask whoever sent it for another one; if you have set your secret already, sign in with it."
        )
    return invitation


@transaction.atomic
def accept_invitation(*, now: datetime, token: str, username: str, secret: str) -> Person:
    """Let the invited person set a username and a secret, once; a renewed link only sets a new secret."""
    invitation = invitation_behind(token, now)
    person = invitation.person or _new_guest(invitation, username, secret)
    used = GuestInvitation.objects.filter(pk=invitation.pk, used_at=None, ended_at=None)
    if used.update(used_at=now, person=person) != 1:
        raise LinkError("This link was used a moment ago; sign in with the secret that was set.")
    invitation.refresh_from_db()
    set_secret(person, secret=secret, present=None, initial=False)
    _record("guest set a secret", invitation, by=person, now=now, username=person.username)
    return person


@transaction.atomic
def end_invitation(*, by: Person, now: datetime, invitation: GuestInvitation) -> None:
    """End a guest's access at once; what they did and signed keeps their name."""
    _check_owner(by, invitation)
    _change_living(invitation, {"ended_at": now, "ended_by": by})
    if invitation.person_id is not None:
        closed = {"is_active": False, "session_number": F("session_number") + 1}
        Person.objects.filter(pk=invitation.person_id).update(**closed)
    _record("guest access ended", invitation, by=by, now=now)


def carry_guests_over(earlier: Accord, amendment: Accord) -> None:
    """Let the guests of an accord into its amendment, on the same terms."""
    for invitation in earlier.guest_invitations.filter(ended_at=None):
        invitation.accords.add(amendment)


def _sent(invited: Invited) -> Invited:
    """Send the link to the guest's mail address, where there is one, once the invitation is committed."""
    invitation = invited.invitation
    if invitation.email:
        text = (
            f"{invitation.full_name}, {invitation.title}\n\n"
            f"{invitation.made_by} invites you to the accord of {invitation.accord.title}"
            f" ({invitation.accord.reference}) for the {invitation.side}.\n\n"
            f"{site_address('guest-accept', invited.token)}\n\n"
            f"The link works once and until {invitation.expires_at:%d %B %Y %H:%M} UTC. Pass it on to nobody:"
            " whoever opens it acts in your name.\n"
        )
        letter = Letter(invitation.email, f"Invitation: {invitation.accord.title}", text)
        mail_after_commit(lambda: [letter])
    return invited


def _new_guest(invitation: GuestInvitation, username: str, secret: str) -> Person:
    person = Person(
        username=checked_username(username),
        full_name=invitation.full_name,
        title=invitation.title,
        email=invitation.email,
        guest_of=invitation.accord.party(Side(invitation.side)),
        role=Role.OFFICER,
    )
    check_secret(secret, person)
    person.set_unusable_password()
    person.save(force_insert=True)
    return person


def _check_owner(by: Person, invitation: GuestInvitation) -> None:
    side = check_own_side(by, invitation.accord)
    if invitation.side != side:
        raise NotAllowedError(
            f"The {invitation.side} invited {invitation.full_name}, so the {invitation.side} changes that."
        )


def _check_not_invited(accord: Accord, side: Side, name: str) -> None:
    if accord.guest_invitations.filter(side=side, full_name__iexact=name, ended_at=None).exists():
        raise InputError(f"{name} is invited already for the {side}; give another link there, or end that first.")


def _change_living(invitation: GuestInvitation, changes: dict[str, object]) -> None:
    if GuestInvitation.objects.filter(pk=invitation.pk, ended_at=None).update(**changes) != 1:
        raise MeanwhileError(f"The access of {invitation.full_name} was ended already; nothing was changed.")
    invitation.refresh_from_db()


def _checked(text: str, field: str, advice: str) -> str:
    told = " ".join(text.split())
    if not told or len(told) > LONGEST_NAME:
        raise InputError(f"{field} has {len(told)} characters; allowed: 1 to {LONGEST_NAME}. {advice}")
    return told


def _checked_email(email: str) -> str:
    told = email.strip()
    if told:
        try:
            validate_email(told)
        except ValidationError:
            raise InputError(f"Mail address {told[:60]!r} is not one; write it like officer@ship.example.") from None
    return told


def _checked_hours(hours: int) -> timedelta:
    if hours not in LINK_HOURS:
        allowed = ", ".join(str(one) for one in LINK_HOURS)
        raise InputError(f"The link is to work for {hours} hours; choose one of {allowed}.")
    return timedelta(hours=hours)


def _record(act: str, invitation: GuestInvitation, *, by: Person, now: datetime, **more: Fact) -> None:
    facts: dict[str, Fact] = {
        "guest": invitation.full_name,
        "title": invitation.title,
        "side": invitation.side,
        "may_sign": invitation.may_sign,
        **more,
    }
    for accord in invitation.accords.all():
        record(act=act, by=by, now=now, subject=accord.subject, facts=facts)
