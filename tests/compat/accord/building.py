"""Takes an accord to any state by its own acts."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from compat.accord import actions
from compat.accord.answer_values import checked_values
from compat.accord.answering import latest_answers
from compat.accord.checklist import items_before_signing
from compat.accord.checklist.conditions import TransferConditions
from compat.accord.checklist.item import AskedValue, Side
from compat.accord.ending import expire_due
from compat.accord.models import Accord, AnswerChoice, ChecklistAnswer, ProposalStatus, ValueProposal
from compat.accord.progress import is_owed
from compat.accord.states import State
from compat.accord.values import values_for
from compat.case.case_file import check_case
from shared.models import Person
from tests.builders import NOW, SECRET, berth_facts, case_document, make_berth, make_vessel, ship_facts

PRESSURE = "manifold_pressure_bar_gauge"
HIGHEST = "highest_rate_m3_per_h"
START = "start_rate_m3_per_h"
CLOSING = "closing_time_s"
VALUES = {PRESSURE: Decimal(8), HIGHEST: Decimal(2800), START: Decimal(600), CLOSING: Decimal(45)}
# What else has to be agreed before anything is settled, as two sides of common sense would.
MORE_VALUES: dict[str, Decimal | str] = {
    "bulk_rate_m3_per_h": Decimal(2500),
    "slow_step_warning_min": Decimal(15),
    "pumps_in_bulk": Decimal(2),
    "highest_speed_rpm": Decimal(1400),
    "notice_before_change_min": Decimal(15),
    "normal_stop_means": "On the main channel; pumps first, then the manifold valves",
    "normal_stop_min": Decimal(5),
    "emergency_stop_means": "Anyone: stop, stop, stop on the main channel, and the horn",
    "emergency_stop_s": Decimal(30),
    "planned_stops": "none",
    "while_stopped": "manifold and shore valves shut, lines full",
    "stop_before_checks_min": Decimal(30),
    "main_channel": "VHF 74",
    "reserve_channel": "VHF 77",
    "language": "English",
    "contact_test_min": Decimal(60),
    "contact_lost": "emergency stop at once",
    "watch_on_board": "Officer in the control room, one on deck",
    "watch_ashore": "Operator at the jetty head",
    "watch_changes": "00, 04, 08, 12, 16, 20 UTC",
    "handover": "at the post, in writing, and told to the other side",
    "wind_stop_m_per_s": Decimal(18),
    "wind_disconnect_m_per_s": Decimal(22),
    "lightning_km": Decimal(8),
    "lightning_action": "stop pumping",
    "gauging_method": "closed",
    "sampling": "Ship's manifold, one sealed sample each",
    "gauging_wait_min": Decimal(30),
    "unit_of_pressure": "bar",
    "unit_of_rate": "m³/h",
    "unit_of_quantity": "m³ at 15 °C",
    "unit_of_temperature": "°C",
}

# What is known here keeps the checklist short: a gas oil by day, tanks not inerted, no washing.
CONDITIONS = TransferConditions(
    crude=False,
    volatile=False,
    static_accumulator=False,
    inerted=False,
    vapour_return=False,
    hydrogen_sulphide=False,
    benzene=False,
    crude_oil_washing=False,
    night=False,
    pump_room=True,
    notice_required=False,
)


def open_accord(ship: Person, terminal: Person, *, by: Person | None = None, **changes: Any) -> Accord:
    """Open an accord between the organisations of two people."""
    assert ship.organisation is not None
    assert terminal.organisation is not None
    shared = changes.pop("line_data_shared", True)
    ship_name, berth_name = changes.pop("ship_name", "Astrid Halvard"), changes.pop("berth_name", "Outer berth")
    names: tuple[dict[str, Any], dict[str, Any]] = ({"name": ship_name}, {"name": berth_name})
    if ship_name != "Astrid Halvard":
        names[0]["imo_number"] = None
    vessel = make_vessel(ship.organisation, ship, **names[0])
    berth = make_berth(terminal.organisation, terminal, line_data_shared=shared, **names[1])
    given: dict[str, Any] = {
        "by": by or ship,
        "now": NOW,
        "vessel_revision": vessel.revisions.get(),
        "berth_revision": berth.revisions.get(),
        "case": check_case(case_document(ship=ship_facts(**names[0]), berth=berth_facts(**names[1])), "case"),
        "conditions": CONDITIONS,
        "place": "Port Merrow, Outer berth",
        "planned_start": NOW + timedelta(hours=8),
    }
    return actions.open_accord(**{**given, **changes})


def agree(accord: Accord, ship: Person, terminal: Person, values: dict[str, Decimal] | None = None) -> None:
    """Let the ship propose each value and the terminal accept it; what else is needed is written as rows."""
    for key, value in (VALUES if values is None else values).items():
        proposal = actions.propose_value(by=ship, now=NOW, accord=accord, key=key, value=value, seen=None)
        actions.accept_value(by=terminal, now=NOW, proposal=proposal)
    write_more_values(accord, ship, terminal)


def write_more_values(accord: Accord, ship: Person, terminal: Person) -> None:
    """Write the values that the engine works without, and those it is only told of, as agreed."""
    asked = [definition.key for definition in values_for(accord.transfer_conditions())]
    there = set(accord.proposals.values_list("key", flat=True))
    ValueProposal.objects.bulk_create(
        ValueProposal(
            accord=accord,
            key=key,
            value=value if isinstance(value, Decimal) else None,
            words="" if isinstance(value, Decimal) else value,
            side=Side.SHIP,
            by=ship,
            at=NOW,
            status=ProposalStatus.ACCEPTED,
            decided_side=Side.TERMINAL,
            decided_by=terminal,
            decided_at=NOW,
        )
        for key, value in MORE_VALUES.items()
        if key in asked and key not in there
    )


def sample(value: AskedValue) -> str:
    """Return a text that an asked value takes."""
    if value.kind == "number":
        return str(value.least if value.least is not None else 1)
    return {"text": "as agreed", "date": "2031-04-01", "moment": "2031-04-14T05:00+00:00", "yes or no": "yes"}[
        value.kind
    ]


def answer_all(accord: Accord, ship: Person, terminal: Person, *, now: datetime = NOW) -> None:
    """Answer every item before signing for every side that answers it, one act for each."""
    before = latest_answers(accord)
    for item in items_before_signing(accord.transfer_conditions()):
        values = {value.key: sample(value) for value in item.asked if value.required}
        for side in item.answered_by:
            given = before.get((item.key, side))
            actions.answer_item(
                by=ship if side is Side.SHIP else terminal,
                now=now,
                accord=accord,
                item_key=item.key,
                answer=AnswerChoice.YES,
                values=values,
                seen=given.pk if given else None,
            )


def write_answers(accord: Accord, ship: Person, terminal: Person, *, only_owed: bool = False) -> None:
    """Write the same answers as rows at once, for tests of what comes after them."""
    given = latest_answers(accord)
    rows = [
        ChecklistAnswer(
            accord=accord,
            item_key=item.key,
            side=side,
            answer=AnswerChoice.YES,
            values=checked_values(
                item, {value.key: sample(value) for value in item.asked if value.required}, all_required=True
            ),
            by=ship if side is Side.SHIP else terminal,
            at=NOW,
        )
        for item in items_before_signing(accord.transfer_conditions())
        for side in item.answered_by
        if not only_owed or is_owed(item, given.get((item.key, side)))
    ]
    ChecklistAnswer.objects.bulk_create(rows)


def sign(accord: Accord, by: Person, *, now: datetime = NOW, secret: str = SECRET) -> Any:
    """Sign what is settled, as it stands."""
    accord.refresh_from_db()
    return actions.sign(
        by=by,
        now=now,
        accord=accord,
        secret=secret,
        title=by.title,
        seen_sha256=accord.payload_sha256,
        consents=True,
    )


def bring_to(state: State, ship: Person, terminal: Person, **changes: Any) -> Accord:
    """Open an accord and take it to ``state``."""
    accord = open_accord(ship, terminal, **changes)
    if state is State.WITHDRAWN:
        return actions.withdraw(by=ship, now=NOW, accord=accord, reason="The ship goes elsewhere.")
    if state is State.ON_TABLE:
        return accord
    agree(accord, ship, terminal)
    write_answers(accord, ship, terminal)
    actions.settle(by=terminal, now=NOW, accord=accord)
    signers = {
        State.SETTLED: [],
        State.SIGNED_BY_SHIP: [ship],
        State.SIGNED_BY_TERMINAL: [terminal],
    }.get(state, [ship, terminal])
    for person in signers:
        sign(accord, person)
    if state is State.EXPIRED:
        Accord.objects.filter(pk=accord.pk).update(holds_until=NOW + timedelta(hours=9))
        expire_due(now=NOW + timedelta(hours=9))
    if state is State.SUPERSEDED:
        amend_to_force(accord, ship, terminal)
    accord.refresh_from_db()
    return accord


def amend_to_force(accord: Accord, ship: Person, terminal: Person) -> Accord:
    """Open an amendment of a plan in force and bring it into force."""
    accord.refresh_from_db()
    amendment = actions.open_amendment(
        by=terminal,
        now=NOW,
        accord=accord,
        reason="The shore tank changed.",
        planned_start=accord.planned_start,
        newest_facts=False,
    )
    write_answers(amendment, ship, terminal, only_owed=True)
    actions.settle(by=ship, now=NOW, accord=amendment)
    sign(amendment, terminal)
    sign(amendment, ship)
    return amendment
