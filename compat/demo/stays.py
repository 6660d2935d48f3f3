"""The stay of a crude tanker in the demo: twelve tanks, three pumps, two shore tanks, ballast, a tide; all invented."""

from __future__ import annotations

import math
from itertools import product
from typing import Any

from compat.case.case_file import CaseFile, case_document
from compat.stay.file import FORMAT, StayFile, check_stay

_ROWS = {1: 95.0, 2: 60.0, 3: 25.0, 4: -10.0, 5: -45.0, 6: -80.0}  # levers about the centre of flotation in m
_HEIGHT_M = 18.5
_SHORE_DIAMETER_M = 80.0


def crude_stay(case: CaseFile) -> StayFile:
    """Return the whole discharge of a case of three pumps whose twelve tanks hold its quantity."""
    keys = [f"{row}{side}" for row, side in product(_ROWS, "PS")]
    running = [state.pump for state in case.operation.pumps if state.running]
    return check_stay(
        {
            "format": FORMAT,
            "case": case_document(case),
            "cargo_tanks": [_cargo_tank(case, key, len(keys)) for key in keys],
            "draws": [
                {"pumps": [pump], "tanks": [f"{row}{side}" for row in (n, n + 3) for side in "PS"]}
                for n, pump in enumerate(running, start=1)
            ],
            "shore_tanks": [_shore_tank("41", 11.5), _shore_tank("42", 0.6), _shore_tank("43", 0.6)],
            "water": {
                "density_kg_per_m3": 1025.0,
                "draught_m": 12.0,
                "trim_m": 0.5,
                "trim_moment_t_m_per_cm": 1600.0,
                "freeboard_deck_m": 23.1,
                "draughts": [
                    {"draught_m": draught, "immersion_t_per_cm": tonnes}
                    for draught, tonnes in ((2.5, 104.0), (8.0, 111.0), (13.0, 116.0), (17.0, 119.0))
                ],
                "tide": [{"at_h": round(-3.0 + 6.2 * n, 1), "height_m": (0.6, 3.2)[n % 2]} for n in range(10)],
                "ballast": [{"begins_h": 8.0, "ends_h": 24.0, "mass_t": 55_000.0, "lever_m": 12.0}],
                "least_under_keel_m": 1.0,
                "least_manifold_elevation_m": 9.0,
                "greatest_manifold_elevation_m": 24.0,
            },
            "stages": {"stripping": {"rate_m3_per_h": 400.0}, "line_clearing_h": 0.5},
            "stops": [{"reason": "first-foot samples ashore", "after_m3": 4000.0, "lasts_h": 0.5}],
            "allowed_h": 42.0,
        },
        "The stay",
    )


def _cargo_tank(case: CaseFile, key: str, tanks: int) -> dict[str, Any]:
    tank, surface = case.ship.cargo_tanks, case.operation.pumps[0].tank_surface_elevation_m
    if tank is None or case.cargo.quantity_m3 is None:
        raise ValueError("The case states neither tanks nor a quantity.")
    level = float(surface) - float(tank.bottom_elevation_m)
    area = float(case.cargo.quantity_m3) / tanks / level
    return {
        "key": key,
        "zero_elevation_m": tank.bottom_elevation_m,
        "reference_height_m": 20.2,
        "table": [{"level_m": at, "volume_m3": area * at} for at in (0.0, _HEIGHT_M)],
        "level_m": level,
        "pumps_off_below_m": 0.3,
        "residue_m3": 10.0,
        "lever_m": _ROWS[int(key[0])],
    }


def _shore_tank(key: str, level_m: float) -> dict[str, Any]:
    area = math.pi * _SHORE_DIAMETER_M**2 / 4.0
    return {
        "key": f"Tank{key}",
        "name": f"Tank {key}",
        "zero_elevation_m": 35.5,
        "table": [{"level_m": at, "volume_m3": area * at} for at in (0.0, _HEIGHT_M)],
        "level_m": level_m,
        "full_at_m3": area * 17.8,
    }
