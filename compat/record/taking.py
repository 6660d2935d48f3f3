"""Acts on readings: take one, correct one, answer a drift."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID, uuid4

from django.db import IntegrityError, transaction

from compat.accord.checklist.item import Side
from compat.accord.moving import MeanwhileError
from compat.accord.permissions import check_acting_side
from compat.case.case_file import CaseFile
from compat.record.chain import current_accord, planned
from compat.record.comparing import Beside, comparison_of, rate_between
from compat.record.doubts import doubts
from compat.record.models import DriftAnswer, Reading, Source, TransferRecord
from compat.record.moments import Moment
from compat.record.moving import check_open, locked
from compat.record.readings import DISCHARGED, DRAUGHT, RECEIVED, SHORE_LEVEL, TANK_LEVEL, TIDE, checked_readings
from shared import trail
from shared.calc.errors import AccordError, InputError
from shared.models import Person
from shared.permissions import NotAllowedError

OTHERS_COUNT_FOR = timedelta(minutes=30)
LEVELS_COUNT_FOR = timedelta(hours=2)  # levels and water move slowly; an hourly reading of them is better than the plan
SAME_TIME = timedelta(minutes=5)
_RUNNING_TOTALS = frozenset({DISCHARGED, RECEIVED})
_LEVELS = frozenset({SHORE_LEVEL, TANK_LEVEL, TIDE, DRAUGHT})
OTHERS_COUNT_AHEAD = timedelta(minutes=15)
EARLIER_IN_TREND = 7
LONGEST_REMARK, LONGEST_SAID = 300, 500


class DoubtsError(AccordError):
    """A reading that has to be looked at once more; ``questions`` say why. It is kept as soon as it is confirmed."""

    def __init__(self, questions: list[str]) -> None:
        super().__init__(" ".join(questions))
        self.questions = questions


def take_reading(
    *,
    by: Person,
    now: datetime,
    record: TransferRecord,
    at: datetime,
    values: Mapping[str, Decimal],
    typed: Mapping[str, str] | None = None,
    remark: str = "",
    confirmed: bool = False,
    source: Source = Source.TYPED,
    draft: UUID | None = None,
) -> Reading:
    """Keep what one side read at ``at``, compared with the plan; values in the units of the table of readings.

    A reading that leaves questions raises DoubtsError unless ``confirmed``; the questions are kept with it then. The
    same ``draft`` sent twice, as a phone does after a lost link, gives the reading that was kept the first time.
    """
    side = check_acting_side(by, record.accord)
    kept = _drafted(draft, record, by)
    if kept is not None:
        return kept
    accord = current_accord(record)
    case, answer = planned(accord)
    with transaction.atomic():
        record = locked(record)
        check_open(record)
        checked = checked_readings(case, side, values)
        questions = doubts(case, checked, _before(record, side, at), at=at, now=now)
        if questions and not confirmed:
            raise DoubtsError(questions)
        row: dict[str, Any] = {
            "record": record,
            "side": side,
            "at": at,
            "values": checked,
            "typed": dict(typed or {}),
            "remark": _short(remark, LONGEST_REMARK, "The remark"),
            "source": source,
            "doubts": questions,
            "plan_number": accord.plan_number,
            "by": by,
            "entered_at": now,
            "draft": draft or uuid4(),
        }
        reading = _kept(row, case, answer, record)
        _note("reading taken", reading, by=by, now=now)
    return reading


@transaction.atomic
def correct_reading(
    *,
    by: Person,
    now: datetime,
    reading: Reading,
    at: datetime,
    values: Mapping[str, Decimal],
    typed: Mapping[str, str] | None = None,
    reason: str,
) -> Reading:
    """Put another reading in the place of one's own side's; the old one stays, with who corrected it and why."""
    side = check_acting_side(by, reading.record.accord)
    if reading.side != side:
        raise NotAllowedError(f"This is a reading of the {reading.side}; the {reading.side} corrects it.")
    told = _short(reason, LONGEST_REMARK, "The reason")
    if not told:
        raise InputError("Give a reason for the correction; the other side and an auditor read it.")
    record = locked(reading.record)
    check_open(record)
    accord = current_accord(record)
    case, answer = planned(accord)
    row: dict[str, Any] = {
        "record": record,
        "side": side,
        "at": at,
        "values": checked_readings(case, side, values),
        "typed": dict(typed or {}),
        "remark": reading.remark,
        "source": reading.source,
        "plan_number": accord.plan_number,
        "by": by,
        "entered_at": now,
        "corrects": reading,
        "correction_reason": told,
    }
    try:
        with transaction.atomic():
            corrected = _kept(row, case, answer, record)
    except IntegrityError as error:
        raise MeanwhileError("This reading was corrected already; correct the newer one.") from error
    _note("reading corrected", corrected, by=by, now=now, corrects=reading.pk, reason=told)
    return corrected


@transaction.atomic
def answer_drift(*, by: Person, now: datetime, reading: Reading, what: DriftAnswer.What, said: str) -> DriftAnswer:
    """Say for one side why a reading drifted, or that the agreed action was taken; the first answer counts."""
    side = check_acting_side(by, reading.record.accord)
    told = _short(said, LONGEST_SAID, "The explanation")
    if not told:
        raise InputError("Say why it drifted, or what was done; the other side and an auditor read it.")
    record = locked(reading.record)
    check_open(record)
    if not reading.drifted:
        raise InputError("This reading did not drift; there is nothing to explain.")
    try:
        with transaction.atomic():
            given = DriftAnswer.objects.create(reading=reading, what=what, said=told, side=side, by=by, at=now)
    except IntegrityError as error:
        raise MeanwhileError("Someone answered this drift just now; read it first.") from error
    facts: dict[str, trail.Fact] = {"reading": reading.pk, "what": str(what), "said": told, "side": str(side)}
    trail.record(act="drift answered", by=by, now=now, subject=record.accord.subject, facts=facts)
    return given


def _drafted(draft: UUID | None, record: TransferRecord, by: Person) -> Reading | None:
    if draft is None:
        return None
    kept = Reading.objects.filter(draft=draft).first()
    if kept is not None and (kept.record_id != record.pk or kept.by_id != by.pk):
        raise InputError("This draft belongs to another record; open the form anew and type the reading there.")
    return kept


def _kept(row: dict[str, Any], case: CaseFile, answer: Mapping[str, Any] | None, record: TransferRecord) -> Reading:
    side, at = row["side"], row["at"]
    document = comparison_of(
        case, record.arranged(), _moment(record, side, at, row["values"]), _beside(record, side, at, row, answer)
    )
    return Reading.objects.create(**row, comparison=document, drifted=document["drifted"])


def standing_readings(record: TransferRecord) -> Any:
    """Return the readings that count: those that nobody corrected, in order of time."""
    return record.readings.filter(corrected_by=None)


def _before(record: TransferRecord, side: Side, at: datetime) -> Mapping[str, str] | None:
    found = standing_readings(record).filter(side=side, at__lt=at).order_by("-at", "-id").first()
    return found.values if found else None


def _others(record: TransferRecord, side: Side, at: datetime, within: timedelta = OTHERS_COUNT_FOR) -> Reading | None:
    rows = standing_readings(record).filter(side=side.other)
    found: Reading | None = (
        rows.filter(at__gte=at - within, at__lte=at + OTHERS_COUNT_AHEAD).order_by("-at", "-id").first()
    )
    return found


def _moment(record: TransferRecord, side: Side, at: datetime, values: Mapping[str, str]) -> Moment:
    return Moment(values, _told_by(_others(record, side, at, LEVELS_COUNT_FOR), at))


def _told_by(other: Reading | None, at: datetime) -> dict[str, str]:
    """Return what the other side's reading tells at a time: quantities run on, so they count only when read at once."""
    if other is None:
        return {}
    same, stale = abs(other.at - at) <= SAME_TIME, at - other.at > OTHERS_COUNT_FOR
    left_out = frozenset() if same else _RUNNING_TOTALS
    return {key: text for key, text in other.values.items() if key in _LEVELS or (not stale and key not in left_out)}


