"""The one place where the state of a screening is written."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from compat.screening.models import Screening
from compat.screening.states import Move, MoveError, State, target_of


def move(screening: Screening, what: Move, *, now: datetime, **more: Any) -> None:
    """Take a screening along the table, if it still stands where ``screening`` says.

    ``more`` are fields that change with the state. Raises MoveError where the table does not allow it, or where
    somebody else moved it first.
    """
    source = State(screening.state)
    changes = {"state": str(target_of(what, source)), "beat_at": now} | more
    if Screening.objects.filter(pk=screening.pk, state=str(source)).update(**changes) != 1:
        stands = Screening.objects.values_list("state", flat=True).get(pk=screening.pk)
        raise MoveError(f"This screening is {stands} by now; your “{what}” was not done.")
    for field, value in changes.items():
        setattr(screening, field, value)
