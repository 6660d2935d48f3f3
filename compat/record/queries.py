"""What pages read about records: lists, what waits, what is open."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import QuerySet
from django.urls import reverse
from django.utils import timezone

from compat.accord.checklist.item import Side
from compat.accord.models import Accord
from compat.accord.permissions import acting_side, visible_to
from compat.accord.states import State as AccordState
from compat.record.chain import current_accord
from compat.record.comparing import departed
from compat.record.models import SIGNED_BYTES, LogEvent, Reading, TransferRecord
from compat.record.states import RUNNING_STATES, State
from compat.record.taking import standing_readings
from compat.record.what_is_due import due_now
from shared.models import Person
from shared.queries import Waiting, show_waiting
from shared.roles import ACTING_ROLES

READINGS_ON_PAGE = 24


def records_visible_to(person: Person) -> QuerySet[TransferRecord]:
    """Return the records of all accords that exist for a person."""
    return TransferRecord.objects.filter(accord__in=visible_to(person)).defer(*SIGNED_BYTES)


def readings_of(record: TransferRecord) -> QuerySet[Reading]:
    """Return the readings that count, newest first, with who took them and how drifts were answered."""
    found: QuerySet[Reading] = standing_readings(record).select_related("by", "answer__by", "corrects")
    return found.order_by("-at", "-id")


def open_drifts(record: TransferRecord) -> QuerySet[Reading]:
    """Return the readings that drifted and that nobody has answered yet, oldest first."""
    found: QuerySet[Reading] = standing_readings(record).filter(drifted=True, answer=None).select_related("by")
    return found


def events_of(record: TransferRecord) -> QuerySet[LogEvent]:
    """Return the lines of the time sheet that count, in order."""
    return record.events.filter(corrected_by=None).select_related("by", "corrects")


@dataclass(frozen=True)
class Unanswered:
    """A drift that nobody has answered, and whether the time to explain it is over."""

    reading: Reading
    act_now: bool

    @property
    def what(self) -> list[str]:
        """Which gauges drifted, or what else departed."""
        return departed(self.reading.comparison)


def unanswered(record: TransferRecord, now: datetime) -> list[Unanswered]:
    """Return open drifts; past the agreed time, the agreed action is due."""
    limit = timedelta(minutes=record.arranged().explain_within_min)
    return [Unanswered(reading, now - reading.entered_at > limit) for reading in open_drifts(record)]


@show_waiting
def waiting_for(person: Person) -> list[Waiting]:
    """Name the records that wait for this person: an arrangement, a go, a drift, an overdue check, a signature."""
    if person.role not in ACTING_ROLES:
        return []
    found = []
    records = records_visible_to(person).exclude(state=State.CLOSED)
    for record in records.select_related("accord__ship_party", "accord__terminal_party"):
        side = acting_side(person, record.accord)
        sentence = _waits(record, side, timezone.now()) if side else ""
        if sentence:
            address = reverse("record", args=[record.accord.public_id])
            found.append(Waiting(f"{record.accord.title}: {sentence}", address, "Open"))
    return found


def _waits(record: TransferRecord, side: Side, now: datetime) -> str:
    state = State(record.state)
    if state is State.PROPOSED:
        return "how the record is kept waits for your side." if record.arranged_side != side else ""
    if state in {State.SETTLED, State.SIGNED_BY_SHIP, State.SIGNED_BY_TERMINAL}:
        return "" if state.value.endswith(str(side)) else "the record is ready and waits for your side's signature."
    if state in RUNNING_STATES:
        if record.go_said_by(side.other) and not record.go_said_by(side):
            return f"the {side.other} has said go."
        late = [one for one in due_now(record, current_accord(record), now) if one.side is side and one.overdue]
        if late:
            return f"{len(late)} {'check is' if len(late) == 1 else 'checks are'} overdue."
        if open_drifts(record).exists():
            return "a reading drifted and is not explained."
    return ""


def may_open_record(person: Person, accord: Accord) -> bool:
    """Tell whether a person may open the record of an accord that has none."""
    return accord.state == AccordState.IN_FORCE and acting_side(person, accord) is not None
