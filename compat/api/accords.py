"""Accords: what lies on the table, and the acts of one side on it; signing asks for a secret and is not here."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from decimal import Decimal, InvalidOperation
from typing import Annotated, Any
from uuid import UUID

from django.db.models import QuerySet
from django.http import HttpRequest
from django.utils import timezone
from ninja import Field, Router, Schema
from ninja.pagination import paginate
from pydantic import model_validator

from compat.accord import actions, queries
from compat.accord.accord_items import before_signing_of
from compat.accord.answering import latest_answers
from compat.accord.auditing import note_reading
from compat.accord.bargaining import standing
from compat.accord.models import Accord, AnswerChoice, ValueProposal
from compat.accord.permissions import visible_to
from compat.accord.plan_gathering import work_out_parts
from compat.accord.value_kinds import Given
from compat.accord.values import definition_of, values_for
from compat.api.access import TokenAccess, person_of_token, read_only
from compat.api.once import after, once
from compat.api.schemas import REFUSALS, Made, Pages
from compat.api.scopes import Scope
from shared.calc.errors import InputError
from shared.http import get_or_404

router = Router(tags=["accords"])
writes = TokenAccess(Scope.ACCORDS)
Row = Annotated[int, Field(ge=1, le=2**63 - 1)]


class AccordOut(Schema):
    """An accord on the list."""

    id: UUID
    reference: str
    ship: str
    berth: str
    cargo: str
    ship_party: str
    terminal_party: str
    planned_start: datetime
    state: str
    plan_number: int


class AccordListed(AccordOut):
    """The same, read from a row."""

    @model_validator(mode="before")
    @classmethod
    def _of_row(cls, given: Any) -> Any:
        row = getattr(given, "_obj", given)
        return _head(row) if isinstance(row, Accord) else given


class ProposalOut(Schema):
    """A value that one side put on the table; ``row`` names it to the acts that accept or take it back."""

    row: int
    value: str
    shown: str
    side: str
    by: str
    at: datetime


class ValueOut(Schema):
    """Where one value stands."""

    key: str
    label: str
    unit: str
    agreed: ProposalOut | None
    open: ProposalOut | None


class AnswerOut(Schema):
    """The answer of one side that counts; ``row`` is what the next answer names as seen."""

    row: int
    side: str
    answer: str
    values: dict[str, str]
    remark: str
    by: str
    at: datetime


class ItemOut(Schema):
    """A checklist item and its answers."""

    key: str
    statement: str
    answered_by: list[str]
    answers: list[AnswerOut]


class AccordWhole(AccordOut):
    """An accord with everything that lies on its table."""

    values: list[ValueOut]
    checklist: list[ItemOut]


class ProposalIn(Schema):
    """A number as text in the unit of the value, or words; ``seen`` is the row of the open proposal, if any."""

    value: Annotated[str, Field(min_length=1, max_length=500)]
    seen: Row | None = None


class AnswerIn(Schema):
    """An answer to a checklist item; ``seen`` is the row of your side's answer so far, if any."""

    answer: AnswerChoice
    values: dict[str, Annotated[str, Field(max_length=500)]] = {}
    remark: Annotated[str, Field(max_length=500)] = ""
    seen: Row | None = None


class ReasonIn(Schema):
    """Why an accord is taken back or withdrawn."""

    reason: Annotated[str, Field(min_length=1, max_length=500)]


def _head(accord: Accord) -> dict[str, Any]:
    return {
        "id": accord.public_id,
        "reference": accord.reference,
        "ship": accord.ship_name,
        "berth": accord.berth_name,
        "cargo": accord.cargo_name,
        "ship_party": str(accord.ship_party),
        "terminal_party": str(accord.terminal_party),
        "planned_start": accord.planned_start,
        "state": accord.state,
        "plan_number": accord.plan_number,
    }


@router.get("", response={200: list[AccordListed], **REFUSALS}, auth=read_only, summary="List accords")
@paginate(Pages)
def list_accords(request: HttpRequest, state: str = "") -> QuerySet[Accord]:
    """Accords that you may see, newest start first; in one state where it is named."""
    return queries.accord_list(person_of_token(request), state=state)


@router.get("/{accord}", response={200: AccordWhole, **REFUSALS}, auth=read_only, summary="Read an accord")
def read_accord(request: HttpRequest, accord: UUID) -> AccordWhole:
    """Every value with what is agreed and open, every checklist item with its answers."""
    found = _seen(request, accord)
    note_reading(by=person_of_token(request), now=timezone.now(), accord=found, what="accord")
    return AccordWhole(**_head(found), values=list(_values(found)), checklist=list(_items(found)))


