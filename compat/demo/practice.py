"""What the terminals of the demo scenario prepare: usual values, and checklist items of their own. All invented."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from compat.accord import actions
from compat.accord.checklist.item import Phase
from compat.accord.checklist.own_items import OwnItem
from compat.accord.value_kinds import Given
from compat.demo.clock import Clock
from shared.models import Person
from terminals.models import Terminal

USUAL: Mapping[str, Given] = {
    "slow_step_warning_min": Decimal(15),
    "notice_before_change_min": Decimal(15),
    "normal_stop_means": "Called on the main channel; ship stops pumps, then both sides shut, ship first",
    "normal_stop_min": Decimal(10),
    "volume_after_call_m3": Decimal(60),
    "emergency_stop_means": "Anyone: “stop, stop, stop” on the main channel, and the horn; pumps trip, valves shut",
    "emergency_stop_s": Decimal(60),
    "planned_stops": "none",
    "while_stopped": "manifold and shore valves shut, lines full",
    "stop_before_checks_min": Decimal(30),
    "main_channel": "VHF 74, call names ship and jetty",
    "reserve_channel": "VHF 77; then the jetty telephone",
    "language": "English",
    "contact_test_min": Decimal(60),
    "contact_lost": "normal stop if the reserve channel fails too",
    "watch_on_board": "One in the cargo control room, one on deck at the manifold, at all times",
    "watch_ashore": "One on the jetty, one in the terminal's control room, at all times",
    "watch_changes": "Ship 00, 04, 08, 12, 16, 20; shore 06, 14, 22; all UTC",
    "handover": "at the post, rate held steady, in writing, and told to the other side",
    "wind_stop_m_per_s": Decimal(18),
    "wind_drain_m_per_s": Decimal(20),
    "wind_disconnect_m_per_s": Decimal(22),
    "wave_m": Decimal("1.5"),
    "wave_action": "stop pumping, drain and disconnect",
    "lightning_km": Decimal(8),
    "lightning_action": "stop pumping",
    "gauging_method": "closed",
    "sampling": "One sample at the ship's manifold in each third, by the surveyor; both sides keep one each",
    "gauging_wait_min": Decimal(30),
    "unit_of_pressure": "bar",
    "unit_of_rate": "m³/h",
    "unit_of_quantity": "m³ at 15 °C",
    "unit_of_temperature": "°C",
}
ZONES = {"Port Ellery Oil Terminal": "Europe/London", "Skarra Point Terminal": "Europe/Oslo"}
OWN_ITEMS = (
    OwnItem(
        key="jetty-fire-monitor",
        phase=Phase.WALK_ROUND,
        statement="The jetty's fire monitor was turned and its valve opened and shut this shift.",
        answered_by="terminal",
        source="jetty manual, section 6",
        asks="Water pressure",
        asks_kind="number",
        asks_unit="bar",
        each_watch=True,
    ),
    OwnItem(
        key="gangway-watch",
        phase=Phase.AFTER_MOORING,
        statement="The ship keeps a gangway watch with a list of everybody on board, and shows it on request.",
        answered_by="ship",
        source="jetty manual, section 3",
    ),
)


def prepare(terminal: Terminal, *, by: Person, clock: Clock) -> None:
    """Keep the usual values and own items of a terminal."""
    practice = actions.keep_usual_values(by=by, now=clock.tick(), terminal=terminal, started_from=0, values=USUAL)
    for item in OWN_ITEMS:
        practice = actions.keep_own_item(
            by=by, now=clock.tick(), terminal=terminal, started_from=practice.number, item=item
        )
