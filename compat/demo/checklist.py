"""What the two sides of the demo scenario answer to the checklist. Names, numbers and channels are invented."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property

from compat.accord.checklist.conditions import TransferConditions
from compat.accord.checklist.item import AskedValue, Item, Side
from compat.accord.models import Accord

PRODUCT_CONDITIONS = TransferConditions(
    crude=False,
    volatile=False,
    static_accumulator=True,
    inerted=True,
    vapour_return=False,
    hydrogen_sulphide=False,
    benzene=False,
    crude_oil_washing=False,
    night=True,
    pump_room=False,
    notice_required=False,
)
CRUDE_CONDITIONS = TransferConditions(
    crude=True,
    volatile=True,
    static_accumulator=False,
    inerted=True,
    vapour_return=False,
    hydrogen_sulphide=True,
    benzene=True,
    crude_oil_washing=True,
    night=True,
    pump_room=True,
    notice_required=True,
)
EARLY_CONDITIONS = TransferConditions(crude=True, volatile=True, inerted=True, pump_room=True)

# By the key of what is asked; where both sides give it, by key and side.
_TEXTS: Mapping[str, str] = {
    "faults": "none",
    "manifold_flange": "16 in, class 150",
    "contact": "Spill response desk, name in the plan on board",
    "pumps": "3",
    "oxygen_percent": "3.8",
    "highest_oxygen_percent": "5.2",
    "lowest_pressure_mbar": "55",
    "least_depth_m": "16.4",
    "water_density_kg_per_m3": "1022",
    "mooring_lines": "14",
    "lowest_rating_bar": "16",
    "notice_h": "24",
    "highest_wind_m_per_s": "17",
    "least_margin_m": "1.5",
    "time_to_leave_min": "40",
    "tugs": "2",
    "security_level": "1 and 1",
    "fire_main_min": "2",
    "smoking_places": "Officers' smoke room only",
    "hot_work_distance_m": "50",
    "sequence": "Centre tanks, then wings from forward, as in the discharge plan of today",
    "to_be_seen": "Cargo seen at the shore tank, manifold and shore pressures steady, no leak at any joint",
    "measured_at": "Ship's manifold gauge",
    "closing_ship_s": "60",
    "closing_shore_s": "60",
    "pressure_relief_mbar": "140",
    "vacuum_relief_mbar": "-35",
    "lowest_mbar": "20",
    "highest_mbar": "110",
    "narrowest_branch_mm": "250",
    "start_rate_per_tank_m3_per_h": "170",
    "bulk_velocity_m_per_s": "6",
    "tanks": "Centre 2 and centre 4",
    "machine_pressure_bar": "9",
    "extra_time_h": "3",
    "posts": "Control room, deck, manifold",
    "rules": "Port by-laws, terminal manual, ship's safety management system; the strictest holds",
    "signals": "Ship: continuous horn. Shore: siren of the terminal",
    "muster_points": "Ship: poop. Shore: jetty head",
    "telephone": "As on the card at both manifolds",
    "boom_min": "45",
    "alarm_ppm": "5",
    "medium": "Ship's lines drained to shore; arms drained inboard",
    "bolts_per_flange": "16",
    "marked_pressure_bar": "10",
    "alarm_tested": "yes",
    "resistance_ohm": "120000",
    "tray_litres": "3200",
    "seals": "Numbers in the deck log",
    "deployment_min": "45",
    "boom_set": "no",
    "closing_s": "32",
    "connection_lux": "60",
    "work_area_lux": "20",
    "setting_percent": "95",
    "gas_percent_lfl": "0",
    "value": "9",
}
_BY_SIDE: Mapping[tuple[str, Side], str] = {
    ("person_in_charge", Side.SHIP): "Chief Officer on watch",
    ("person_in_charge", Side.TERMINAL): "Loading Master on shift",
    ("at_rest_bar", Side.SHIP): "1.5",
    ("at_rest_bar", Side.TERMINAL): "1.4",
}
_TESTED_AGO = timedelta(days=140)


@dataclass(frozen=True)
class Answers:
    """The answers to one accord's checklist, with the figures of its own case."""

    accord: Accord

    def values(self, item: Item, side: Side, now: datetime) -> dict[str, str]:
        """Return the values that a side gives with its answer: all that are required, others where there is one."""
        given: dict[str, str] = {}
        for asked in item.asked:
            text = (
                self._own.get(asked.key)
                or _BY_SIDE.get((asked.key, side))
                or _TEXTS.get(asked.key)
                or _moment(asked, now)
            )
            if text and _fits(asked, text):
                given[asked.key] = text
        return given

    @cached_property
    def _own(self) -> dict[str, str]:
        """Return what the case itself says."""
        case = self.accord.case_file()
        quantity, density = case.cargo.quantity_m3 or 0.0, case.cargo.density_kg_per_m3 or 0.0
        running = sum(state.running for state in case.operation.pumps)
        speeds = [pump.greatest_speed_rpm for pump in case.ship.pumps]
        inert = case.ship.inert_gas_delivery_m3_per_h
        found = {
            "product": case.cargo.name,
            "quantity_m3": f"{quantity:.0f}",
            "quantity_t": f"{quantity * density / 1000:.0f}",
            "parcel_m3": f"{quantity:.0f}",
            "free_volume_m3": f"{quantity * 1.15:.0f}",
            "margin_m3": f"{quantity * 0.05:.0f}",
            "pumps": f"{running}",
            "speed_ceiling_rpm": f"{max(speeds):.0f}",
            "viscosity_mm2_per_s": f"{case.cargo.kinematic_viscosity_mm2_per_s:g}",
            "vapour_pressure_kpa_abs": f"{case.cargo.vapour_pressure_kpa_abs:g}",
            "manifold_height_m": f"{case.ship.manifold.elevation_m:g}",
        }
        return found | ({"delivery_m3_per_h": f"{inert:.0f}"} if inert else {})


def _moment(asked: AskedValue, now: datetime) -> str:
    if asked.kind == "date":
        return (now - _TESTED_AGO).date().isoformat()
    if asked.kind == "moment":
        return (now - timedelta(hours=5)).isoformat(timespec="minutes")
    return ""


def _fits(asked: AskedValue, text: str) -> bool:
    """One key may be asked for as a number in one item and in words in another."""
    return asked.kind != "agreed" and (asked.kind != "number" or text.removeprefix("-").replace(".", "", 1).isdigit())
