"""Gathers from the rows of an accord what its plan is made from."""

from __future__ import annotations

from datetime import datetime
from typing import Literal, cast

from compat.accord.accord_items import before_signing_of, own_items_of
from compat.accord.answering import latest_answers
from compat.accord.bargaining import agreed_values, standing
from compat.accord.checklist.item import Side
from compat.accord.engine import warnings, work_out
from compat.accord.models import Accord
from compat.accord.plan_document import plan_payload
from compat.accord.plan_file import read_plan
from compat.accord.plan_inputs import (
    PlanAct,
    PlanFacts,
    PlanInputs,
    PlanMark,
    PlanParty,
    PlanPerson,
    PlanPlace,
    PlanShip,
    PlanValue,
)
from compat.accord.plan_parts import documents_of
from compat.accord.values import case_with, values_for
from compat.case.case_file import case_document, check_case
from compat.case.diagram_document import diagram_document
from compat.case.withholding import without_line_data
from shared.calc.errors import InputError
from shared.models import Person
from shared.revisions import facts_sha256
from shared.trail import trail_head


def changes_so_far(accord: Accord, now: datetime) -> list[dict[str, str]]:
    """Return what an amendment changes against the plan before it: as signed, or as it stands on the table.

    Raises InputError where the values on the table give no answer yet.
    """
    if accord.payload:
        found: list[dict[str, str]] = read_plan(bytes(accord.payload)).payload.get("changes", [])
        return found
    return plan_payload(plan_inputs(accord, now, with_parts=False))["changes"]  # type: ignore[no-any-return]


def plan_inputs(accord: Accord, now: datetime, *, with_parts: bool = True) -> PlanInputs:
    """Return what goes into the plan as it stands now; raise InputError where the engine has no answer.

    Without the parts of other rooms it takes no longer than a page may.
    """
    values = agreed_values(standing(accord))
    worked = work_out(accord.case, values)
    if worked.answer is None:
        raise InputError(" ".join(worked.problems))
    case = check_case(case_with(accord.case, values), accord.title)
    terminal = accord.berth_revision.berth.terminal
    shared = accord.berth_revision.berth.line_data_shared
    answer = worked.answer if shared else without_line_data(worked.answer)
    position, head = trail_head()
    return PlanInputs(
        accord_id=str(accord.public_id),
        reference=accord.reference,
        plan_number=accord.plan_number,
        prepared_at=now,
        planned_start=accord.planned_start,
        holds_until=accord.holds_until,
        ship_party=PlanParty(accord.ship_party.name, "", _people(accord, Side.SHIP)),
        terminal_party=PlanParty(accord.terminal_party.name, terminal.address, _people(accord, Side.TERMINAL)),
        ship=PlanShip(accord.ship_name, accord.case["ship"].get("imo_number")),
        place=PlanPlace(terminal.name, accord.case["berth"]["name"], accord.place, terminal.port),
        conditions=accord.transfer_conditions(),
        own_items=own_items_of(accord),
        practice_number=accord.practice_number,
        values=_values(accord),
        case=case_document(case),
        answer=answer,
        diagram=diagram_document(case, worked.answer),
        marks=_marks(accord),
        facts=_facts(accord),
        trail_position=position,
        trail_sha256=head,
        amendment_reason=accord.amendment_reason,
        earlier_plan=read_plan(bytes(accord.amends.payload or b"")).payload if accord.amends else None,
        cautions=tuple(warnings(answer["limits"])),
        line_data_shared=shared,
        parts=documents_of(case, line_data_shared=shared, stay=accord.stay) if with_parts else {},
    )


def work_out_parts(accord: Accord) -> None:
    """Work out what takes long before the accord is locked: nobody else waits, and settling finds it done."""
    values = agreed_values(standing(accord))
    if work_out(accord.case, values).answer is not None:
        case = check_case(case_with(accord.case, values), accord.title)
        documents_of(case, line_data_shared=accord.berth_revision.berth.line_data_shared, stay=accord.stay)


def _people(accord: Accord, side: Side) -> tuple[PlanPerson, ...]:
    """Return everyone who acted for a side in this accord, by name."""
    acted = {
        *accord.proposals.filter(side=side).values_list("by", flat=True),
        *accord.proposals.filter(decided_side=side).values_list("decided_by", flat=True),
        *accord.answers.filter(side=side).values_list("by", flat=True),
    }
    people = Person.objects.filter(pk__in=acted).order_by("full_name", "pk")
    return tuple(PlanPerson(person.full_name, person.title) for person in people)


def _values(accord: Accord) -> tuple[PlanValue, ...]:
    stand = standing(accord)
    found = []
    for definition in values_for(accord.transfer_conditions()):
        key = definition.key
        agreed = stand[key].agreed if key in stand else None
        if agreed is None:
            continue
        found.append(
            PlanValue(
                key=key,
                label=definition.label,
                unit=definition.unit,
                value=agreed.given,
                proposed=_act(accord, agreed.side, agreed.by, agreed.at),
                accepted=_act(accord, agreed.decided_side, agreed.decided_by, agreed.decided_at),
                gauge=definition.gauge,
                kind=definition.kind,
                group=str(definition.group),
                at_a_glance=definition.at_a_glance,
            )
        )
    return tuple(found)


def _act(accord: Accord, side: str, by: Person, at: datetime | None) -> PlanAct:
    if at is None:
        raise InputError("A value counts as agreed but has no time of acceptance.")
    return PlanAct(Side(side), by.full_name, accord.party(Side(side)).name, at)


def _marks(accord: Accord) -> tuple[PlanMark, ...]:
    asked = {item.key: item for item in before_signing_of(accord)}
    return tuple(
        PlanMark(
            item_key=key,
            side=side,
            answer=cast(Literal["yes", "no", "does not apply"], given.answer),
            person=given.by.full_name,
            organisation=accord.party(side).name,
            at=given.at,
            remark=given.remark,
            values=given.values,
            carried_from_plan=given.carried_from_plan,
        )
        for (key, side), given in latest_answers(accord).items()
        if key in asked
    )


def _facts(accord: Accord) -> tuple[PlanFacts, ...]:
    vessel, berth = accord.vessel_revision, accord.berth_revision
    return (
        PlanFacts("ship", accord.ship_name, vessel.number, facts_sha256(vessel.ship_facts())),
        PlanFacts("berth", accord.berth_name, berth.number, facts_sha256(berth.berth_facts())),
    )
