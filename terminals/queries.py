"""What pages read about terminals and berths. All signed-in organisations see that a berth exists and its size.

Arms, shore line and limits are for the terminal's own people, and for others only where it shares them.
"""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import OuterRef, Q, QuerySet, Subquery

from shared.models import Person
from shared.permissions import is_member
from terminals.facts import BerthSizeFacts
from terminals.models import Berth, BerthRevision, Terminal


def terminals_seen_by(person: Person) -> QuerySet[Terminal]:
    """Return every terminal, for people of any organisation."""
    if person.organisation_id is None:
        return Terminal.objects.none()
    return Terminal.objects.select_related("organisation")


def own_terminals(person: Person) -> QuerySet[Terminal]:
    """Return the terminals of the person's own organisation."""
    return terminals_seen_by(person).filter(organisation=person.organisation_id)


def berths_seen_by(person: Person) -> QuerySet[Berth]:
    """Return every berth, and of archived ones only those of the person's own organisation."""
    if person.organisation_id is None:
        return Berth.objects.none()
    seen = Q(archived=False) | Q(terminal__organisation=person.organisation_id)
    return Berth.objects.filter(seen).select_related("terminal__organisation")


def berth_list(person: Person, *, own: bool, archived: bool) -> QuerySet[Berth]:
    """Return berths on the list (or the archived ones), each with ``stated_size``; ``with_sizes`` reads it."""
    newest = BerthRevision.objects.filter(berth=OuterRef("pk")).order_by("-number")
    found = berths_seen_by(person).filter(archived=archived)
    if own:
        found = found.filter(terminal__organisation=person.organisation_id)
    return found.annotate(stated_size=Subquery(newest.values("facts__size")[:1]))


def with_sizes(berths: Iterable[Berth]) -> list[tuple[Berth, BerthSizeFacts]]:
    """Return berths of ``berth_list``, each with the size of ship that it takes."""
    return [(berth, BerthSizeFacts.model_validate(getattr(berth, "stated_size", None) or {})) for berth in berths]


def sees_line_data(person: Person, berth: Berth) -> bool:
    """Tell whether the person sees arms, shore line and limits of a berth."""
    return berth.line_data_shared or is_member(person, berth.terminal.organisation)


def latest_revision(berth: Berth) -> BerthRevision:
    """Return the berth's newest revision."""
    return berth.revisions.select_related("made_by").latest("number")
