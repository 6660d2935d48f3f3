"""Pressure, rates and pumps: what the engine works with (pure data)."""

from __future__ import annotations

from compat.accord.checklist.conditions import DISCHARGING
from compat.accord.value_kinds import Group, ValueDefinition
from compat.accord.value_table.making import agreed, as_own_limit, number, run_pumps, text
from vessels.facts import MOST_PUMPS

AGREED_BULK = "Agreed bulk rate"
AGREED_SPEED = "Agreed highest pump speed"

RATES: tuple[ValueDefinition, ...] = (
    agreed(
        "manifold_pressure_bar_gauge",
        "Highest manifold pressure",
        "pressure",
        "bar",
        "The pressure that the ship's manifold gauge must not pass while the pumps run.",
        gauge=True,
        needed=True,
        at_a_glance=True,
    ),
    agreed(
        "highest_rate_m3_per_h",
        "Highest rate",
        "flow",
        "m³/h",
        "The rate that must not be passed at any time of the transfer.",
        needed=True,
        at_a_glance=True,
    ),
    agreed(
        "start_rate_m3_per_h",
        "Start rate",
        "flow",
        "m³/h",
        "The rate to hold until both sides have seen that the oil goes where it should and nothing leaks.",
        needed=True,
        at_a_glance=True,
    ),
    number(
        "bulk_rate_m3_per_h",
        "Bulk rate",
        "flow",
        "m³/h",
        "0.1",
        100_000,
        "The rate to hold once the start is over. Speeds and gauge readings are worked out for it.",
        Group.RATES,
        needed=True,
        at_a_glance=True,
        state_in_case=as_own_limit(AGREED_BULK, "rate_m3_per_h"),
    ),
    number(
        "stripping_rate_m3_per_h",
        "Stripping rate",
        "flow",
        "m³/h",
        "0.1",
        100_000,
        "The rate that must not be passed while tanks are stripped.",
        Group.RATES,
        applies_when=DISCHARGING,
    ),
    number(
        "topping_rate_m3_per_h",
        "Topping-off rate",
        "flow",
        "m³/h",
        "0.1",
        100_000,
        "The rate that must not be passed while the last of a receiving tank is filled.",
        Group.RATES,
    ),
    number(
        "slow_step_warning_min",
        "Warning before a slow step",
        "time",
        "min",
        1,
        240,
        "How long before topping off, stripping, washing or a change of tank the other side is told.",
        Group.RATES,
        needed=True,
    ),
    number(
        "least_pressure_bar_gauge",
        "Least manifold pressure",
        "pressure",
        "bar",
        0,
        400,
        "The pressure that the manifold gauge must not fall below in bulk, where shore boosters need it.",
        Group.RATES,
        gauge=True,
    ),
)

PUMPS: tuple[ValueDefinition, ...] = (
    number(
        "pumps_in_bulk",
        "Pumps in bulk",
        "number",
        "1",
        1,
        MOST_PUMPS,
        "How many cargo pumps run in bulk. The answer lets the pumps run that the assessment named first.",
        Group.PUMPS,
        whole=True,
        needed=True,
        applies_when=DISCHARGING,
        state_in_case=run_pumps,
    ),
    number(
        "pumps_at_start",
        "Pumps at the start",
        "number",
        "1",
        1,
        MOST_PUMPS,
        "How many cargo pumps run while the start rate is held.",
        Group.PUMPS,
        whole=True,
        applies_when=DISCHARGING,
    ),
    number(
        "highest_speed_rpm",
        "Highest pump speed",
        "speed",
        "rpm",
        1,
        20_000,
        "The speed that no cargo pump must pass.",
        Group.PUMPS,
        needed=True,
        applies_when=DISCHARGING,
        state_in_case=as_own_limit(AGREED_SPEED, "speed_rpm"),
    ),
    text(
        "pumps_by_stage",
        "Pumps by stage",
        "Which pumps run when: start, bulk, stripping; and in what order they are started and stopped.",
        Group.PUMPS,
        applies_when=DISCHARGING,
    ),
)
