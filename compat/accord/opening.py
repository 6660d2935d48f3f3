"""Acts that open an accord, or an amendment of one that is in force."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import IntegrityError, transaction

from compat.accord.answering import latest_answers
from compat.accord.bargaining import propose_value, standing
from compat.accord.checklist.conditions import Connection, TransferConditions
from compat.accord.checklist.item import Side
from compat.accord.ending import expire_due
from compat.accord.inviting import carry_guests_over
from compat.accord.models import Accord, AuditGrant, ChecklistAnswer, ValueProposal
from compat.accord.moving import MeanwhileError, check_on_table, checked_reason, locked
from compat.accord.permissions import check_acting_side
from compat.accord.practice import newest_practice
from compat.accord.states import State
from compat.accord.value_kinds import Given
from compat.accord.values import DEFINITIONS
from compat.assessing.models import Assessment
from compat.case.case_file import CaseFile, case_document
from compat.case.composing import compose_case, setting_of
from shared.calc.errors import InputError
from shared.canonical import canonical_bytes, numbers_as_text, sha256_hex
from shared.models import Person
from shared.permissions import NotAllowedError, acts_for
from shared.trail import Fact, record
from shared.zones import checked_zone
from terminals.models import BerthRevision, Terminal
from vessels.models import VesselRevision

LONGEST_PLACE = 250


@transaction.atomic
def open_accord(
    *,
    by: Person,
    now: datetime,
    vessel_revision: VesselRevision,
    berth_revision: BerthRevision,
    case: CaseFile,
    conditions: TransferConditions,
    place: str,
    planned_start: datetime,
    holds_until: datetime | None = None,
    ship_zone: str = "",
    proposals: Mapping[str, Given] | None = None,
) -> Accord:
    """Open an accord between a ship's and a berth's operator on a frozen case, on behalf of one of them.

    ``proposals`` are values, by key, that the opening side puts on the table at once; without ``holds_until`` the plan
    holds until it is withdrawn or superseded. Raises NotAllowedError for
    anyone else, InputError where the case is not made of these revisions.
    """
    ship_party, terminal_party = vessel_revision.vessel.organisation, berth_revision.berth.terminal.organisation
    side = Side.SHIP if acts_for(by, ship_party) else Side.TERMINAL
    if not (acts_for(by, ship_party) or acts_for(by, terminal_party)):
        raise NotAllowedError(
            "Only an administrator or officer of the ship's or the terminal's operator opens an accord."
        )
    _check_made_of(case, vessel_revision, berth_revision)
    accord = Accord.objects.create(
        ship_party=ship_party,
        terminal_party=terminal_party,
        place=_checked_place(place),
        planned_start=_checked_start(planned_start),
        holds_until=_checked_end(holds_until, planned_start),
        conditions=conditions_of(case, conditions).document(),
        ship_zone=checked_zone(ship_zone),
        state_changed_at=now,
        opened_by=by,
        opened_side=side,
        opened_at=now,
        **frozen_practice(berth_revision.berth.terminal),
        **_frozen(case, vessel_revision, berth_revision),
    )
    facts: dict[str, Fact] = {
        "side": str(side),
        "ship": accord.ship_name,
        "berth": accord.berth_name,
        "facts_sha256": accord.facts_sha256,
    }
    record(act="accord opened", by=by, now=now, subject=accord.subject, facts=facts)
    for key, value in (proposals or {}).items():
        propose_value(by=by, now=now, accord=accord, key=key, value=value, seen=None)
    return accord


@transaction.atomic
def open_amendment(
    *,
    by: Person,
    now: datetime,
    accord: Accord,
    reason: str,
    planned_start: datetime,
    holds_until: datetime | None = None,
    newest_facts: bool,
) -> Accord:
    """Open the next round of a plan in force; that plan stays in force until both sides signed the new one.

    Agreed values and answers are carried over with who gave them and when, and each can be changed. With
    ``newest_facts`` the case is put together anew from the newest revisions of ship and berth.
    """
    side = check_acting_side(by, accord)
    expire_due(now=now, accord=accord)
    accord = locked(accord)
    if accord.state != State.IN_FORCE:
        raise MeanwhileError(f"This accord is {accord.state}; only a plan in force is amended.")
    told = checked_reason(reason)
    frozen = (
        _frozen_anew(accord)
        if newest_facts
        else _frozen(accord.case_file(), accord.vessel_revision, accord.berth_revision)
    )
    practice = (
        frozen_practice(accord.berth_revision.berth.terminal)
        if newest_facts
        else {
            "own_items": accord.own_items,
            "practice_number": accord.practice_number,
            "terminal_zone": accord.terminal_zone,
        }
    )
    amendment = Accord(
        ship_party=accord.ship_party,
        terminal_party=accord.terminal_party,
        place=accord.place,
        planned_start=_checked_start(planned_start),
        holds_until=_checked_end(holds_until, planned_start),
        conditions=accord.conditions,
        stay=accord.stay,
        ship_zone=accord.ship_zone,
        plan_number=accord.plan_number + 1,
        amends=accord,
        amendment_reason=told,
        state_changed_at=now,
        opened_by=by,
        opened_side=side,
        opened_at=now,
        **practice,
        **frozen,
    )
    _save_only_amendment(amendment)
    _carry_over(accord, amendment)
    facts: dict[str, Fact] = {
        "side": str(side),
        "reason": told,
        "plan_number": amendment.plan_number,
        "amends": accord.subject,
    }
    record(act="amendment opened", by=by, now=now, subject=amendment.subject, facts=facts)
    record(
        act="amendment opened", by=by, now=now, subject=accord.subject, facts={"reason": told, "by": amendment.subject}
    )
    return amendment


@dataclass(frozen=True)
class OpeningSource:
    """What an accord is opened on: a case and the revisions of ship and berth that it was put together from."""

    title: str
    vessel_revision: VesselRevision
    berth_revision: BerthRevision
    case: CaseFile


def assessment_source(assessment: Assessment) -> OpeningSource:
    """Return the source of an accord that follows an assessment, exactly as it was assessed."""
    return OpeningSource(
        assessment.title, assessment.vessel_revision, assessment.berth_revision, assessment.case_file()
    )


def earlier_source(accord: Accord) -> OpeningSource:
    """Return the source of another accord of the same ship, berth and cargo, on the newest data of both."""
    vessel_revision, berth_revision = newest_revisions(accord)
    setting = setting_of(accord.case_file(), accord.berth_revision.berth_facts())
    case = compose_case(vessel_revision.ship_facts(), berth_revision.berth_facts(), setting)
    return OpeningSource(accord.title, vessel_revision, berth_revision, case)


def newest_revisions(accord: Accord) -> tuple[VesselRevision, BerthRevision]:
    """Return the newest revisions of the accord's ship and berth."""
    vessel, berth = accord.vessel_revision, accord.berth_revision
    return vessel.vessel.revisions.first() or vessel, berth.berth.revisions.first() or berth


