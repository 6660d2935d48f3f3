"""Two invented terminals with five berths. No place, line or rating here belongs to a real one.

Elevations count from chart datum. Ratings follow flanges of class 150 in carbon steel, about 19 bar at ambient
temperature (ASME B16.5, from memory), where a line carries no lower one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from compat.demo.berthing import BERTHS
from terminals.facts import BerthFacts

Document = dict[str, Any]


@dataclass(frozen=True)
class DemoBerth:
    """One berth of the demo scenario and whether its terminal shows its shore line to ships."""

    facts: BerthFacts
    line_data_shared: bool


def _arm(name: str, count: int, bore_mm: float, **more: Any) -> Document:
    arm = {
        "name": name,
        "kind": "arm",
        "flange": "class 150",
        "count": count,
        "length_m": 24.0,
        "bore_mm": bore_mm,
        "roughness_mm": 0.05,
        "loss_coefficient": 3.0,
        "rating_bar_gauge": 19.0,
        "velocity_limit_m_per_s": 12.0,
    }
    return {key: value for key, value in {**arm, **more}.items() if value is not None}


def _run(name: str, length_m: float, bore_mm: float, losses: float, end_elevation_m: float, **more: Any) -> Document:
    run = {
        "name": name,
        "length_m": length_m,
        "bore_mm": bore_mm,
        "roughness_mm": 0.1,
        "loss_coefficient": losses,
        "end_elevation_m": end_elevation_m,
        "rating_bar_gauge": 19.0,
        "velocity_limit_m_per_s": 7.0,
    }
    return {key: value for key, value in {**run, **more}.items() if value is not None}


def _walls(walls_mm: Mapping[str, float]) -> list[Document]:
    """Walls of steel runs by name, as drawn; arms are free at their joints, lines ashore are anchored."""
    return [
        {
            "run": run,
            "wall_thickness_mm": wall_mm,
            "material": "carbon steel",
            "restraint": "expansion joints" if run.startswith("Arm") else "anchored throughout",
        }
        for run, wall_mm in walls_mm.items()
    ]


def _valve(law: str, closing_s: float) -> Document:
    return {"law": law, "closing_time_s": closing_s, "source": "Timed at the last yearly test"}


def _tank(name: str, surface_m: float, bottom_m: float, top_m: float) -> Document:
    return {
        "tank": {
            "name": name,
            "surface_elevation_m": surface_m,
            "gas_pressure_bar_gauge": 0.0,
            "bottom_elevation_m": bottom_m,
            "top_elevation_m": top_m,
        }
    }


def ellery_product_berth() -> DemoBerth:
    """Arms of 10 in; the line climbs over a ridge before it comes down to the tank farm."""
    return DemoBerth(
        BerthFacts.model_validate(
            {
                "name": "Berth 1",
                "berthing": BERTHS["Berth 1"],
                "terminal": "Port Ellery Oil Terminal",
                "port": "Port Ellery",
                "size": {
                    "greatest_length_overall_m": 200.0,
                    "greatest_beam_m": 34.0,
                    "greatest_draught_m": 12.2,
                    "greatest_deadweight_t": 55_000.0,
                    "depth_below_zero_m": 13.0,
                },
                "arms": [_arm("Arm 10 in", 3, 254.5)],
                "arm_shore_end_elevation_m": 7.2,
                "shore_line": [
                    _run("Jetty line", 620.0, 590.0, 3.5, 6.0),
                    _run("Line to Gallow Ridge", 1150.0, 488.0, 3.0, 30.0, rating_bar_gauge=16.0),
                    _run("Line down to the tank farm", 830.0, 488.0, 2.5, 19.0, rating_bar_gauge=16.0),
                    _run("Tank branch", 240.0, 390.0, 4.0, 21.0),
                ],
                "shore_end": _tank("Tank 24", 31.5, 20.5, 38.0),
                "manifold_pressure_limit_bar_gauge": 9.5,
                "receiving_rate_m3_per_h": 3_200.0,
                "surge": {
                    "walls": _walls(
                        {
                            "Arm 10 in": 9.3,
                            "Jetty line": 9.5,
                            "Line to Gallow Ridge": 9.5,
                            "Line down to the tank farm": 9.5,
                            "Tank branch": 9.5,
                        }
                    ),
                    "shore_valve": _valve("butterfly", 60.0),
                },
                "source": "As-built drawings and the terminal's jetty information book",
            }
        ),
        line_data_shared=True,
    )


def ellery_small_berth() -> DemoBerth:
    """Two hoses of 8 in and a short line; the hoses are the narrow place."""
    return DemoBerth(
        BerthFacts.model_validate(
            {
                "name": "Berth 2",
                "berthing": BERTHS["Berth 2"],
                "terminal": "Port Ellery Oil Terminal",
                "port": "Port Ellery",
                "size": {
                    "greatest_length_overall_m": 130.0,
                    "greatest_beam_m": 22.0,
                    "greatest_draught_m": 8.2,
                    "greatest_deadweight_t": 12_000.0,
                    "depth_below_zero_m": 9.0,
                },
                "arms": [
                    _arm(
                        "Hose 6 in",
                        2,
                        152.0,
                        kind="hose",
                        length_m=18.0,
                        roughness_mm=0.3,
                        loss_coefficient=1.4,
                        rating_bar_gauge=10.0,
                        velocity_limit_m_per_s=7.0,
                    )
                ],
                "arm_shore_end_elevation_m": 6.4,
                "shore_line": [
                    _run("Jetty line", 380.0, 305.0, 3.0, 5.5),
                    _run("Line to the small tanks", 540.0, 305.0, 4.5, 9.0),
                ],
                "shore_end": _tank("Tank 7", 16.0, 9.5, 21.0),
                "manifold_pressure_limit_bar_gauge": 8.0,
                "receiving_rate_m3_per_h": 1_100.0,
                "source": "As-built drawings; hose certificates of this year",
            }
        ),
        line_data_shared=True,
    )


def ellery_crude_jetty() -> DemoBerth:
    """Three arms of 16 in and a wide line to crude tanks on the shoulder of the hill."""
    return DemoBerth(
        BerthFacts.model_validate(
            {
                "name": "Crude jetty",
                "berthing": BERTHS["Crude jetty"],
                "terminal": "Port Ellery Oil Terminal",
                "port": "Port Ellery",
                "size": {
                    "greatest_length_overall_m": 280.0,
                    "greatest_beam_m": 50.0,
                    "greatest_draught_m": 15.5,
                    "greatest_deadweight_t": 160_000.0,
                    "depth_below_zero_m": 16.5,
                },
                "arms": [_arm("Arm 16 in", 3, 387.0, loss_coefficient=3.4)],
                "arm_shore_end_elevation_m": 8.5,
                "shore_line": [
                    _run("Jetty line", 1350.0, 890.0, 4.0, 6.5),
                    _run("Line to the crude tanks", 2900.0, 737.0, 6.0, 34.0),
                    _run("Tank branch", 310.0, 590.0, 5.0, 36.0),
                ],
                "shore_end": _tank("Tank 41", 47.0, 35.5, 54.0),
                "manifold_pressure_limit_bar_gauge": 12.0,
                "receiving_rate_m3_per_h": 7_000.0,
                "surge": {
                    "walls": _walls(
                        {"Arm 16 in": 9.5, "Jetty line": 12.7, "Line to the crude tanks": 12.7, "Tank branch": 9.5}
                    ),
                    "arm_valve": _valve("ball", 30.0),
                    "shore_valve": _valve("butterfly", 60.0),
                },
                "source": "As-built drawings",
            }
        ),
        line_data_shared=True,
    )


def skarra_north_berth() -> DemoBerth:
    """The terminal keeps its line to itself; an old, narrow run with a low velocity limit decides."""
    return DemoBerth(
        BerthFacts.model_validate(
            {
                "name": "North berth",
                "berthing": BERTHS["North berth"],
                "terminal": "Skarra Point Terminal",
                "port": "Skarra Sound",
                "size": {
                    "greatest_length_overall_m": 230.0,
                    "greatest_beam_m": 36.0,
                    "greatest_draught_m": 12.8,
                    "greatest_deadweight_t": 75_000.0,
                    "depth_below_zero_m": 13.6,
                },
                "arms": [_arm("Arm 12 in", 2, 303.0, loss_coefficient=3.2)],
                "arm_shore_end_elevation_m": 6.8,
                "shore_line": [
                    _run("Causeway line", 1900.0, 540.0, 5.0, 4.0),
                    _run("Old road crossing", 120.0, 388.0, 1.5, 3.5, velocity_limit_m_per_s=5.5),
                    _run("Line to the tanks", 1400.0, 488.0, 4.5, 13.0, rating_bar_gauge=16.0),
                ],
                "shore_end": _tank("Tank 103", 24.0, 13.5, 31.0),
                "manifold_pressure_limit_bar_gauge": 10.0,
                "receiving_rate_m3_per_h": 2_800.0,
                "surge": {
                    "walls": _walls(
                        {
                            "Arm 12 in": 9.5,
                            "Causeway line": 9.5,
                            "Old road crossing": 9.5,
                            "Line to the tanks": 9.5,
                        }
                    ),
                    "shore_valve": _valve("butterfly", 45.0),
                },
                "source": "Terminal's own survey of 2029",
            }
        ),
        line_data_shared=False,
    )


def skarra_sea_island() -> DemoBerth:
    """Known by the pressure that a booster station holds; nobody has found the rating of its older arm."""
    return DemoBerth(
        BerthFacts.model_validate(
            {
                "name": "Sea island",
                "berthing": BERTHS["Sea island"],
                "terminal": "Skarra Point Terminal",
                "port": "Skarra Sound",
                "size": {
                    "greatest_length_overall_m": 275.0,
                    "greatest_beam_m": 48.0,
                    "greatest_draught_m": 15.2,
                    "depth_below_zero_m": 17.0,
                },
                "arms": [
                    _arm("Arm 16 in", 2, 387.0),
                    _arm("Arm 12 in, older", 1, 303.0, rating_bar_gauge=None, flange=None),
                ],
                "arm_shore_end_elevation_m": 9.0,
                "shore_line": [_run("Submarine line to the booster station", 2300.0, 740.0, 4.0, 5.0)],
                "shore_end": {"back_pressure_bar_gauge": 4.2},
                "receiving_rate_m3_per_h": 5_000.0,
                "source": "Booster station's set pressure; line drawings",
            }
        ),
        line_data_shared=True,
    )
