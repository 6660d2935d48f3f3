"""The accords of the demo scenario, brought to their states by the same acts that people use."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal

from compat.accord import actions
from compat.accord.accord_items import before_signing_of
from compat.accord.answering import latest_answers
from compat.accord.bargaining import standing, values_on_table
from compat.accord.checklist.conditions import TransferConditions
from compat.accord.checklist.item import Side
from compat.accord.engine import work_out
from compat.accord.models import Accord, AnswerChoice
from compat.accord.practice import usual_values_to_propose
from compat.assessing.models import Assessment
from compat.demo.cast import SECRET
from compat.demo.checklist import CRUDE_CONDITIONS, EARLY_CONDITIONS, PRODUCT_CONDITIONS, Answers
from compat.demo.clock import Clock
from compat.demo.stays import crude_stay
from shared.models import Organisation, Person

PRESSURE, HIGHEST, START = "manifold_pressure_bar_gauge", "highest_rate_m3_per_h", "start_rate_m3_per_h"
BULK = "bulk_rate_m3_per_h"
CLOSING = "closing_time_s"


@dataclass(frozen=True)
class Table:
    """Who sits at one accord, and its clock."""

    ship: Person
    terminal: Person
    clock: Clock

    def person(self, side: Side) -> Person:
        """Return who acts for a side."""
        return self.ship if side is Side.SHIP else self.terminal

    def open(
        self,
        assessment: Assessment,
        conditions: TransferConditions,
        place: str,
        in_hours: float,
        proposals: Mapping[str, str],
        holds_for_days: float | None = None,
    ) -> Accord:
        """Let the ship open an accord from an assessment, with its first proposals."""
        now = self.clock.tick()
        start = (now + timedelta(hours=in_hours)).replace(minute=0, second=0, microsecond=0)
        return actions.open_accord(
            by=self.ship,
            now=now,
            vessel_revision=assessment.vessel_revision,
            berth_revision=assessment.berth_revision,
            case=assessment.case_file(),
            conditions=conditions,
            place=place,
            ship_zone="UTC+02:00",
            planned_start=start,
            holds_until=start + timedelta(days=holds_for_days) if holds_for_days else None,
            proposals={key: Decimal(value) for key, value in proposals.items()},
        )

    def propose(self, accord: Accord, side: Side, key: str, value: str) -> None:
        """Put a value on the table, or answer the other side's with it."""
        lying = accord.proposals.filter(key=key, status="open").first()
        seen = lying.pk if lying else None
        actions.propose_value(
            by=self.person(side), now=self.clock.tick(), accord=accord, key=key, value=Decimal(value), seen=seen
        )

    def accept(self, accord: Accord, *keys: str) -> None:
        """Let the other side accept what lies open."""
        for proposal in accord.proposals.filter(key__in=keys, status="open"):
            other = Side.TERMINAL if proposal.side == Side.SHIP else Side.SHIP
            actions.accept_value(by=self.person(other), now=self.clock.tick(), proposal=proposal)

    def answer(self, accord: Accord, *, sides: tuple[Side, ...] = tuple(Side), most: int | None = None) -> None:
        """Answer the checklist item by item, up to so many for each side."""
        given, answers = latest_answers(accord), Answers(accord)
        for side in sides:
            own = [item for item in before_signing_of(accord) if side in item.answered_by]
            for item in own[:most]:
                now = self.clock.tick(seconds=40)
                before = given.get((item.key, side))
                actions.answer_item(
                    by=self.person(side),
                    now=now,
                    accord=accord,
                    item_key=item.key,
                    answer=AnswerChoice.YES,
                    values=answers.values(item, side, now),
                    seen=before.pk if before else None,
                )

    def agree_the_rest(self, accord: Accord) -> None:
        """Let the terminal propose its usual values, the ship her pumps and bulk rate; each accepts the other's."""
        self.propose_usual(accord)
        case = accord.case_file()
        running = [state.pump for state in case.operation.pumps if state.running]
        greatest = min(pump.greatest_speed_rpm for pump in case.ship.pumps if pump.key in running)
        made = work_out(accord.case, values_on_table(standing(accord))).answer or {}
        bulk = int(made["total_flow_m3_per_h"] * 0.95) // 10 * 10
        for key, value in (("pumps_in_bulk", len(running)), ("highest_speed_rpm", int(greatest)), (BULK, bulk)):
            self.propose(accord, Side.SHIP, key, str(value))
        self.accept(accord, *accord.proposals.filter(status="open").values_list("key", flat=True))

    def propose_usual(self, accord: Accord) -> None:
        """Let the terminal put its usual values on the table."""
        ready = list(usual_values_to_propose(accord))
        actions.propose_usual_values(by=self.terminal, now=self.clock.tick(), accord=accord, keys=ready)

    def settle(self, accord: Accord) -> Accord:
        """Let the terminal settle it."""
        return actions.settle(by=self.terminal, now=self.clock.tick(), accord=accord)

    def sign(self, accord: Accord, *sides: Side) -> None:
        """Let sides sign what is settled."""
        for side in sides:
            accord.refresh_from_db()
            actions.sign(
                by=self.person(side),
                now=self.clock.tick(),
                accord=accord,
                secret=SECRET,
                title=self.person(side).title,
                seen_sha256=accord.payload_sha256,
                consents=True,
            )