def proposals_of(case: CaseFile) -> dict[str, Given]:
    """Return the values that a case states as agreed, by key, for an opening side to put on the table."""
    stated = {key: getattr(case.agreed, key, None) for key in DEFINITIONS}
    return {key: Decimal(str(value)) for key, value in stated.items() if value is not None}


@transaction.atomic
def rearrange(
    *,
    by: Person,
    now: datetime,
    accord: Accord,
    place: str,
    planned_start: datetime,
    holds_until: datetime | None = None,
    conditions: TransferConditions,
    ship_zone: str | None = None,
) -> Accord:
    """Change where and when the transfer takes place and what it is, while the accord is on the table.

    ``ship_zone`` is the zone of the ship's clocks, empty where it is not known; None leaves it as it is.

    Answers to items that no longer apply stay on file and are left out of the plan.
    """
    side = check_acting_side(by, accord)
    accord = locked(accord)
    check_on_table(accord)
    changes = {
        "place": _checked_place(place),
        "planned_start": _checked_start(planned_start),
        "holds_until": _checked_end(holds_until, planned_start),
        "conditions": conditions_of(accord.case_file(), conditions).document(),
        "ship_zone": accord.ship_zone if ship_zone is None else checked_zone(ship_zone),
    }
    facts = _what_changed(accord, changes)
    if not facts:
        raise InputError("Nothing differs from what is arranged already, so nothing was changed.")
    Accord.objects.filter(pk=accord.pk).update(**changes)
    accord.refresh_from_db()
    record(act="accord rearranged", by=by, now=now, subject=accord.subject, facts={"side": str(side), **facts})
    return accord


