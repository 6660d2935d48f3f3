"""What pages about people and organisations read."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from django.db.models import QuerySet

from shared.models import Organisation, Person
from shared.permissions import runs_installation


@dataclass(frozen=True)
class Waiting:
    """One thing on the home page that waits for this person, and where it is done."""

    sentence: str
    address: str
    act: str


WaitingFor = Callable[[Person], list[Waiting]]
_waiting_lists: list[WaitingFor] = []


def show_waiting(waiting_for: WaitingFor) -> WaitingFor:
    """Register a function that names what waits for a person; the home page lists all of it."""
    if waiting_for not in _waiting_lists:
        _waiting_lists.append(waiting_for)
    return waiting_for


def waiting_for(person: Person) -> list[Waiting]:
    """Return everything that waits for this person, in the order in which rooms registered."""
    return [item for waiting_list in _waiting_lists for item in waiting_list(person)]


def organisations_seen_by(person: Person) -> QuerySet[Organisation]:
    """Return a person's own organisation, or all of them for who runs the installation."""
    if runs_installation(person):
        return Organisation.objects.all()
    if person.organisation_id is None:
        return Organisation.objects.none()
    return Organisation.objects.filter(pk=person.organisation_id)


def people_seen_by(person: Person) -> QuerySet[Person]:
    """Return the people of a person's own organisation."""
    if person.organisation_id is None:
        return Person.objects.none()
    return Person.objects.filter(organisation=person.organisation_id).select_related("organisation")