def _beside(
    record: TransferRecord, side: Side, at: datetime, row: Mapping[str, Any], answer: Mapping[str, Any] | None
) -> Beside:
    corrected = row.get("corrects")
    earlier = standing_readings(record).filter(side=side, at__lt=at)
    if corrected is not None:
        earlier = earlier.exclude(pk=corrected.pk)
    last = list(earlier.order_by("-at", "-id")[:EARLIER_IN_TREND])[::-1]
    other = _others(record, side, at)
    moments = tuple(((one.at - at).total_seconds() / 3600.0, _moment(record, side, one.at, one.values)) for one in last)
    own_rate = _rate_since(last[-1] if last else None, row["values"], at, DISCHARGED if side is Side.SHIP else RECEIVED)
    others_rate = None
    if other is not None:
        rows = standing_readings(record).filter(side=side.other, at__lt=other.at)
        key = RECEIVED if side is Side.SHIP else DISCHARGED
        others_rate = _rate_since(rows.order_by("-at", "-id").first(), other.values, other.at, key)
    ship, shore = (own_rate, others_rate) if side is Side.SHIP else (others_rate, own_rate)
    return Beside(ship, shore, answer["total_flow_m3_per_h"] if answer else None, moments)


def _rate_since(before: Reading | None, values: Mapping[str, str], at: datetime, key: str) -> float | None:
    if before is None:
        return None
    return rate_between(before.values, values, key, (at - before.at).total_seconds() / 3600.0)


def _short(text: str, longest: int, name: str) -> str:
    told = text.strip()
    if len(told) > longest:
        raise InputError(f"{name} has {len(told)} characters; allowed: up to {longest}. Shorten it.")
    return told


def _note(act: str, reading: Reading, *, by: Person, now: datetime, **more: trail.Fact) -> None:
    facts: dict[str, trail.Fact] = {
        "reading": reading.pk,
        "side": str(reading.side),
        "at": reading.at.isoformat(timespec="minutes"),
        "values": dict(reading.values),
        "doubts": list(reading.doubts),
        "drifted": reading.drifted,
    }
    trail.record(act=act, by=by, now=now, subject=reading.record.accord.subject, facts={**facts, **more})