def _what_changed(accord: Accord, changes: Mapping[str, Any]) -> dict[str, Fact]:
    facts: dict[str, Fact] = {}
    if changes["place"] != accord.place:
        facts["place"] = changes["place"]
    if changes["planned_start"] != accord.planned_start:
        facts["planned_start"] = changes["planned_start"].isoformat()
    if changes["ship_zone"] != accord.ship_zone:
        facts["ship_zone"] = changes["ship_zone"]
    if changes["holds_until"] != accord.holds_until:
        facts["holds_until"] = changes["holds_until"].isoformat() if changes["holds_until"] else "no end stated"
    new = changes["conditions"]
    differing = {key: value for key, value in new.items() if value != accord.conditions.get(key)}
    if differing:
        facts["conditions"] = differing
    return facts


def conditions_of(case: CaseFile, stated: TransferConditions) -> TransferConditions:
    """Return the stated conditions with what the case itself says: the operation, and arms or hoses."""
    kinds = {arm.kind for arm in case.berth.arms}
    connection: Connection = "arms and hoses" if len(kinds) == 2 else "arms" if "arm" in kinds else "hoses"
    return replace(stated, operation="discharge", connection=connection)


def facts_sha256_of(case: CaseFile) -> str:
    """Return the SHA-256 over the canonical bytes of a case without what is still to be agreed."""
    document = {key: part for key, part in case_document(case).items() if key != "agreed"}
    return sha256_hex(canonical_bytes(numbers_as_text(document)))


def _frozen(case: CaseFile, vessel_revision: VesselRevision, berth_revision: BerthRevision) -> dict[str, object]:
    berth = ", ".join(part for part in (case.berth.terminal, case.berth.name) if part)
    return {
        "vessel_revision": vessel_revision,
        "berth_revision": berth_revision,
        "case": case_document(case),
        "facts_sha256": facts_sha256_of(case),
        "ship_name": case.ship.name,
        "berth_name": berth,
        "cargo_name": case.cargo.name,
    }


def frozen_practice(terminal: Terminal) -> dict[str, object]:
    """Return what a terminal states for all its accords, as it is frozen into a new one."""
    practice = newest_practice(terminal)
    return {
        "own_items": practice.items if practice else [],
        "practice_number": practice.number if practice else None,
        "terminal_zone": terminal.zone,
    }


def _frozen_anew(accord: Accord) -> dict[str, object]:
    source = earlier_source(accord)
    return _frozen(source.case, source.vessel_revision, source.berth_revision)


def _check_made_of(case: CaseFile, vessel_revision: VesselRevision, berth_revision: BerthRevision) -> None:
    """A berth's arms may be connected in part, so they are compared by kind and not by count."""
    if case.ship != vessel_revision.ship_facts():
        raise InputError(f"The case does not state the ship as in {vessel_revision}; assess it anew.")
    stated = berth_revision.berth_facts()
    if case.berth.model_copy(update={"arms": stated.arms}) != stated:
        raise InputError(f"The case does not state the berth as in {berth_revision}; assess it anew.")


def _checked_place(place: str) -> str:
    told = place.strip()
    if not told or len(told) > LONGEST_PLACE:
        raise InputError(
            f"Place has {len(told)} characters; allowed: 1 to {LONGEST_PLACE}. Name where the transfer takes place."
        )
    return told


def _checked_start(planned_start: datetime) -> datetime:
    if planned_start.tzinfo is None:
        raise InputError("Planned start has no zone; state it, such as 2026-03-21T14:30+00:00.")
    return planned_start


def _checked_end(holds_until: datetime | None, planned_start: datetime) -> datetime | None:
    if holds_until is not None and holds_until <= _checked_start(planned_start):
        raise InputError("The plan would hold until before its planned start; give a later time, or none.")
    return holds_until


def _save_only_amendment(amendment: Accord) -> None:
    try:
        with transaction.atomic():
            amendment.save(force_insert=True)
    except IntegrityError as error:
        raise MeanwhileError(
            "There is an amendment of this plan already; work on that one, or withdraw it first."
        ) from error


def _carry_over(earlier: Accord, amendment: Accord) -> None:
    """Copy agreed values, counting answers and who may audit, each still by who gave it and when."""
    for where in standing(earlier).values():
        if where.agreed is not None and where.agreed.key in DEFINITIONS:
            _copy_into(amendment, where.agreed)
    for answer in latest_answers(earlier).values():
        answer.carried_from_plan = answer.carried_from_plan or earlier.plan_number
        _copy_into(amendment, answer)
    for grant in earlier.audit_grants.filter(ended_at=None):
        _copy_into(amendment, grant)
    carry_guests_over(earlier, amendment)


def _copy_into(amendment: Accord, row: ValueProposal | ChecklistAnswer | AuditGrant) -> None:
    row.pk = None
    row.accord = amendment
    row.save(force_insert=True)
