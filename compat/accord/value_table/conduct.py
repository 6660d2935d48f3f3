"""How the transfer is conducted: stops, contact, watch, weather, gauging, units (pure data).

Choices and actions are common practice, no source.
"""

from __future__ import annotations

from typing import Any

from compat.accord.checklist.conditions import BENZENE, HYDROGEN_SULPHIDE, STATIC, VAPOUR_RETURN
from compat.accord.value_kinds import ChoiceValue, Group, NumberValue, ValueDefinition
from compat.accord.value_table.making import agreed, choice, number, text
from shared.quantities import CHOICES

WEATHER_ACTIONS = (
    "stop pumping",
    "stop pumping and drain the arms or hoses",
    "stop pumping, drain and disconnect",
    "stop, drain, disconnect and leave the berth",
)

STOPPING: tuple[ValueDefinition, ...] = (
    number(
        "notice_before_change_min",
        "Notice before a change",
        "time",
        "min",
        0,
        240,
        "How long before a change of rate, pump, tank or line, or a normal stop, the other side is told.",
        Group.STOPPING,
        needed=True,
    ),
    text(
        "normal_stop_means",
        "Normal stop: how it is called and done",
        "Who calls it, by what words or signal, and in what order pumps and valves stop.",
        Group.STOPPING,
        needed=True,
    ),
    number(
        "normal_stop_min",
        "Normal stop: time until nothing flows",
        "time",
        "min",
        "0.1",
        120,
        "From the call to no flow.",
        Group.STOPPING,
        needed=True,
    ),
    number(
        "volume_after_call_m3",
        "Normal stop: volume after the call",
        "volume",
        "m³",
        0,
        50_000,
        "What still flows after a normal stop was called; the receiving tank keeps room for it.",
        Group.STOPPING,
    ),
    text(
        "emergency_stop_means",
        "Emergency stop: signal and means",
        "Who may call it (anyone who sees danger), by what signal, and what each side then shuts.",
        Group.STOPPING,
        needed=True,
    ),
    number(
        "emergency_stop_s",
        "Emergency stop: time until nothing flows",
        "time",
        "s",
        1,
        600,
        "From the call to no flow. A shorter closing time makes a higher surge.",
        Group.STOPPING,
        needed=True,
        note=(
            "33 CFR 154.550(c), where it applies: within 60 s at a facility first used for oil on or before 1 November"
            " 1980, within 30 s at a later one."
        ),
    ),
    agreed(
        "closing_time_s",
        "Closing time of valves",
        "time",
        "s",
        "No valve of ship or terminal shuts quicker than this, from the order to shut until it is shut.",
        group=Group.STOPPING,
        needed=True,
        at_a_glance=True,
        note="Held against the ratings of the whole line by the surge that it makes, where these are stated.",
    ),
    text(
        "planned_stops",
        "Planned stops",
        "Which stops are planned, for what, at whose call, and about how long each takes; or “none”.",
        Group.STOPPING,
        needed=True,
    ),
    choice(
        "while_stopped",
        "How the line stands while stopped",
        (
            "manifold valves shut, lines full",
            "manifold and shore valves shut, lines full",
            "valves shut, arms or hoses drained",
            "valves shut, lines drained",
        ),
        "How valves and lines are left during a stop.",
        Group.STOPPING,
        needed=True,
    ),
    number(
        "stop_before_checks_min",
        "Stop after which both say ready again",
        "time",
        "min",
        0,
        1440,
        "After a stop longer than this, both persons in charge go over the checks and say ready again.",
        Group.STOPPING,
        needed=True,
    ),
)

COMMUNICATION: tuple[ValueDefinition, ...] = (
    text("main_channel", "Main channel", "Channel or telephone, and call names.", Group.COMMUNICATION, needed=True),
    text(
        "reserve_channel",
        "Reserve channel",
        "What is used when the main channel fails.",
        Group.COMMUNICATION,
        needed=True,
    ),
    text("language", "Language", "The language of all calls.", Group.COMMUNICATION, needed=True),
    number(
        "contact_test_min",
        "Test of contact, every",
        "time",
        "min",
        1,
        240,
        "How often ship and shore call each other to prove the link.",
        Group.COMMUNICATION,
        needed=True,
    ),
    choice(
        "contact_lost",
        "When contact is lost",
        (
            "emergency stop at once",
            "normal stop at once",
            "normal stop if the reserve channel fails too",
        ),
        "What both sides do without further word.",
        Group.COMMUNICATION,
        needed=True,
        note="33 CFR 156.120(q), 154.560, where they apply: contact is continuous.",
    ),
)