def withdrawn(table: Table, assessment: Assessment) -> None:
    """Opened, talked over once, and withdrawn when the ship was sent elsewhere."""
    accord = table.open(
        assessment, PRODUCT_CONDITIONS, "Skarra Sound, North berth", 60, {PRESSURE: "9", HIGHEST: "2300", START: "400"}
    )
    table.propose(accord, Side.TERMINAL, PRESSURE, "8")
    table.accept(accord, HIGHEST)
    actions.withdraw(
        by=table.ship,
        now=table.clock.tick(),
        accord=accord,
        reason="The charterer sends her to Port Ellery instead; no discharge here.",
    )


def in_force(
    table: Table,
    assessment: Assessment,
    auditor: Organisation,
    *,
    in_hours: float = 82,
    holds_for_days: float | None = None,
) -> Accord:
    """Bargained over the pressure, answered, settled and signed by both; the auditor may read it."""
    accord = table.open(
        assessment,
        PRODUCT_CONDITIONS,
        "Port Ellery, Berth 1",
        in_hours,
        {PRESSURE: "9.5", HIGHEST: "2600", START: "450", CLOSING: "40"},
        holds_for_days,
    )
    table.propose(accord, Side.TERMINAL, PRESSURE, "9")
    table.propose(accord, Side.TERMINAL, CLOSING, "60")
    table.accept(accord, PRESSURE, HIGHEST, START, CLOSING)
    table.agree_the_rest(accord)
    table.answer(accord)
    table.settle(accord)
    table.sign(accord, Side.SHIP, Side.TERMINAL)
    actions.grant_audit(by=table.terminal, now=table.clock.tick(), accord=accord, organisation=auditor)
    return accord


def signed_by_the_ship(table: Table, assessment: Assessment) -> None:
    """Settled with its whole stay and signed by the ship; the terminal's signature is awaited."""
    accord = table.open(
        assessment,
        CRUDE_CONDITIONS,
        "Port Ellery, Crude jetty",
        38,
        {PRESSURE: "9", HIGHEST: "5000", START: "900", CLOSING: "60"},
    )
    table.propose(accord, Side.TERMINAL, START, "800")
    table.accept(accord, PRESSURE, HIGHEST, START, CLOSING)
    table.agree_the_rest(accord)
    actions.plan_stay(by=table.ship, now=table.clock.tick(), accord=accord, file=crude_stay(accord.case_file()))
    table.answer(accord)
    table.settle(accord)
    table.sign(accord, Side.SHIP)


def settled(table: Table, assessment: Assessment) -> None:
    """Settled; both signatures are awaited."""
    accord = table.open(
        assessment,
        PRODUCT_CONDITIONS,
        "Port Ellery, Berth 2",
        36,
        {PRESSURE: "7", HIGHEST: "880", START: "150", CLOSING: "30"},
    )
    table.accept(accord, PRESSURE, HIGHEST, START, CLOSING)
    table.agree_the_rest(accord)
    table.answer(accord)
    table.settle(accord)


def on_the_table(table: Table, assessment: Assessment) -> None:
    """Open proposals of both sides, a checklist answered in part, and conditions that nobody has stated yet."""
    accord = table.open(
        assessment,
        EARLY_CONDITIONS,
        "Skarra Sound, Sea island",
        54,
        {PRESSURE: "8.5", HIGHEST: "5000", START: "1000", CLOSING: "45"},
    )
    table.propose(accord, Side.TERMINAL, PRESSURE, "7.5")
    table.accept(accord, HIGHEST)
    table.propose_usual(accord)
    table.accept(accord, "main_channel", "reserve_channel", "language", "contact_test_min", "wind_stop_m_per_s")
    lying = accord.proposals.get(key="emergency_stop_s", status="open")
    actions.propose_value(
        by=table.ship,
        now=table.clock.tick(),
        accord=accord,
        key=lying.key,
        value=Decimal(45),
        typed="45 s",
        seen=lying.pk,
    )
    table.answer(accord, sides=(Side.SHIP,), most=14)
    table.answer(accord, sides=(Side.TERMINAL,), most=6)
