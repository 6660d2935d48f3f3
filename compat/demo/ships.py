"""Three invented tankers. Names and IMO numbers belong to no real ship; the figures are of a usual kind for their size.

Elevations count from the keel. Curves have the shape of a test sheet: head falls with flow, NPSH required rises.
"""

from __future__ import annotations

from typing import Any

from compat.demo.berthing import SHIPS
from vessels.facts import ShipFacts

Document = dict[str, Any]


def _segment(name: str, length_m: float, bore_mm: float, losses: float) -> Document:
    return {
        "name": name,
        "length_m": length_m,
        "bore_mm": bore_mm,
        "roughness_mm": 0.1,
        "loss_coefficient": losses,
    }


def _points(*rows: tuple[float, float, float, float | None]) -> list[Document]:
    """Points as flow in m³/h, head in m, NPSH required in m, efficiency in % (none at no flow)."""
    keys = ("flow_m3_per_h", "head_m", "npsh_required_m", "efficiency_percent")
    return [{key: value for key, value in zip(keys, row, strict=True) if value is not None} for row in rows]


def _surge(wall_mm: float, law: str, closing_s: float) -> Document:
    """Wall of the common line, whose bends leave it free, and the hydraulic manifold valves as they are set."""
    return {
        "common_line_wall": {"wall_thickness_mm": wall_mm, "material": "carbon steel", "restraint": "expansion joints"},
        "manifold_valve": {"law": law, "closing_time_s": closing_s},
    }


def small_product_tanker() -> ShipFacts:
    """About 8,000 t deadweight: four deepwell pumps with electric motors of variable speed."""
    pump = {
        "drive": "electric motor, variable speed",
        "curves": [
            {
                "speed_rpm": 1780.0,
                "points": _points(
                    (0.0, 124.0, 2.2, None),
                    (100.0, 122.5, 2.3, 48.0),
                    (200.0, 117.5, 2.7, 68.0),
                    (300.0, 108.0, 3.4, 75.0),
                    (360.0, 100.0, 4.2, 73.0),
                    (420.0, 89.5, 5.4, 67.0),
                ),
            }
        ],
        "rated_flow_m3_per_h": 300.0,
        "least_continuous_flow_m3_per_h": 60.0,
        "least_speed_rpm": 900.0,
        "greatest_speed_rpm": 1780.0,
        "elevation_m": 1.5,
        "suction_line": [_segment("Suction well", 0.4, 300.0, 0.6)],
        "discharge_line": [_segment("Riser and drop valve", 26.0, 200.0, 3.2)],
    }
    sides = ("1 port", "1 starboard", "2 port", "2 starboard")
    return ShipFacts.model_validate(
        {
            "name": "Calder Wren",
            "berthing": SHIPS["Calder Wren"],
            "imo_number": "9999955",
            "particulars": {
                "length_overall_m": 118.4,
                "beam_m": 19.0,
                "summer_draught_m": 7.45,
                "summer_deadweight_t": 8_150.0,
                "year_built": 2016,
            },
            "pumps": [
                {"key": f"P{number}", "name": f"Cargo pump {side}", **pump}
                for number, side in enumerate(sides, start=1)
            ],
            "common_line": [_segment("Deck line to manifold", 42.0, 350.0, 2.6)],
            "ship_line_velocity_limit_m_per_s": 7.0,
            "manifold": {
                "flange": "class 150",
                "elevation_m": 11.6,
                "rating_bar_gauge": 14.0,
                "bore_mm": 200.0,
                "connections": 4,
            },
            "cargo_tanks": {"bottom_elevation_m": 1.2, "top_elevation_m": 9.7},
            "inert_gas_delivery_m3_per_h": 1_600.0,
            "source": "Pump test sheets and piping drawings of the builder",
        }
    )


