"""Which record belongs to an accord, and under which plan it runs now: an amendment carries its record on."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from compat.accord.bargaining import agreed_values, standing
from compat.accord.engine import work_out
from compat.accord.models import Accord, Plan
from compat.accord.states import PLAN_STATES
from compat.accord.states import State as AccordState
from compat.accord.values import case_with
from compat.case.case_file import CaseFile, check_case
from compat.record.models import SIGNED_BYTES, TransferRecord


def chain_of(accord: Accord) -> list[Accord]:
    """Return an accord with all that it amends and all that amends it, the first plan first."""
    first = accord
    while first.amends is not None:
        first = first.amends
    found = [first]
    while True:
        following = found[-1].amendments.exclude(state=AccordState.WITHDRAWN).first()
        if following is None:
            return found
        found.append(following)


def record_of(accord: Accord) -> TransferRecord | None:
    """Return the record that runs under an accord, or ran under one that it amends, or None."""
    kept = TransferRecord.objects.defer(*SIGNED_BYTES).select_related(
        "accord__ship_party", "accord__terminal_party", "arranged_by", "accepted_by"
    )
    return kept.filter(accord__in=[one.pk for one in chain_of(accord)]).first()


def current_accord(record: TransferRecord) -> Accord:
    """Return the accord whose plan is in force for a record now; the last that was, where none is any more."""
    plans = [one for one in chain_of(record.accord) if one.state in PLAN_STATES]
    return plans[-1] if plans else record.accord


def planned(accord: Accord) -> tuple[CaseFile, Mapping[str, Any] | None]:
    """Return the frozen case with the agreed values in it, and the engine's answer to it."""
    values = agreed_values(standing(accord))
    return check_case(case_with(accord.case, values), accord.title), work_out(accord.case, values).answer


def plan_in_force(accord: Accord) -> Plan | None:
    """Return the plan of an accord without its bytes, or None."""
    return Plan.objects.filter(accord=accord).defer("payload", "earlier_file", "signatures", "pdf").first()