WATCH: tuple[ValueDefinition, ...] = (
    text(
        "watch_on_board",
        "Watch on board",
        "Who stands where on the ship: control room, deck, manifold; at least how many.",
        Group.WATCH,
        needed=True,
    ),
    text("watch_ashore", "Watch ashore", "Who stands where ashore: jetty, control room.", Group.WATCH, needed=True),
    text(
        "watch_changes",
        "Watch changes",
        "When the watches of each side change, with the zone of the times.",
        Group.WATCH,
        needed=True,
    ),
    choice(
        "handover",
        "Handover",
        (
            "at the post, rate held steady, in writing, and told to the other side",
            "at the post, in writing, and told to the other side",
            "only between stages, at the post and in writing",
        ),
        "How one person in charge takes over from another. The one who takes over signs.",
        Group.WATCH,
        needed=True,
    ),
)


def _wind(key: str, label: str, meaning: str, *, needed: bool = False) -> NumberValue:
    return number(key, label, "velocity", "m/s", 1, 60, meaning, Group.WEATHER, needed=needed)


def _action(key: str, label: str, **more: Any) -> ChoiceValue:
    return choice(key, label, WEATHER_ACTIONS, "What both sides then do.", Group.WEATHER, **more)


WEATHER: tuple[ValueDefinition, ...] = (
    _wind("wind_stop_m_per_s", "Wind: stop pumping", "Mean wind at which pumping stops.", needed=True),
    _wind("wind_drain_m_per_s", "Wind: drain arms or hoses", "Mean wind at which arms or hoses are drained."),
    _wind("wind_disconnect_m_per_s", "Wind: disconnect", "Mean wind at which the ship is disconnected.", needed=True),
    number("wave_m", "Wave height", "length", "m", 0, 10, "Height at which the ship and shore act.", Group.WEATHER),
    _action("wave_action", "Wave height: what is done", needed_with="wave_m"),
    number(
        "current_m_per_s", "Current", "velocity", "m/s", 0, 6, "Current at which ship and shore act.", Group.WEATHER
    ),
    _action("current_action", "Current: what is done", needed_with="current_m_per_s"),
    number(
        "lightning_km",
        "Thunderstorm: distance",
        "length",
        "km",
        1,
        50,
        "Distance of lightning at which ship and shore act.",
        Group.WEATHER,
        needed=True,
    ),
    _action("lightning_action", "Thunderstorm: what is done", needed=True),
)

_VAPOUR_OR_STATIC = STATIC | VAPOUR_RETURN | HYDROGEN_SULPHIDE | BENZENE

SAMPLING: tuple[ValueDefinition, ...] = (
    choice(
        "gauging_method",
        "Gauging",
        ("closed", "restricted", "open"),
        "How tank levels and temperatures are taken.",
        Group.SAMPLING,
        needed=True,
    ),
    text(
        "sampling",
        "Sampling",
        "Who samples what, where, when and how; how many samples, who keeps them.",
        Group.SAMPLING,
        needed=True,
    ),
    number(
        "gauging_wait_min",
        "Wait before anything is lowered into a tank",
        "time",
        "min",
        0,
        600,
        "From the end of flow into the tank.",
        Group.SAMPLING,
        needed=True,
        applies_when=_VAPOUR_OR_STATIC,
        note="46 CFR 39.3001(f)(4): 30 min for a liquid that holds charge, in a tank that is not inert.",
    ),
)


def _units(key: str, label: str, choices: tuple[str, ...]) -> ChoiceValue:
    return choice(key, label, choices, "What both sides say and write to each other.", Group.UNITS, needed=True)


USED_UNITS: tuple[ValueDefinition, ...] = (
    _units("unit_of_pressure", "Pressure in", CHOICES["pressure"]),
    _units("unit_of_rate", "Rate in", ("m³/h", "bbl/h", "t/h")),
    _units("unit_of_quantity", "Quantity in", ("m³ at observed temperature", "m³ at 15 °C", "t", "bbl at 60 °F")),
    _units("unit_of_temperature", "Temperature in", CHOICES["temperature"]),
)