def medium_range_product_tanker() -> ShipFacts:
    """About 50,000 t deadweight: ten hydraulic deepwell pumps, one in each cargo tank."""
    pump = {
        "drive": "hydraulic",
        "curves": [
            {
                "speed_rpm": 1900.0,
                "points": _points(
                    (0.0, 141.0, 2.6, None),
                    (200.0, 139.0, 2.8, 50.0),
                    (400.0, 132.0, 3.4, 70.0),
                    (600.0, 120.0, 4.6, 76.0),
                    (700.0, 112.0, 5.6, 75.0),
                ),
            }
        ],
        "rated_flow_m3_per_h": 600.0,
        "least_continuous_flow_m3_per_h": 120.0,
        "least_speed_rpm": 1000.0,
        "greatest_speed_rpm": 1900.0,
        "elevation_m": 2.3,
        "moment_of_inertia_kg_m2": 6.5,
        "suction_line": [_segment("Suction well", 0.5, 400.0, 0.6)],
        "discharge_line": [_segment("Riser, valve and tank branch", 38.0, 250.0, 3.4)],
    }
    tanks = [f"{number} {side}" for number in range(1, 6) for side in ("port", "starboard")]
    return ShipFacts.model_validate(
        {
            "name": "Calder Linnet",
            "berthing": SHIPS["Calder Linnet"],
            "imo_number": "9999979",
            "particulars": {
                "length_overall_m": 183.2,
                "beam_m": 32.2,
                "summer_draught_m": 13.1,
                "summer_deadweight_t": 49_800.0,
                "year_built": 2019,
            },
            "pumps": [
                {"key": f"P{number}", "name": f"Cargo pump {tank}", **pump}
                for number, tank in enumerate(tanks, start=1)
            ],
            "common_line": [_segment("Deck line to manifold", 88.0, 500.0, 3.0)],
            "ship_line_velocity_limit_m_per_s": 7.0,
            "manifold": {
                "flange": "class 150",
                "elevation_m": 21.0,
                "rating_bar_gauge": 15.0,
                "bore_mm": 300.0,
                "connections": 6,
            },
            "cargo_tanks": {"bottom_elevation_m": 2.0, "top_elevation_m": 18.6},
            "inert_gas_delivery_m3_per_h": 4_500.0,
            "surge": _surge(9.5, "butterfly", 28.0),
            "source": "Pump test sheets, hydraulic plant manual, piping drawings",
        }
    )


def crude_tanker() -> ShipFacts:
    """About 113,000 t deadweight: a pump room with three turbine-driven centrifugal pumps."""
    pump = {
        "drive": "steam turbine",
        "curves": [
            {
                "speed_rpm": 1350.0,
                "points": _points(
                    (0.0, 158.0, 3.2, None),
                    (700.0, 156.5, 3.3, 42.0),
                    (1400.0, 151.5, 3.7, 68.0),
                    (2100.0, 142.5, 4.5, 81.0),
                    (2800.0, 130.0, 6.0, 84.0),
                    (3300.0, 118.0, 7.6, 81.0),
                ),
            },
            {
                "speed_rpm": 1100.0,
                "points": _points(
                    (0.0, 104.8, 2.2, None),
                    (600.0, 103.6, 2.3, 43.0),
                    (1200.0, 100.0, 2.6, 69.0),
                    (1800.0, 93.6, 3.2, 82.0),
                    (2300.0, 85.9, 4.1, 84.0),
                ),
            },
        ],
        "rated_flow_m3_per_h": 2800.0,
        "least_continuous_flow_m3_per_h": 600.0,
        "least_speed_rpm": 750.0,
        "greatest_speed_rpm": 1350.0,
        "elevation_m": 2.9,
        "moment_of_inertia_kg_m2": 190.0,
    }
    # The outer pumps draw through longer lines than the one on the centreline.
    lengths = {
        "P1": ("No. 1 cargo pump", 92.0, 46.0),
        "P2": ("No. 2 cargo pump", 84.0, 42.0),
        "P3": ("No. 3 cargo pump", 92.0, 46.0),
    }
    return ShipFacts.model_validate(
        {
            "name": "Brannoch Skerry",
            "berthing": SHIPS["Brannoch Skerry"],
            "imo_number": "9999993",
            "particulars": {
                "length_overall_m": 249.8,
                "beam_m": 44.0,
                "summer_draught_m": 14.9,
                "summer_deadweight_t": 113_400.0,
                "year_built": 2012,
            },
            "pumps": [
                {
                    "key": key,
                    "name": name,
                    **pump,
                    "suction_line": [_segment("Bottom line and strainer", suction_m, 600.0, 3.4)],
                    "discharge_line": [_segment("Riser and deck line", riser_m, 500.0, 4.2)],
                }
                for key, (name, suction_m, riser_m) in lengths.items()
            ],
            "common_line": [_segment("Manifold crossover", 26.0, 700.0, 1.8)],
            "ship_line_velocity_limit_m_per_s": 7.0,
            "manifold": {
                "flange": "class 150",
                "elevation_m": 23.2,
                "rating_bar_gauge": 16.0,
                "bore_mm": 400.0,
                "connections": 4,
            },
            "cargo_tanks": {"bottom_elevation_m": 2.5, "top_elevation_m": 21.0},
            "inert_gas_delivery_m3_per_h": 10_500.0,
            "surge": _surge(12.7, "butterfly", 32.0),
            "source": "Pump test sheets of 2012, checked at the last docking",
        }
    )
