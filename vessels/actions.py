"""Acts on ships. Each is one transaction with its row in the trail, and asks itself whether the person may."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.db import IntegrityError, transaction

from shared.calc.errors import InputError
from shared.models import Person
from shared.permissions import NotAllowedError, check_acts_for
from shared.revisions import facts_sha256, first_revision, next_revision
from shared.roles import Kind
from shared.trail import Fact, record
from vessels.facts import ShipFacts
from vessels.models import Vessel, VesselRevision


class ImoNumberTakenError(InputError):
    """Another ship of the organisation has this IMO number."""


def check_may_add(person: Person) -> None:
    """Raise NotAllowedError unless the person is an administrator or officer of a ship operator."""
    organisation = person.organisation
    if organisation is None or organisation.kind != Kind.SHIP:
        raise NotAllowedError("Only a ship operator's administrators and officers add ships.")
    check_acts_for(person, organisation)


def may_add(person: Person) -> bool:
    """Tell whether the person may add ships."""
    try:
        check_may_add(person)
    except NotAllowedError:
        return False
    return True


@transaction.atomic
def add_vessel(*, by: Person, now: datetime, facts: ShipFacts, note: str = "") -> Vessel:
    """Add a ship to the person's organisation with revision 1 of her facts."""
    check_may_add(by)
    vessel = Vessel(organisation=by.organisation, name=facts.name, imo_number=facts.imo_number or "")
    _check_not_taken(vessel)
    _save(vessel)
    revision: VesselRevision = first_revision(vessel.revisions, facts=facts, note=note, by=by, now=now)
    _record("ship added", by=by, now=now, vessel=vessel, facts=_about(revision, facts))
    return vessel


@transaction.atomic
def revise_vessel(
    *, by: Person, now: datetime, vessel: Vessel, started_from: int, facts: ShipFacts, note: str = ""
) -> VesselRevision:
    """Write the ship's next revision.

    Raises ChangedMeanwhileError if ``started_from`` is no longer her newest, NothingChangedError for equal facts,
    ImoNumberTakenError for a number that another ship of the organisation has.
    """
    check_acts_for(by, vessel.organisation)
    vessel = Vessel.objects.select_for_update().get(pk=vessel.pk)
    if vessel.archived:
        raise InputError(f"{vessel} is archived; restore her before changing her data.")
    vessel.name, vessel.imo_number = facts.name, facts.imo_number or ""
    _check_not_taken(vessel)
    revision: VesselRevision = next_revision(
        vessel.revisions, started_from=started_from, facts=facts, note=note, by=by, now=now
    )
    _save(vessel, update_fields=["name", "imo_number"])
    _record("ship revised", by=by, now=now, vessel=vessel, facts=_about(revision, facts))
    return revision


@transaction.atomic
def import_vessels(
    *, by: Person, now: datetime, ships: Sequence[tuple[ShipFacts, ShipFacts | None]], note: str = ""
) -> int:
    """Add or revise many ships at once, all of them or none; return how many changed.

    Each comes with the facts that it was read against, None for a new ship. Raises InputError where a ship's newest
    facts are others by now, or where an act on one of them is refused.
    """
    check_may_add(by)
    changed = 0
    for facts, before in ships:
        if before is None:
            add_vessel(by=by, now=now, facts=facts, note=note)
        elif facts != before:
            vessel = _known_as(by, before)
            latest = vessel.revisions.latest("number")
            if latest.ship_facts() != before:
                raise InputError(f"{vessel} was revised meanwhile; nothing was saved. Send the file again.")
            revise_vessel(by=by, now=now, vessel=vessel, started_from=latest.number, facts=facts, note=note)
        changed += facts != before
    return changed


def _known_as(person: Person, facts: ShipFacts) -> Vessel:
    own = Vessel.objects.filter(organisation=person.organisation, archived=False)
    named = own.filter(imo_number=facts.imo_number) if facts.imo_number else own.filter(name=facts.name, imo_number="")
    found = named.first()
    if found is None:
        raise InputError(f"{facts.name} is no longer on the list; nothing was saved. Send the file again.")
    return found


def take_pump_off(*, by: Person, now: datetime, vessel: Vessel, started_from: int, key: str) -> VesselRevision:
    """Write the ship's next revision without one pump; raise InputError for her last one."""
    check_acts_for(by, vessel.organisation)
    facts = vessel.revisions.latest("number").ship_facts()
    left = [pump for pump in facts.pumps if pump.key != key]
    if not left:
        raise InputError(f"{key} is the only pump of {vessel}; a ship keeps at least one. Add the other one first.")
    return revise_vessel(
        by=by,
        now=now,
        vessel=vessel,
        started_from=started_from,
        facts=facts.model_copy(update={"pumps": left}),
        note=f"Pump {key} taken off",
    )


@transaction.atomic
def archive_vessel(*, by: Person, now: datetime, vessel: Vessel) -> None:
    """Take a ship off the list; her data stay and she can be brought back."""
    _set_archived(by=by, now=now, vessel=vessel, archived=True)


@transaction.atomic
def restore_vessel(*, by: Person, now: datetime, vessel: Vessel) -> None:
    """Bring an archived ship back to the list."""
    _set_archived(by=by, now=now, vessel=vessel, archived=False)


def _set_archived(*, by: Person, now: datetime, vessel: Vessel, archived: bool) -> None:
    check_acts_for(by, vessel.organisation)
    if not Vessel.objects.filter(pk=vessel.pk, archived=not archived).update(archived=archived):
        raise InputError(f"{vessel} is {'archived' if archived else 'on the list'} already; nothing was changed.")
    vessel.archived = archived
    _record("ship archived" if archived else "ship restored", by=by, now=now, vessel=vessel, facts={})


def _check_not_taken(vessel: Vessel) -> None:
    same = Vessel.objects.filter(organisation=vessel.organisation, imo_number=vessel.imo_number).exclude(pk=vessel.pk)
    if vessel.imo_number and (other := same.first()):
        raise ImoNumberTakenError(_taken(vessel, other.name))


def _save(vessel: Vessel, update_fields: list[str] | None = None) -> None:
    try:
        with transaction.atomic():
            vessel.save(update_fields=update_fields)
    except IntegrityError as error:  # added by somebody else since it was looked up
        raise ImoNumberTakenError(_taken(vessel, "another ship")) from error


def _taken(vessel: Vessel, other: str) -> str:
    return (
        f"IMO number {vessel.imo_number} belongs to {other}, which {vessel.organisation} has already;"
        " correct the number, or revise that ship."
    )


def _about(revision: VesselRevision, facts: ShipFacts) -> dict[str, Fact]:
    return {"revision": revision.number, "note": revision.note, "facts_sha256": facts_sha256(facts)}


def _record(act: str, *, by: Person, now: datetime, vessel: Vessel, facts: dict[str, Fact]) -> None:
    about: dict[str, Fact] = {"name": vessel.name, "imo_number": vessel.imo_number}
    record(act=act, by=by, now=now, subject=f"vessel:{vessel.public_id}", facts=about | facts)
