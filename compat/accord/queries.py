"""What pages read about accords: lists, whose turn it is, history of values, what moved on since."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import QuerySet
from django.urls import reverse

from compat.accord.bargaining import Standing, standing
from compat.accord.checklist.item import Side
from compat.accord.models import Accord, Plan, ValueProposal
from compat.accord.permissions import side_of, visible_to
from compat.accord.states import CLOSED_STATES, State, waits_for
from compat.accord.value_kinds import ValueDefinition
from compat.accord.values import values_for
from shared.changes import Change, ShowQuantity, changes
from shared.models import Person, TrailRow
from shared.queries import Waiting, show_waiting
from shared.roles import ACTING_ROLES
from shared.trail import Witness, facts_of, show_subjects, trail_witness

_HEAVY = ("case", "payload")


def accord_list(person: Person, *, state: str = "") -> QuerySet[Accord]:
    """Return the accords that a person may see, newest start first, without their heavy parts."""
    rows = visible_to(person).select_related("ship_party", "terminal_party").defer(*_HEAVY)
    if state in {str(one) for one in State}:
        rows = rows.filter(state=state)
    return rows


def turn_words(accord: Accord, side: Side | None) -> str:
    """Say in a few words whose turn it is, seen from ``side`` (None for an auditor)."""
    state = State(accord.state)
    sides = waits_for(state)
    if not sides:
        return "nobody's" if state in CLOSED_STATES else "both sides: keep to the plan"
    if state is State.ON_TABLE:
        return "both sides: values and checklist"
    if len(sides) == 2:
        return "both sides: sign"
    (one,) = sides
    return "you: sign" if one is side else f"the {one}: sign"


@dataclass(frozen=True)
class ValueRow:
    """One value as the accord page shows it: agreed, open, and everything before, newest first."""

    definition: ValueDefinition
    where: Standing
    history: tuple[ValueProposal, ...]


def value_rows(accord: Accord) -> list[ValueRow]:
    """Return every value to agree with its history."""
    stand = standing(accord)
    proposals = list(accord.proposals.select_related("by", "decided_by").order_by("-id"))
    return [
        ValueRow(
            definition,
            stand.get(definition.key, Standing(None, None)),
            tuple(proposal for proposal in proposals if proposal.key == definition.key),
        )
        for definition in values_for(accord.transfer_conditions())
    ]


@dataclass(frozen=True)
class MovedOn:
    """Facts that were revised since they were frozen into an accord."""

    of: str
    frozen_number: int
    newest_number: int
    changes: tuple[Change, ...]


def moved_on(accord: Accord, show: ShowQuantity, *, line_data: bool) -> list[MovedOn]:
    """Return what was revised since the accord was opened; the changes of a berth only with ``line_data``."""
    found = []
    vessel, berth = accord.vessel_revision, accord.berth_revision
    newest_vessel = vessel.vessel.revisions.first()
    if newest_vessel is not None and newest_vessel.number != vessel.number:
        told = tuple(changes(vessel.ship_facts(), newest_vessel.ship_facts(), show))
        found.append(MovedOn(accord.ship_name, vessel.number, newest_vessel.number, told))
    newest_berth = berth.berth.revisions.first()
    if newest_berth is not None and newest_berth.number != berth.number:
        told = tuple(changes(berth.berth_facts(), newest_berth.berth_facts(), show)) if line_data else ()
        found.append(MovedOn(accord.berth_name, berth.number, newest_berth.number, told))
    return found


def trail_of(accord: Accord) -> list[tuple[TrailRow, dict[str, object]]]:
    """Return the trail rows of one accord with their facts, newest first."""
    rows = TrailRow.objects.filter(subject=accord.subject).order_by("-position")
    return [(row, facts_of(row)) for row in rows]


def plan_of(accord: Accord) -> Plan | None:
    """Return the plan of an accord without its bytes, or None."""
    plans = Plan.objects.select_related("superseded_by__accord").defer("payload", "signatures", "earlier_file", "pdf")
    return plans.filter(accord=accord).first()


@show_subjects
def subjects_for(person: Person) -> Iterable[str]:
    """Name the accords whose trail a person may read."""
    return (f"accord:{public_id}" for public_id in visible_to(person).values_list("public_id", flat=True))


@show_waiting
def waiting_for(person: Person) -> list[Waiting]:
    """Name the accords that wait for this person: a value to answer, or a plan to sign."""
    if person.role not in ACTING_ROLES:
        return []
    found = []
    for accord in accord_list(person).filter(state__in=[str(state) for state in State if waits_for(state)]):
        side = side_of(person, accord)
        sentence = _waiting_sentence(accord, side) if side is not None else ""
        if sentence:
            found.append(Waiting(sentence, reverse("accord", args=[accord.public_id]), "Open"))
    return found


def _waiting_sentence(accord: Accord, side: Side) -> str:
    if side not in waits_for(State(accord.state)):
        return ""
    if accord.state != State.ON_TABLE:
        return f"{accord.title}: the plan is settled and waits for your side's signature."
    lying = accord.proposals.filter(status="open").exclude(side=side).count()
    if not lying:
        return ""
    what = "a value waits" if lying == 1 else f"{lying} values wait"
    return f"{accord.title}: {what} for your side's answer."


@trail_witness
def heads_in_plans() -> Iterable[Witness]:
    """Yield the head of the trail that each plan names."""
    for plan in (
        Plan.objects.exclude(trail_position=0)
        .select_related("accord")
        .only("number", "trail_position", "trail_sha256", "accord__reference")
    ):
        yield Witness(plan.trail_position, plan.trail_sha256, f"plan {plan.number} of accord {plan.accord.reference}")
