"""What is to be checked again, when it is due, and how late it is (pure: no Django)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from compat.accord.checklist.item import Item, Side
from compat.record.arrangement import Arrangement

READING_ITEM = "watch.pressure-and-rate"
"""The item that readings themselves answer."""
AGREED_INTERVALS = {"comms.proved": "contact_test_min"}
"""Items whose interval in minutes both sides agreed as a value; it goes before the one that the item proposes."""
FIRST_HOUR = timedelta(hours=1)
_SOON = timedelta(minutes=10)

Latest = Mapping[tuple[str, Side], datetime]


@dataclass(frozen=True)
class Due:
    """One item of one side: when it was last answered, when it is due, and how long that is from now."""

    item: Item
    side: Side
    last: datetime | None
    due: datetime
    left: timedelta

    @property
    def overdue(self) -> bool:
        """Tell whether it should have been done."""
        return self.left < timedelta(0)

    @property
    def soon(self) -> bool:
        """Tell whether it is due within ten minutes."""
        return timedelta(0) <= self.left <= _SOON

    @property
    def minutes(self) -> int:
        """Whole minutes left, or late."""
        return int(abs(self.left).total_seconds() // 60)


def repeated(items: Iterable[Item]) -> list[Item]:
    """Return the items that are checked again by the clock."""
    return [item for item in items if item.repeat and (item.repeat.every_min or item.repeat.each_watch)]


def interval(
    item: Item, arrangement: Arrangement, after_start: timedelta, agreed_min: Mapping[str, float] | None = None
) -> timedelta:
    """Return the time within which an item is answered again, ``after_start`` into the transfer.

    ``agreed_min`` holds intervals that both sides agreed for single items.
    """
    if agreed_min and item.key in agreed_min:
        return timedelta(minutes=agreed_min[item.key])
    if item.key == READING_ITEM:
        first = after_start < FIRST_HOUR
        return timedelta(minutes=arrangement.first_hour_every_min if first else arrangement.reading_every_min)
    repeat = item.repeat
    if repeat is None or not repeat.every_min:
        return timedelta(hours=arrangement.watch_h)
    if repeat.closer_every_min and repeat.closer_while == "in the first hour" and after_start < FIRST_HOUR:
        return timedelta(minutes=repeat.closer_every_min)
    return timedelta(minutes=repeat.every_min)


def due_list(
    items: Iterable[Item],
    arrangement: Arrangement,
    *,
    started: datetime,
    latest: Latest,
    now: datetime,
    agreed_min: Mapping[str, float] | None = None,
) -> list[Due]:
    """Return every repeated item of every side, the most pressing first; an item never answered counts from the start.

    An interval is that of the moment from which it runs, so that the first hour's quarters end with that hour.
    """
    found = []
    for item in repeated(items):
        for side in item.answered_by:
            last = latest.get((item.key, side))
            begins = max(last, started) if last else started
            due = begins + interval(item, arrangement, begins - started, agreed_min)
            found.append(Due(item, side, last, due, due - now))
    return sorted(found, key=lambda one: (one.due, one.item.key, one.side))
