"""Cases with everything that surge needs, and without."""

from __future__ import annotations

from typing import Any

from tests.builders import Document, case_document

WALL = {"wall_thickness_mm": 9.5, "material": "carbon steel", "restraint": "anchored throughout"}


def surge_case(**agreed: Any) -> Document:
    """Return a case with walls, three valves, bulk modulus and vapour pressure."""
    case = case_document()
    case["cargo"] = {**case["cargo"], "bulk_modulus_mpa": 1400.0, "vapour_pressure_kpa_abs": 5.0}
    case["ship"]["surge"] = {
        "common_line_wall": dict(WALL),
        "manifold_valve": {"law": "butterfly", "closing_time_s": 20.0},
    }
    runs = [row["name"] for row in [*case["berth"]["arms"], *case["berth"]["shore_line"]]]
    case["berth"]["surge"] = {
        "walls": [{"run": name, **WALL} for name in runs],
        "arm_valve": {"law": "ball", "closing_time_s": 10.0},
        "shore_valve": {"law": "gate", "closing_time_s": 30.0},
    }
    case["agreed"] = {**case.get("agreed", {}), **agreed}
    return case


def short_case(**agreed: Any) -> Document:
    """Return the same with a shore line of 700 m and one valve, which marches quickly."""
    case = surge_case(**agreed)
    jetty, farm = case["berth"]["shore_line"]
    case["berth"]["shore_line"] = [{**jetty, "length_m": 300.0}, {**farm, "length_m": 400.0}]
    case["berth"]["arms"] = [{**arm, "length_m": 40.0} for arm in case["berth"]["arms"]]
    case["ship"]["surge"].pop("manifold_valve")
    case["berth"]["surge"].pop("arm_valve")
    case["berth"]["surge"]["shore_valve"] = {"law": "ball", "closing_time_s": 20.0}
    return case
