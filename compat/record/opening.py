"""Acts that open a record under a plan in force and settle how it is kept."""

from __future__ import annotations

from datetime import datetime

from django.db import IntegrityError, transaction

from compat.accord.models import Accord
from compat.accord.moving import MeanwhileError
from compat.accord.permissions import check_acting_side
from compat.accord.states import State as AccordState
from compat.record.arrangement import Arrangement
from compat.record.chain import record_of
from compat.record.models import TransferRecord
from compat.record.moving import locked, move
from compat.record.states import Move, State
from shared import trail
from shared.calc.errors import InputError
from shared.canonical import numbers_as_text
from shared.models import Person
from shared.permissions import NotAllowedError


@transaction.atomic
def open_record(*, by: Person, now: datetime, accord: Accord, arrangement: Arrangement) -> TransferRecord:
    """Open the record of a plan in force with one side's proposal of how it is kept; the other side accepts it."""
    side = check_acting_side(by, accord)
    if accord.state != AccordState.IN_FORCE:
        raise InputError(f"This accord is {accord.state}; a record is kept under a plan that is in force.")
    if record_of(accord) is not None:
        raise MeanwhileError("The record of this transfer is open already.")
    try:
        with transaction.atomic():
            opened = TransferRecord.objects.create(
                accord=accord,
                state_changed_at=now,
                arrangement=arrangement.model_dump(mode="json"),
                arranged_side=side,
                arranged_by=by,
                arranged_at=now,
            )
    except IntegrityError as error:
        raise MeanwhileError("The record of this transfer was opened by someone else just now.") from error
    _note("record opened", opened, arrangement, by=by, now=now)
    return opened


@transaction.atomic
def propose_arrangement(
    *, by: Person, now: datetime, record: TransferRecord, arrangement: Arrangement, seen: datetime
) -> None:
    """Answer a proposed arrangement with another one; ``seen`` is when the one was proposed that the person saw."""
    side = check_acting_side(by, record.accord)
    record = locked(record)
    if record.state != State.PROPOSED:
        raise MeanwhileError(f"The arrangement is agreed; the record stands at “{record.state}”.")
    _check_seen(record, seen)
    TransferRecord.objects.filter(pk=record.pk, state=State.PROPOSED).update(
        arrangement=arrangement.model_dump(mode="json"), arranged_side=side, arranged_by=by, arranged_at=now
    )
    _note("record arrangement proposed", record, arrangement, by=by, now=now)


@transaction.atomic
def accept_arrangement(*, by: Person, now: datetime, record: TransferRecord, seen: datetime) -> None:
    """Accept the other side's arrangement; readings and checks begin."""
    side = check_acting_side(by, record.accord)
    record = locked(record)
    if record.arranged_side == side and record.state == State.PROPOSED:
        raise NotAllowedError(f"The {side} proposed this arrangement; the {side.other} accepts it or proposes another.")
    _check_seen(record, seen)
    move(record, Move.ACCEPT, side, now=now, accepted_by=by, accepted_at=now)
    trail.record(act="record arrangement accepted", by=by, now=now, subject=record.accord.subject)


def _check_seen(record: TransferRecord, seen: datetime) -> None:
    if record.arranged_at != seen:
        raise MeanwhileError(
            f"Meanwhile {record.arranged_by} proposed another arrangement for the {record.arranged_side}. Yours was not"
            " saved; look at it first."
        )


def _note(act: str, record: TransferRecord, arrangement: Arrangement, *, by: Person, now: datetime) -> None:
    facts: dict[str, trail.Fact] = {"arrangement": numbers_as_text(arrangement.model_dump(mode="json"))}
    trail.record(act=act, by=by, now=now, subject=record.accord.subject, facts=facts)
