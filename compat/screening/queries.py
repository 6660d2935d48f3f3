"""What pages read about screenings. A screening exists for whoever made it and whom it is shared with."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from uuid import UUID

from django.db.models import Q, QuerySet

from compat.assessing.queries import may_assess
from compat.screening.models import Screening, ScreeningPiece
from compat.screening.results import Results, from_bytes, joined
from shared.models import Person
from shared.permissions import acts_for
from terminals.models import BerthRevision
from vessels.models import VesselRevision


def screenings_seen_by(person: Person) -> QuerySet[Screening]:
    """Return the screenings that the person made or was given, in their own organisation."""
    if not person.is_active or person.organisation_id is None:
        return Screening.objects.none()
    own = Q(made_by=person) | Q(shares__person=person)
    found = Screening.objects.filter(own, organisation=person.organisation_id)
    return found.select_related("organisation", "made_by", "earlier").distinct()


def may_screen(person: Person) -> bool:
    """Tell whether the person makes screenings: whoever stores assessments does."""
    return may_assess(person)


def may_work_on(person: Person, screening: Screening) -> bool:
    """Tell whether the person may cancel, continue or run a screening again that they see."""
    return may_screen(person) and acts_for(person, screening.organisation)


def colleagues_to_share_with(person: Person, screening: Screening) -> QuerySet[Person]:
    """Return the people of the organisation who do not see the screening yet."""
    found = Person.objects.filter(organisation=screening.organisation_id, is_active=True)
    return found.exclude(pk=screening.made_by_id).exclude(shared_screenings__screening=screening).exclude(pk=person.pk)


@dataclass(frozen=True)
class Subjects:
    """The ships and berths of a screening, in the order that its results count by."""

    ships: Sequence[VesselRevision]
    berths: Sequence[BerthRevision]


def subjects_of(screening: Screening) -> Subjects:
    """Return the revisions that were screened."""
    ships = VesselRevision.objects.select_related("vessel__organisation", "made_by").in_bulk(screening.ships)
    berths = BerthRevision.objects.select_related("berth__terminal__organisation", "made_by").in_bulk(screening.berths)
    return Subjects([ships[key] for key in screening.ships], [berths[key] for key in screening.berths])


@dataclass(frozen=True)
class Names:
    """What ships and berths of a screening are called; read without their documents."""

    ships: Sequence[str]
    berths: Sequence[str]
    ship_keys: Sequence[int]
    berth_keys: Sequence[int]


def names_of(screening: Screening) -> Names:
    """Return the names and the row keys of ships and berths, in the order that results count by."""
    ships = dict(VesselRevision.objects.filter(pk__in=screening.ships).values_list("pk", "vessel__name").iterator())
    ship_rows = dict(VesselRevision.objects.filter(pk__in=screening.ships).values_list("pk", "vessel_id"))
    berths = {
        key: f"{terminal}, {name}"
        for key, terminal, name in BerthRevision.objects.filter(pk__in=screening.berths).values_list(
            "pk", "berth__terminal__name", "berth__name"
        )
    }
    berth_rows = dict(BerthRevision.objects.filter(pk__in=screening.berths).values_list("pk", "berth_id"))
    return Names(
        [ships[key] for key in screening.ships],
        [berths[key] for key in screening.berths],
        [ship_rows[key] for key in screening.ships],
        [berth_rows[key] for key in screening.berths],
    )


def results_of(screening: Screening) -> Results:
    """Return every pair that is worked out so far."""
    keys = tuple(screening.pieces.values_list("pk", flat=True))
    return _joined(screening.public_id, keys)


# A piece never changes, so the same keys are the same results; a restored database may give its keys to others anew.
@lru_cache(maxsize=4)
def _joined(_of: UUID, keys: tuple[int, ...]) -> Results:
    pieces = ScreeningPiece.objects.in_bulk(keys)
    return joined([from_bytes(bytes(pieces[key].columns)) for key in keys])
