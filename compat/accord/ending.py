"""How a plan in force ends without anybody's act: another takes its place, or the time until which it holds is past.

Nothing has to run in the background: whoever looks at an accord, lists accords or acts on one first lets those expire
whose time is past.
"""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from compat.accord.models import Accord, Plan
from compat.accord.moving import locked, move
from compat.accord.states import Move, State
from shared.calc.errors import InputError
from shared.models import Person
from shared.trail import Fact, record


def check_holds(accord: Accord, now: datetime) -> None:
    """Raise InputError where the time until which the plan would hold is past before it is in force."""
    if accord.holds_until is not None and is_past(accord, now):
        raise InputError(
            f"This plan would hold until {accord.holds_until:%-d %B %Y, %H:%M} UTC, which is past."
            " Take it back to the table and change that time under “place, time and conditions”."
        )


def is_past(accord: Accord, now: datetime) -> bool:
    """Tell whether the time until which a plan holds is past."""
    return accord.holds_until is not None and accord.holds_until <= now


def expire_due(*, now: datetime, accord: Accord | None = None) -> list[Accord]:
    """Let every plan in force expire whose stated time is past, or only that of ``accord``; return those that did."""
    due = Accord.objects.filter(state=str(State.IN_FORCE), holds_until__lte=now)
    if accord is not None:
        if accord.state != State.IN_FORCE or not is_past(accord, now):
            return []
        due = due.filter(pk=accord.pk)
    return [one for pk in due.values_list("pk", flat=True) if (one := _expire(pk, now)) is not None]


@transaction.atomic
def _expire(pk: int, now: datetime) -> Accord | None:
    accord = locked(Accord(pk=pk))
    if accord.state != State.IN_FORCE or accord.holds_until is None or accord.holds_until > now:
        return None  # somebody was quicker: amended, withdrawn, or expired already
    move(accord, Move.EXPIRE, None, now=accord.holds_until)
    facts: dict[str, Fact] = {"plan_number": accord.plan_number, "held_until": accord.holds_until.isoformat()}
    record(act="plan expired", by=None, now=now, subject=accord.subject, facts=facts)
    return accord


def supersede(amended: Accord, plan: Plan, *, by: Person, now: datetime) -> None:
    """Let a plan that came into force take the place of the one that it amends."""
    earlier = locked(amended)
    if earlier.state != State.IN_FORCE:
        return  # withdrawn or expired meanwhile: it says so already
    Plan.objects.filter(accord=earlier).update(superseded_by=plan)
    move(earlier, Move.SUPERSEDE, None, now=now)
    facts: dict[str, Fact] = {
        "plan_number": earlier.plan_number,
        "superseded_by": plan.number,
        "payload_sha256": plan.sha256,
    }
    record(act="plan superseded", by=by, now=now, subject=earlier.subject, facts=facts)
