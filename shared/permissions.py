"""Who may act: each rule once as a check that raises, once as a question for pages."""

from __future__ import annotations

from shared.calc.errors import AccordError
from shared.models import Organisation, Person
from shared.roles import ACTING_ROLES, Role


class NotAllowedError(AccordError):
    """The person may know of this, but may not do it."""


def is_member(person: Person, organisation: Organisation) -> bool:
    """Tell whether the person belongs to the organisation."""
    return person.is_active and person.organisation_id is not None and person.organisation_id == organisation.pk


def acts_for(person: Person, organisation: Organisation) -> bool:
    """Tell whether the person is an administrator or officer of the organisation."""
    return is_member(person, organisation) and person.role in ACTING_ROLES


def administers(person: Person, organisation: Organisation) -> bool:
    """Tell whether the person is an administrator of the organisation."""
    return is_member(person, organisation) and person.role == Role.ADMINISTRATOR


def runs_installation(person: Person) -> bool:
    """Tell whether the person looks after the installation itself."""
    return person.is_active and person.is_superuser


def check_member(person: Person, organisation: Organisation) -> None:
    """Raise NotAllowedError unless the person belongs to the organisation."""
    if not is_member(person, organisation):
        raise NotAllowedError(f"Only people of {organisation} may see or do this.")


def check_acts_for(person: Person, organisation: Organisation) -> None:
    """Raise NotAllowedError unless the person is an administrator or officer of the organisation."""
    if not acts_for(person, organisation):
        raise NotAllowedError(f"Only an administrator or officer of {organisation} may do this.")


def check_administrator(person: Person, organisation: Organisation) -> None:
    """Raise NotAllowedError unless the person is an administrator of the organisation."""
    if not administers(person, organisation):
        raise NotAllowedError(f"Only an administrator of {organisation} may do this.")


def check_runs_installation(person: Person) -> None:
    """Raise NotAllowedError unless the person looks after the installation itself."""
    if not runs_installation(person):
        raise NotAllowedError("Only the administrator of this installation may do this.")
