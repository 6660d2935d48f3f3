"""Acts on the values of an accord: propose, answer with another value, accept, take back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db import IntegrityError, transaction

from compat.accord.checklist.item import Side
from compat.accord.engine import refusals
from compat.accord.models import Accord, ProposalStatus, ValueProposal
from compat.accord.moving import MeanwhileError, check_on_table, locked
from compat.accord.permissions import check_acting_side
from compat.accord.value_kinds import Given, ValueDefinition
from compat.accord.values import definition_of
from shared.calc.errors import InputError
from shared.models import Person
from shared.permissions import NotAllowedError
from shared.trail import record

LONGEST_TYPED = 60


class OutsideLimitError(InputError):
    """A value that a limit of ship or berth does not allow."""


@dataclass(frozen=True)
class Standing:
    """Where one value stands: what is agreed, and what lies open on the table."""

    agreed: ValueProposal | None
    open: ValueProposal | None


def standing(accord: Accord) -> dict[str, Standing]:
    """Return for each value key what is agreed (the latest accepted) and what is open."""
    agreed: dict[str, ValueProposal] = {}
    lying_open: dict[str, ValueProposal] = {}
    counted = accord.proposals.filter(status__in=[ProposalStatus.ACCEPTED, ProposalStatus.OPEN])
    for proposal in counted.select_related("by", "decided_by").order_by("id"):
        (agreed if proposal.status == ProposalStatus.ACCEPTED else lying_open)[proposal.key] = proposal
    return {key: Standing(agreed.get(key), lying_open.get(key)) for key in agreed | lying_open}


def agreed_values(stand: Mapping[str, Standing]) -> dict[str, Given]:
    """Return the values that both sides accepted."""
    return {key: where.agreed.given for key, where in stand.items() if where.agreed}


def values_on_table(stand: Mapping[str, Standing]) -> dict[str, Given]:
    """Return the values as they would be if everything open were accepted."""
    return agreed_values(stand) | {key: where.open.given for key, where in stand.items() if where.open}


@transaction.atomic
def propose_value(
    *, by: Person, now: datetime, accord: Accord, key: str, value: Given, typed: str = "", seen: int | None
) -> ValueProposal:
    """Put a value on the table, or answer the other side's open one with another value.

    ``value`` is a number in the canonical unit of its definition, or words; ``typed`` is what the person wrote, and
    ``seen`` the open proposal of the other side that they had before them, or None. Raises MeanwhileError if that is
    no longer so.
    """
    side = check_acting_side(by, accord)
    accord = locked(accord)
    check_on_table(accord)
    definition = definition_of(key)
    kept = definition.check(value)
    lying_open = accord.proposals.filter(key=key, status=ProposalStatus.OPEN).first()
    _check_seen(lying_open, seen, definition, kept)
    if lying_open is not None:
        _check_differs(lying_open, side, kept, definition)
        outcome = ProposalStatus.TAKEN_BACK if lying_open.side == side else ProposalStatus.ANSWERED
        _decide(lying_open, outcome, side=side, by=by, now=now)
    proposal = _put(accord, key, kept, typed, side=side, by=by, now=now)
    facts = {"key": key, "value": definition.shown(kept), "typed": proposal.typed, "side": str(side)}
    if lying_open is not None:
        facts["in_place_of"] = definition.shown(lying_open.given)
    record(act="value proposed", by=by, now=now, subject=accord.subject, facts=facts)
    return proposal


def accept_value(*, by: Person, now: datetime, proposal: ValueProposal) -> ValueProposal:
    """Accept the other side's open value.

    Raises NotAllowedError for the side that proposed it, OutsideLimitError where a limit does not allow it.
    """
    check_acting_side(by, proposal.accord)
    work_out_acceptance(proposal)
    return _accept(by=by, now=now, proposal=proposal)


def work_out_acceptance(proposal: ValueProposal) -> None:
    """Work out what accepting a value means before anything is locked: nobody else waits, and the act finds it done.

    Surge may take seconds. Who opens a transaction around the act calls this before it.
    """
    if ValueProposal.objects.filter(pk=proposal.pk, status=ProposalStatus.OPEN).exists():
        _reasons_against(proposal.accord, proposal)


def _reasons_against(accord: Accord, proposal: ValueProposal) -> list[str]:
    others = values_on_table(standing(accord))
    return refusals(accord.case, proposal.key, proposal.given, others, accord.transfer_conditions())


@transaction.atomic
def _accept(*, by: Person, now: datetime, proposal: ValueProposal) -> ValueProposal:
    side = check_acting_side(by, proposal.accord)
    accord = locked(proposal.accord)
    check_on_table(accord)
    definition = definition_of(proposal.key)
    if proposal.side == side:
        raise NotAllowedError(f"{definition.label}: the {side} proposed it, so the other side accepts it.")
    _check_open(proposal)
    reasons = _reasons_against(accord, proposal)
    if reasons:
        raise OutsideLimitError(
            f"{definition.label} of {definition.shown(proposal.given)} can't be accepted: {' '.join(reasons)}"
        )
    _decide(proposal, ProposalStatus.ACCEPTED, side=side, by=by, now=now)
    facts = {
        "key": proposal.key,
        "value": definition.shown(proposal.given),
        "proposed_by": proposal.side,
        "side": str(side),
    }
    record(act="value accepted", by=by, now=now, subject=accord.subject, facts=facts)
    return proposal


@transaction.atomic
def take_back_proposal(*, by: Person, now: datetime, proposal: ValueProposal) -> ValueProposal:
    """Take a side's own open value off the table again."""
    side = check_acting_side(by, proposal.accord)
    accord = locked(proposal.accord)
    check_on_table(accord)
    definition = definition_of(proposal.key)
    if proposal.side != side:
        raise NotAllowedError(f"{definition.label}: the other side proposed it, so the {side} answers or accepts it.")
    _decide(proposal, ProposalStatus.TAKEN_BACK, side=side, by=by, now=now)
    facts = {"key": proposal.key, "value": definition.shown(proposal.given), "side": str(side)}
    record(act="value taken back", by=by, now=now, subject=accord.subject, facts=facts)
    return proposal


