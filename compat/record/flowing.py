"""Acts on the flow itself: both say go, either stops it, holds it or ends it; and lines of the time sheet."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import IntegrityError, transaction

from compat.accord.accord_items import items_of
from compat.accord.checklist.item import Side
from compat.accord.ending import is_past
from compat.accord.models import Accord, AnswerChoice
from compat.accord.moving import MeanwhileError
from compat.accord.permissions import check_acting_side
from compat.accord.states import State as AccordState
from compat.record.chain import current_accord
from compat.record.events import BY_MOVES, CAUSED_BY, Kind
from compat.record.models import Check, LogEvent, TransferRecord
from compat.record.moving import check_open, locked, move
from compat.record.states import Move, MoveError, State, rule_for
from compat.record.what_is_due import due_at
from shared import trail
from shared.calc.errors import InputError
from shared.models import Person
from shared.permissions import NotAllowedError

LONGEST_REMARK = 300


@transaction.atomic
def say_go(*, by: Person, now: datetime, record: TransferRecord) -> bool:
    """Say for one side that flow may start, or go on; return whether both have said so, and oil flows.

    Refused while a required item stands at “no”, and while no plan is in force.
    """
    side = check_acting_side(by, record.accord)
    record = locked(record)
    rule_for(Move.GO, State(record.state), side)
    _check_may_flow(record, now)
    name = f"go_{side}"
    changed = TransferRecord.objects.filter(pk=record.pk, state=record.state, **{f"{name}_at": None})
    if changed.update(**{f"{name}_at": now, f"{name}_by": by}) != 1:
        raise MeanwhileError(f"The {side} has said go already; it is the {side.other}'s turn.")
    facts: dict[str, trail.Fact] = {"side": str(side), "state": record.state}
    trail.record(act="go said", by=by, now=now, subject=record.accord.subject, facts=facts)
    if not record.go_said_by(side.other):
        return False
    first = record.started_at is None
    move(record, Move.GO, side, now=now, started_at=record.started_at or now)
    _write(record, Kind.STARTED if first else Kind.RESTARTED, side, by=by, at=now, now=now)
    return True


@transaction.atomic
def stop_flow(*, by: Person, now: datetime, record: TransferRecord, at: datetime, reason: str, caused_by: str) -> None:
    """Log that flow was stopped at ``at``; both sides say go before it starts again."""
    side = check_acting_side(by, record.accord)
    record = locked(record)
    _check_time(record, at, now)
    move(record, Move.STOP, side, now=now, reason=reason)
    _write(record, Kind.STOPPED, side, by=by, at=at, now=now, remark=reason, caused_by=_cause(caused_by))


@transaction.atomic
def end_flow(*, by: Person, now: datetime, record: TransferRecord, at: datetime, reason: str = "") -> None:
    """Log that flow has ended for good; closing items and events follow."""
    side = check_acting_side(by, record.accord)
    record = locked(record)
    _check_time(record, at, now)
    missed = sum(one.overdue for one in due_at(record, current_accord(record), at))
    move(record, Move.COMPLETE, side, now=now, reason=reason, ended_at=at, missed_checks=missed)
    _write(record, Kind.ENDED, side, by=by, at=at, now=now, remark=reason)


def hold(record: TransferRecord, side: Side, *, by: Person, now: datetime, reason: str) -> None:
    """Stop the transfer in the record because a required item is no longer true; inside the caller's transaction."""
    flowed = record.state == State.FLOWING
    move(record, Move.HOLD, side, now=now, reason=reason)
    if flowed:
        _write(record, Kind.STOPPED, side, by=by, at=now, now=now, remark=reason[:LONGEST_REMARK], caused_by=str(side))


@transaction.atomic
def log_event(
    *,
    by: Person,
    now: datetime,
    record: TransferRecord,
    kind: Kind,
    at: datetime,
    remark: str = "",
    caused_by: str = "",
    pressure_bar_gauge: Decimal | None = None,
) -> LogEvent:
    """Write one line of the time sheet; starts, stops and the end are written by the acts that make them."""
    side = check_acting_side(by, record.accord)
    record = locked(record)
    check_open(record)
    if kind in BY_MOVES:
        raise InputError(f"“{kind}” is written when the flow itself is started, stopped or ended on this page.")
    if kind is Kind.OTHER and not remark.strip():
        raise InputError("Say in the remark what happened.")
    more: dict[str, Any] = {"caused_by": _cause(caused_by), "pressure_bar_gauge": pressure_bar_gauge}
    return _write(record, kind, side, by=by, at=at, now=now, remark=remark, **more)


