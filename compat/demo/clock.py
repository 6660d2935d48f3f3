"""The clock of the demo scenario: it only goes forward, so that the trail reads in order."""

from __future__ import annotations

from datetime import datetime, timedelta


class Clock:
    """Tells the time of each act."""

    def __init__(self, start: datetime) -> None:
        self.now = start

    def tick(self, *, seconds: float = 180) -> datetime:
        """Let some time pass and return the time after it."""
        self.now += timedelta(seconds=seconds)
        return self.now

    def wait_until(self, moment: datetime) -> None:
        """Go on to a later time; raise ValueError for one that is past."""
        if moment < self.now:
            raise ValueError(f"The demo's clock stands at {self.now} and can't go back to {moment}.")
        self.now = moment
