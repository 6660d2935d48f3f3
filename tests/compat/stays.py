"""Stays to be worked out: box tanks, invented ship and berth, a tide; everything can be changed by the test."""

from __future__ import annotations

from typing import Any

from tests.builders import case_document, pump_facts, ship_facts

Document = dict[str, Any]
BOX_AREA_M2 = 250.0


def box_table(height_m: float = 17.0, area_m2: float = BOX_AREA_M2) -> list[Document]:
    """A box, in two lines."""
    return [{"level_m": 0.0, "volume_m3": 0.0}, {"level_m": height_m, "volume_m3": height_m * area_m2}]


def cargo_tank(key: str, level_m: float = 15.0, **changes: Any) -> Document:
    """A box over the inner bottom."""
    stated: Document = {
        "key": key,
        "zero_elevation_m": 2.1,
        "reference_height_m": 18.0,
        "table": box_table(),
        "level_m": level_m,
        "pumps_off_below_m": 1.0,
        "residue_m3": 5.0,
    }
    return {**stated, **changes}


def shore_tank(key: str = "T1", area_m2: float = 2400.0, **changes: Any) -> Document:
    """A wide tank ashore, half a metre filled."""
    stated: Document = {
        "key": key,
        "zero_elevation_m": 8.0,
        "table": box_table(20.0, area_m2),
        "level_m": 2.0,
    }
    return {**stated, **changes}


def tide(hours: float = 60.0) -> list[Document]:
    """Low and high waters every 6.2 hours."""
    count = int(hours / 6.2) + 2
    return [{"at_h": -3.1 + 6.2 * i, "height_m": (0.8, 4.4)[i % 2]} for i in range(count)]


def floating_water(**changes: Any) -> Document:
    """A ship of 60 t/cm at 12 m in sea water, on a tide."""
    stated: Document = {
        "density_kg_per_m3": 1025.0,
        "draught_m": 12.0,
        "trim_m": 0.0,
        "freeboard_deck_m": 18.0,
        "draughts": [
            {"draught_m": 5.0, "immersion_t_per_cm": 48.0},
            {"draught_m": 9.0, "immersion_t_per_cm": 50.0},
            {"draught_m": 13.0, "immersion_t_per_cm": 52.0},
        ],
        "tide": tide(),
        "least_under_keel_m": 0.6,
        "least_manifold_elevation_m": 6.0,
        "greatest_manifold_elevation_m": 22.0,
    }
    return {**stated, **changes}


def stay_document(**changes: Any) -> Document:
    """Two pumps, each with three tanks of its own, to one shore tank."""
    case = case_document(ship=ship_facts(pumps=[pump_facts("P1"), pump_facts("P2"), stripping_pump()]))
    case["berth"]["size"]["depth_below_zero_m"] = 14.0
    case["agreed"] = {"manifold_pressure_bar_gauge": 8.0, "start_rate_m3_per_h": 500.0}
    stated: Document = {
        "format": "berth-accord-stay/1",
        "title": "Astrid Halvard at the Outer berth",
        "case": case,
        "cargo_tanks": [cargo_tank(f"{row}{side}") for row in (1, 2, 3) for side in "PS"],
        "draws": [
            {"pumps": ["P1"], "tanks": ["1P", "1S", "2P"]},
            {"pumps": ["P2"], "tanks": ["2S", "3P", "3S"]},
        ],
        "shore_tanks": [shore_tank()],
        "water": floating_water(),
        "stages": {"stripping": {"pump": "S1", "rate_m3_per_h": 150.0}, "line_clearing_h": 0.5},
    }
    return {**stated, **changes}


def twelve_tank_stay() -> Document:
    """Twelve tanks in three draws, three pumps at one common speed, two shore tanks, a tide."""
    stated = stay_document()
    first = stated["case"]["ship"]["pumps"][0]
    stated["case"]["ship"]["pumps"] = [first | {"key": f"P{n}", "name": f"Cargo pump P{n}"} for n in (1, 2, 3)]
    stated["case"]["operation"]["pumps"] = [
        {"pump": f"P{n}", "running": True, "tank_surface_elevation_m": 12.0, "tank_gas_pressure_bar_gauge": 0.05}
        for n in (1, 2, 3)
    ]
    stated["case"]["agreed"] = {"manifold_pressure_bar_gauge": 3.1, "start_rate_m3_per_h": 500.0}
    keys = [f"{row}{side}" for row in range(1, 7) for side in "PS"]
    stated["cargo_tanks"] = [cargo_tank(key, 14.5 + 0.1 * number) for number, key in enumerate(keys)]
    stated["draws"] = [{"pumps": [f"P{n + 1}"], "tanks": keys[n::3]} for n in range(3)]
    stated["shore_tanks"] = [shore_tank("T1", 4000.0, full_at_m3=30_000.0), shore_tank("T2", 4000.0)]
    stated["water"] = floating_water(
        tide=tide(90.0),
        draughts=[{"draught_m": 4.0, "immersion_t_per_cm": 60.0}, {"draught_m": 13.0, "immersion_t_per_cm": 66.0}],
    )
    stated["stages"] = {"stripping": {"rate_m3_per_h": 400.0}, "line_clearing_h": 0.5}
    return stated


def stripping_pump(key: str = "S1") -> Document:
    """A displacing pump that gives a little less against more head."""
    curve = {
        "speed_rpm": 60.0,
        "points": [
            {"flow_m3_per_h": 120.0, "head_m": 160.0},
            {"flow_m3_per_h": 180.0, "head_m": 80.0},
            {"flow_m3_per_h": 200.0, "head_m": 10.0},
        ],
    }
    return {
        "key": key,
        "name": "Stripping pump",
        "kind": "positive displacement",
        "curves": [curve],
        "least_speed_rpm": 20.0,
        "greatest_speed_rpm": 60.0,
        "elevation_m": 2.0,
    }