def _put(accord: Accord, key: str, value: Given, typed: str, *, side: Side, by: Person, now: datetime) -> ValueProposal:
    try:
        with transaction.atomic():
            return accord.proposals.create(
                key=key,
                value=value if isinstance(value, Decimal) else None,
                words="" if isinstance(value, Decimal) else value,
                typed=typed[:LONGEST_TYPED],
                side=side,
                by=by,
                at=now,
            )
    except IntegrityError as error:
        raise MeanwhileError(
            "Someone else put a value on the table at the same moment; look at it and send yours again."
        ) from error


def _decide(proposal: ValueProposal, status: ProposalStatus, *, side: Side, by: Person, now: datetime) -> None:
    changes = {"status": status, "decided_side": side, "decided_by": by, "decided_at": now}
    if ValueProposal.objects.filter(pk=proposal.pk, status=ProposalStatus.OPEN).update(**changes) != 1:
        _check_open(proposal)
    for field, value in changes.items():
        setattr(proposal, field, value)


def _check_open(proposal: ValueProposal) -> None:
    stands = ValueProposal.objects.select_related("decided_by").get(pk=proposal.pk)
    if stands.status != ProposalStatus.OPEN:
        raise MeanwhileError(
            f"Someone else acted first: {definition_of(stands.key).shown(stands.given)}"
            f" was {stands.get_status_display()} by {stands.decided_by}. Nothing was changed."
        )


def _check_seen(lying_open: ValueProposal | None, seen: int | None, definition: ValueDefinition, value: Given) -> None:
    now_open = lying_open.pk if lying_open else None
    if now_open == seen:
        return
    stands = (
        f"{lying_open.by} ({lying_open.side}) has put {definition.shown(lying_open.given)} on the table"
        if lying_open
        else "the value that lay on the table was decided"
    )
    raise MeanwhileError(
        f"{definition.label}: meanwhile {stands}. Your {definition.shown(value)} was not sent;"
        " look again, then send it if you still want to."
    )


def _check_differs(lying_open: ValueProposal, side: Side, value: Given, definition: ValueDefinition) -> None:
    if lying_open.given != value:
        return
    if lying_open.side == side:
        raise InputError(f"{definition.label}: {definition.shown(value)} is on the table from your side already.")
    raise InputError(
        f"{definition.label}: {definition.shown(value)} is what the other side proposed; accept it instead."
    )
