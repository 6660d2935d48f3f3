"""Acts on screenings. Each is one transaction with its row in the trail, and asks itself whether the person may."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from compat.assessing.actions import check_may_assess, store_assessment
from compat.assessing.models import Assessment
from compat.case.composing import setting_of
from compat.screening.background import launch
from compat.screening.models import Screening, ScreeningShare
from compat.screening.moving import move
from compat.screening.queries import Subjects, subjects_of
from compat.screening.states import Move
from compat.screening.terms import ScreeningTerms, pair_case
from shared.calc.errors import InputError
from shared.models import Person
from shared.permissions import NotAllowedError, check_acts_for, is_member
from shared.trail import Fact, record
from terminals.models import Berth, BerthRevision
from vessels.models import Vessel, VesselRevision

MOST_PAIRS = 2_000_000


@transaction.atomic
def start_screening(
    *,
    by: Person,
    now: datetime,
    title: str,
    terms: ScreeningTerms,
    vessels: Sequence[Vessel],
    berths: Sequence[Berth],
    earlier: Screening | None = None,
) -> Screening:
    """Screen ships of the person's organisation at berths, on the newest data of both, in the background.

    Raises InputError where nothing is chosen, data is missing, or there are more than MOST_PAIRS pairs.
    """
    organisation = check_may_assess(by)
    for vessel in vessels:
        check_acts_for(by, vessel.organisation)
    ships, places = _newest(vessels), _newest(berths)
    total = len(ships) * len(places) * len(terms.cargoes)
    if not total:
        raise InputError("Choose at least one ship and one berth.")
    if total > MOST_PAIRS:
        raise InputError(f"{total:,} pairs are chosen; allowed: up to {MOST_PAIRS:,}. Choose fewer ships or berths.")
    made = Screening.objects.create(
        organisation=organisation,
        title=title.strip()[:120] or f"{len(ships)} ships at {len(places)} berths",
        terms=terms.model_dump(mode="json", exclude_none=True),
        ships=ships,
        berths=places,
        total=total,
        earlier=earlier,
        made_by=by,
        made_at=now,
        beat_at=now,
    )
    facts: dict[str, Fact] = {"title": made.title, "ships": len(ships), "berths": len(places), "pairs": total}
    record(act="screening started", by=by, now=now, subject=made.subject, facts=facts)
    transaction.on_commit(lambda: launch(made.pk))
    return made


def run_again(*, by: Person, now: datetime, screening: Screening) -> Screening:
    """Screen the same ships and berths on the same terms again, on their newest data; archived ones are left out."""
    _check_sees(by, screening)
    subjects = subjects_of(screening)
    vessels = [row.vessel for row in subjects.ships if not row.vessel.archived]
    berths = [row.berth for row in subjects.berths if not row.berth.archived]
    return start_screening(
        by=by,
        now=now,
        title=screening.title,
        terms=screening.screening_terms(),
        vessels=vessels,
        berths=berths,
        earlier=screening,
    )


@transaction.atomic
def cancel_screening(*, by: Person, now: datetime, screening: Screening) -> None:
    """Stop a screening; what is worked out so far stays."""
    _check_works_on(by, screening)
    move(screening, Move.CANCEL, now=now)
    record(act="screening cancelled", by=by, now=now, subject=screening.subject, facts={"done": screening.done})


@transaction.atomic
def go_on(*, by: Person, now: datetime, screening: Screening) -> None:
    """Take up a screening that was cancelled, failed, or whose worker has gone; nothing is worked out twice."""
    _check_works_on(by, screening)
    move(screening, Move.GO_ON, now=now)
    record(act="screening continued", by=by, now=now, subject=screening.subject, facts={"done": screening.done})
    transaction.on_commit(lambda: launch(screening.pk))


@transaction.atomic
def share_screening(*, by: Person, now: datetime, screening: Screening, person: Person) -> None:
    """Let a colleague see a screening; raise InputError for someone who sees it already."""
    _check_sees(by, screening)
    if not is_member(person, screening.organisation):
        raise NotAllowedError(f"Only people of {screening.organisation} can be given this screening.")
    if person.pk == screening.made_by_id or screening.shares.filter(person=person).exists():
        raise InputError(f"{person} sees this screening already.")
    ScreeningShare.objects.create(screening=screening, person=person, shared_by=by, shared_at=now)
    record(act="screening shared", by=by, now=now, subject=screening.subject, facts={"with": person.username})


@transaction.atomic
def unshare_screening(*, by: Person, now: datetime, screening: Screening, person: Person) -> None:
    """Take a screening back from a colleague: whoever made it may, and the colleague themselves."""
    if by.pk not in {screening.made_by_id, person.pk}:
        raise NotAllowedError(f"Only {screening.made_by} or {person} may end this sharing.")
    if not screening.shares.filter(person=person).delete()[0]:
        raise InputError(f"{person} was not given this screening.")
    record(act="screening no longer shared", by=by, now=now, subject=screening.subject, facts={"with": person.username})


@transaction.atomic
def keep_pair(
    *, by: Person, now: datetime, screening: Screening, cargo: int, ship: int, berth: int, subjects: Subjects
) -> Assessment:
    """Store one pair of a screening as an assessment, on the revisions that were screened."""
    _check_works_on(by, screening)
    terms = screening.screening_terms()
    ship_data, berth_data = subjects.ships[ship], subjects.berths[berth]
    facts = berth_data.berth_facts()
    case = pair_case(terms, terms.cargoes[cargo], ship_data.ship_facts(), facts)
    return store_assessment(
        by=by,
        now=now,
        ship_data=ship_data,
        berth_data=berth_data,
        setting=setting_of(case, facts),
        about={"screening": str(screening.public_id)},
    )


def _newest(subjects: Sequence[Vessel] | Sequence[Berth]) -> list[int]:
    """Return the key of the newest revision of each, once each, in the order given."""
    if not subjects:
        return []
    first = subjects[0]
    revisions = VesselRevision if isinstance(first, Vessel) else BerthRevision
    owner = "vessel_id" if isinstance(first, Vessel) else "berth_id"
    rows = revisions.objects.filter(**{f"{owner}__in": [one.pk for one in subjects]})
    newest = dict(rows.order_by("number").values_list(owner, "pk"))  # a later number overwrites an earlier one
    for one in subjects:
        if one.archived:
            raise InputError(f"{one} is archived; restore it, or leave it out.")
        if one.pk not in newest:
            raise InputError(f"{one} has no data yet; enter them, or leave it out.")
    return [newest[pk] for pk in dict.fromkeys(one.pk for one in subjects)]


def _check_sees(by: Person, screening: Screening) -> None:
    if by.pk != screening.made_by_id and not screening.shares.filter(person=by).exists():
        raise NotAllowedError("Only those with whom this screening is shared may do this.")


def _check_works_on(by: Person, screening: Screening) -> None:
    check_may_assess(by)
    check_acts_for(by, screening.organisation)
    _check_sees(by, screening)
