"""Acts that settle an accord, take it back to the table, or withdraw it."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from compat.accord.checklist.item import Side
from compat.accord.ending import check_holds, expire_due
from compat.accord.models import Accord
from compat.accord.moving import checked_reason, locked, move
from compat.accord.permissions import check_acting_side, check_own_side
from compat.accord.plan_document import plan_bytes, plan_payload
from compat.accord.plan_gathering import plan_inputs, work_out_parts
from compat.accord.progress import what_keeps_from_settling
from compat.accord.states import Move, State, rule_for
from shared.calc.errors import AccordError
from shared.canonical import sha256_hex
from shared.models import Person
from shared.trail import Fact, record


class NotSettledError(AccordError):
    """Something is still to be agreed or answered; ``left`` holds one sentence for each thing."""

    def __init__(self, left: list[str]) -> None:
        super().__init__("The accord can't be settled yet. " + " ".join(left))
        self.left = left


def settle(*, by: Person, now: datetime, accord: Accord) -> Accord:
    """Freeze what was agreed and answered into the bytes that both sides will sign.

    Raises NotSettledError with everything that is left to do.
    """
    check_acting_side(by, accord)
    work_out_parts(accord)
    return _settle(by=by, now=now, accord=accord)


@transaction.atomic
def _settle(*, by: Person, now: datetime, accord: Accord) -> Accord:
    side = check_acting_side(by, accord)
    accord = locked(accord)
    rule_for(Move.SETTLE, State(accord.state), side)
    check_holds(accord, now)
    left = what_keeps_from_settling(accord)
    if left:
        raise NotSettledError(left)
    payload = plan_bytes(plan_payload(plan_inputs(accord, now)))
    digest = sha256_hex(payload)
    move(accord, Move.SETTLE, side, now=now, payload=payload, payload_sha256=digest)
    facts: dict[str, Fact] = {"side": str(side), "payload_sha256": digest, "plan_number": accord.plan_number}
    record(act="accord settled", by=by, now=now, subject=accord.subject, facts=facts)
    return accord


@transaction.atomic
def take_back(*, by: Person, now: datetime, accord: Accord, reason: str) -> Accord:
    """Take a settled accord back to the table; signatures given so far become void, with the reason."""
    side = check_acting_side(by, accord)
    accord = locked(accord)
    rule = rule_for(Move.TAKE_BACK, State(accord.state), side)
    told = checked_reason(reason)
    voided = accord.signatures.filter(void_at=None).update(void_at=now, void_by=by, void_reason=told)
    digest = accord.payload_sha256
    move(accord, rule.move, side, now=now, reason=told, payload=None, payload_sha256="")
    facts: dict[str, Fact] = {"side": str(side), "reason": told, "payload_sha256": digest, "signatures_voided": voided}
    record(act="accord taken back", by=by, now=now, subject=accord.subject, facts=facts)
    return accord


@transaction.atomic
def withdraw(*, by: Person, now: datetime, accord: Accord, reason: str) -> Accord:
    """Withdraw an accord for good; a plan that was in force stays readable and says that it was withdrawn."""
    side: Side = check_own_side(by, accord)
    expire_due(now=now, accord=accord)
    accord = locked(accord)
    was = accord.state
    told = checked_reason(reason)
    move(accord, Move.WITHDRAW, side, now=now, reason=told)
    facts: dict[str, Fact] = {"side": str(side), "reason": told, "was": was}
    record(act="accord withdrawn", by=by, now=now, subject=accord.subject, facts=facts)
    return accord
