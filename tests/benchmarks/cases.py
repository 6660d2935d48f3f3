"""The case that is measured: four equal pumps, five shore segments, every limit stated, the speed to be found."""

from __future__ import annotations

import copy

import numpy as np

from compat.case.case_file import CaseFile, check_case
from tests.compat.systems import Document, arm, document, pipe, pump

POINTS = [(0, 152, 3.0), (600, 150, 3.2), (1200, 143, 3.9), (1800, 131, 5.2), (2400, 112, 7.4)]


def four_equal_pumps() -> Document:
    """Return the document of the measured case."""
    curve: Document = {
        "speed_rpm": 1200.0,
        "points": [
            {"flow_m3_per_h": q, "head_m": h, "npsh_required_m": n, "efficiency_percent": e}
            for (q, h, n), e in zip(POINTS, (20.0, 55.0, 76.0, 82.0, 78.0), strict=True)
        ],
    }
    pumps = [
        pump(f"P{i + 1}", curve, rated_flow_m3_per_h=1900.0, least_speed_rpm=650.0, greatest_speed_rpm=1200.0)
        for i in range(4)
    ]
    runs = [(300.0, 6.0), (900.0, 4.0), (1400.0, 15.0), (700.0, 11.0), (250.0, 9.0)]
    shore = [
        {**pipe(length, 650, 1.5, 0.1), "name": f"run {i + 1}", "end_elevation_m": z}
        | {"rating_bar_gauge": 16.0, "velocity_limit_m_per_s": 7.0}
        for i, (length, z) in enumerate(runs)
    ]
    arms = [arm(3, 305.0, rating_bar_gauge=19.0, velocity_limit_m_per_s=12.0)]
    stated = document(pumps, speeds=[None] * 4, arms=arms, shore=shore, common=[pipe(120, 700, 4.0)])
    for state in stated["operation"]["pumps"]:
        state["running"] = True
    stated["operation"]["speed"] = "one common speed"
    stated["agreed"] = {"manifold_pressure_bar_gauge": 7.0, "highest_rate_m3_per_h": 8000.0}
    stated["cargo"]["vapour_pressure_kpa_abs"] = 45.0
    stated["ship"] |= {"ship_line_velocity_limit_m_per_s": 8.0, "inert_gas_delivery_m3_per_h": 11_000.0}
    stated["ship"]["manifold"]["rating_bar_gauge"] = 15.0
    stated["berth"] |= {"manifold_pressure_limit_bar_gauge": 10.0, "receiving_rate_m3_per_h": 7500.0}
    return stated


def varied(count: int, seed: int = 1) -> list[CaseFile]:
    """Return distinct cases around the measured one: liquid, levels, agreed pressure, shore lengths, rated flow."""
    random = np.random.default_rng(seed)
    cases = []
    for _ in range(count):
        stated = copy.deepcopy(four_equal_pumps())
        stated["cargo"]["density_kg_per_m3"] = random.uniform(720.0, 950.0)
        stated["cargo"]["kinematic_viscosity_mm2_per_s"] = float(10.0 ** random.uniform(-0.2, 2.6))
        stated["agreed"]["manifold_pressure_bar_gauge"] = random.uniform(3.0, 10.0)
        stated["berth"]["shore_end"]["tank"]["surface_elevation_m"] = random.uniform(8.0, 25.0)
        for segment in stated["berth"]["shore_line"]:
            segment["length_m"] *= random.uniform(0.4, 2.5)
        level = random.uniform(4.0, 18.0)
        for state in stated["operation"]["pumps"]:
            state["tank_surface_elevation_m"] = level
        cases.append(check_case(stated, "varied"))
    return cases
