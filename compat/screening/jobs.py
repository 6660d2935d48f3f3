"""What of a screening any machine may do."""

from __future__ import annotations

from compat.screening.background import PIECE, work_on
from shared.jobs import job


@job(PIECE, queue="screenings")
def piece(key: int, start: int, stop: int) -> None:
    """Work out one piece, unless it is there, or the screening no longer runs; whoever does the last one ends it."""
    work_on(key, start, stop)