@router.post("/{accord}/values/{key}", response={201: Made, **REFUSALS}, auth=writes, summary="Propose a value")
@once
def propose(request: HttpRequest, accord: UUID, key: str, payload: ProposalIn) -> Made:
    """Put a value on the table, or answer the other side's open one with another."""
    found = _seen(request, accord)
    made = actions.propose_value(
        by=person_of_token(request),
        now=timezone.now(),
        accord=found,
        key=key,
        value=_given(key, payload.value),
        typed=payload.value,
        seen=payload.seen,
    )
    return Made(id=found.public_id, row=made.pk)


@router.post(
    "/{accord}/proposals/{row}/accept", response={201: Made, **REFUSALS}, auth=writes, summary="Accept a value"
)
@after(lambda request, accord, row: actions.work_out_acceptance(_of_table(request, accord, row)))
@once
def accept(request: HttpRequest, accord: UUID, row: Row) -> Made:
    """Accept the other side's open value."""
    proposal = _of_table(request, accord, row)
    actions.accept_value(by=person_of_token(request), now=timezone.now(), proposal=proposal)
    return Made(id=proposal.accord.public_id, row=proposal.pk)


@router.post(
    "/{accord}/proposals/{row}/take-back", response={201: Made, **REFUSALS}, auth=writes, summary="Take a value back"
)
@once
def take_back(request: HttpRequest, accord: UUID, row: Row) -> Made:
    """Take your side's own open value off the table."""
    proposal = _of_table(request, accord, row)
    actions.take_back_proposal(by=person_of_token(request), now=timezone.now(), proposal=proposal)
    return Made(id=proposal.accord.public_id, row=proposal.pk)


@router.post(
    "/{accord}/checklist/{key}", response={201: Made, **REFUSALS}, auth=writes, summary="Answer a checklist item"
)
@once
def answer(request: HttpRequest, accord: UUID, key: str, payload: AnswerIn) -> Made:
    """Answer one item for your side; a person answers for what they saw, whatever program carries it."""
    found = _seen(request, accord)
    made = actions.answer_item(
        by=person_of_token(request),
        now=timezone.now(),
        accord=found,
        item_key=key,
        answer=payload.answer,
        values=payload.values,
        remark=payload.remark,
        seen=payload.seen,
    )
    return Made(id=found.public_id, row=made.pk)


@router.post("/{accord}/settle", response={201: Made, **REFUSALS}, auth=writes, summary="Settle an accord")
@after(lambda request, accord: work_out_parts(_seen(request, accord)))
@once
def settle(request: HttpRequest, accord: UUID) -> Made:
    """Freeze what is agreed, ready to be signed; refused with every reason that still stands against it."""
    found = actions.settle(by=person_of_token(request), now=timezone.now(), accord=_seen(request, accord))
    return Made(id=found.public_id)


@router.post("/{accord}/withdraw", response={201: Made, **REFUSALS}, auth=writes, summary="Withdraw an accord")
@once
def withdraw(request: HttpRequest, accord: UUID, payload: ReasonIn) -> Made:
    """Withdraw an accord, with the reason that both sides read."""
    by, found = person_of_token(request), _seen(request, accord)
    return Made(id=actions.withdraw(by=by, now=timezone.now(), accord=found, reason=payload.reason).public_id)


def _seen(request: HttpRequest, accord: UUID) -> Accord:
    return get_or_404(visible_to(person_of_token(request)), public_id=accord)


def _of_table(request: HttpRequest, accord: UUID, row: int) -> ValueProposal:
    return get_or_404(_seen(request, accord).proposals.select_related("accord"), pk=row)


def _given(key: str, text: str) -> Given:
    """Return a number for a value that is one, else the words; the definition checks both."""
    if not definition_of(key).numeric:
        return text
    try:
        return Decimal(text)
    except InvalidOperation:
        raise InputError(f"{definition_of(key).label} is “{text[:40]}”, which is not a number; write one.") from None


def _values(accord: Accord) -> Iterator[ValueOut]:
    stand = standing(accord)
    for definition in values_for(accord.transfer_conditions()):
        where = stand.get(definition.key)
        yield ValueOut(
            key=definition.key,
            label=definition.label,
            unit=definition.unit,
            agreed=_proposal(where.agreed) if where else None,
            open=_proposal(where.open) if where else None,
        )


def _proposal(given: ValueProposal | None) -> ProposalOut | None:
    if given is None:
        return None
    shown = definition_of(given.key).shown(given.given)
    return ProposalOut(
        row=given.pk, value=str(given.given), shown=shown, side=given.side, by=str(given.by), at=given.at
    )


def _items(accord: Accord) -> Iterator[ItemOut]:
    given = latest_answers(accord)
    for item in before_signing_of(accord):
        answers = [
            AnswerOut(
                row=one.pk,
                side=str(side),
                answer=one.answer,
                values=one.values,
                remark=one.remark,
                by=str(one.by),
                at=one.at,
            )
            for (key, side), one in given.items()
            if key == item.key
        ]
        sides = [str(side) for side in item.answered_by]
        yield ItemOut(key=item.key, statement=item.statement, answered_by=sides, answers=answers)