@transaction.atomic
def correct_event(*, by: Person, now: datetime, event: LogEvent, at: datetime, remark: str, reason: str) -> LogEvent:
    """Put another time or remark in the place of one's own side's line; the old line stays with who and why."""
    side = check_acting_side(by, event.record.accord)
    if event.side != side:
        raise NotAllowedError(f"This is a line of the {event.side}; the {event.side} corrects it.")
    if not reason.strip():
        raise InputError("Give a reason for the correction; the other side and an auditor read it.")
    record = locked(event.record)
    check_open(record)
    more: dict[str, Any] = {
        "caused_by": event.caused_by,
        "pressure_bar_gauge": event.pressure_bar_gauge,
        "corrects": event,
        "correction_reason": reason.strip()[:LONGEST_REMARK],
    }
    try:
        with transaction.atomic():
            corrected = _write(record, Kind(event.kind), side, by=by, at=at, now=now, remark=remark, **more)
    except IntegrityError as error:
        raise MeanwhileError("This line was corrected already; correct the newer one.") from error
    if corrected.kind == Kind.ENDED:
        TransferRecord.objects.filter(pk=record.pk, state=State.COMPLETED).update(ended_at=at)
    return corrected


def items_at_no(record: TransferRecord, accord: Accord) -> list[Check]:
    """Return the latest answers of required items that say “no”; each keeps the flow from going on."""
    must = {item.key for item in items_of(accord) if item.severity.must}
    latest = {(check.item_key, check.side): check for check in record.checks.select_related("by").order_by("id")}
    return [check for check in latest.values() if check.answer == AnswerChoice.NO and check.item_key in must]


def _check_may_flow(record: TransferRecord, now: datetime) -> None:
    accord = current_accord(record)
    if accord.state != AccordState.IN_FORCE or is_past(accord, now):
        raise MoveError("No plan is in force any more; bring an amendment into force before flow goes on.")
    at_no = items_at_no(record, accord)
    if at_no:
        sides = ", ".join(sorted({check.side for check in at_no}))
        raise MoveError(
            f"{len(at_no)} required {'item stands' if len(at_no) == 1 else 'items stand'} at “no” ({sides}); flow goes"
            " on when that side has answered it again and both have said go."
        )


def _check_time(record: TransferRecord, at: datetime, now: datetime) -> None:
    if at > now:
        raise InputError(f"The time {at:%H:%M} UTC lies ahead of now ({now:%H:%M} UTC); give the time at which it was.")
    last = record.events.filter(kind__in=[Kind.STARTED, Kind.RESTARTED], corrected_by=None).order_by("-at").first()
    if last is not None and at < last.at:
        raise InputError(f"The time {at:%d %B %H:%M} UTC lies before flow began at {last.at:%H:%M} UTC; correct it.")


def _cause(caused_by: str) -> str:
    if caused_by and caused_by not in CAUSED_BY:
        raise InputError(f"Caused by “{caused_by}” is not known; choose one of {', '.join(CAUSED_BY)}.")
    return caused_by


def _write(
    record: TransferRecord, kind: Kind, side: Side, *, by: Person, at: datetime, now: datetime, **more: Any
) -> LogEvent:
    remark = str(more.pop("remark", "")).strip()
    if len(remark) > LONGEST_REMARK:
        raise InputError(f"The remark has {len(remark)} characters; allowed: up to {LONGEST_REMARK}. Shorten it.")
    event = LogEvent.objects.create(
        record=record, kind=kind, side=side, by=by, at=at, entered_at=now, remark=remark, **more
    )
    facts: dict[str, trail.Fact] = {
        "event": str(kind),
        "side": str(side),
        "at": at.isoformat(timespec="minutes"),
        "remark": remark,
    }
    if event.corrects_id:
        facts |= {"corrects": event.corrects_id, "reason": event.correction_reason}
    trail.record(act="time sheet line", by=by, now=now, subject=record.accord.subject, facts=facts)
    return event
