"""A ship, a berth and a visit of which every check is within, with room to spare; each call comes back fresh."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np

from compat.fit.fit_case import FitCase
from compat.fit.visit import VisitFacts
from compat.fit.visit_columns import Outcome
from shared.cargo_facts import CargoFacts
from terminals.facts import BerthFacts
from tests.builders import Document, berth_facts, cargo_facts, ship_facts
from vessels.facts import ShipFacts

TODAY = date(2031, 4, 14)
PLACES = ("head line", "fore breast", "fore spring", "aft spring", "aft breast", "stern line")


def ship_document() -> Document:
    """A ship of 47,500 t deadweight that states everything."""
    facts = ship_facts()
    facts["manifold"] |= {"flange": "class 150", "elevation_m": 20.0}
    facts["inert_gas_delivery_m3_per_h"] = 5000.0
    facts["berthing"] = {
        "hull": {
            "summer_displacement_t": 58_000.0,
            "ballast_draught_m": 7.0,
            "keel_to_top_m": 48.0,
            "bow_to_manifold_m": 92.0,
            "manifold_setback_m": 4.6,
            "manifold_spacing_m": 2.0,
            "flat_side_ballast_forward_m": 36.0,
            "flat_side_ballast_aft_m": 40.0,
            "flat_side_loaded_forward_m": 44.0,
            "flat_side_loaded_aft_m": 52.0,
        },
        "equipment": {
            "crane_lift_t": 10.0,
            "crane_reach_m": 6.0,
            "inert_gas": "fitted",
            "vapour_return": "fitted",
            "crude_oil_washing": "fitted",
            "segregations": 6,
            "greatest_loading_rate_m3_per_h": 3600.0,
        },
        "moorings": [
            {
                "place": place,
                "count": 2,
                "breaking_load_kn": 600.0,
                "material": "polyester",
            }
            for place in PLACES
        ],
        "certificates": [
            {"certificate": name, "valid_to": "2033-01-01"}
            for name in ("load line", "oil pollution prevention", "cargo hose test")
        ],
    }
    return facts


def berth_document() -> Document:
    """A berth that states everything and takes that ship with room to spare."""
    facts = berth_facts()
    facts["size"]["depth_below_zero_m"] = 14.0
    for arm in facts["arms"]:
        arm |= {"flange": "class 150", "bore_mm": 303.0, "kind": "hose"}
    facts["berthing"] = {
        "range": {
            "least_length_overall_m": 120.0,
            "least_beam_m": 20.0,
            "least_deadweight_t": 10_000.0,
            "least_displacement_t": 15_000.0,
            "greatest_displacement_t": 100_000.0,
        },
        "water": {
            "lowest_water_m": 0.5,
            "highest_water_m": 4.0,
            "under_keel_m": 1.0,
            "overhead_elevation_m": 60.0,
            "overhead_clearance_m": 2.0,
        },
        "reach": {
            "greatest_bow_to_manifold_m": 130.0,
            "greatest_stern_to_manifold_m": 130.0,
            "lowest_manifold_m": 7.0,
            "highest_manifold_m": 20.0,
            "least_setback_m": 3.0,
            "greatest_setback_m": 6.0,
            "least_spacing_m": 1.5,
            "fender_forward_m": 25.0,
            "fender_aft_m": 25.0,
            "crane_lift_t": 5.0,
            "crane_reach_m": 4.0,
        },
        "mooring": {"least_lines": 10, "least_breaking_load_kn": 500.0},
        "services": {
            "inert_gas": "required",
            "vapour_return": "required",
            "tank_washing": "allowed",
            "grades_at_once": 2,
            "least_discharge_rate_m3_per_h": 1000.0,
            "least_manifold_pressure_bar_gauge": 5.0,
            "least_loading_rate_m3_per_h": 1000.0,
            "berthing_hours": "daylight only",
            "latitude_degrees": 51.5,
            "longitude_degrees": 0.0,
        },
        "hooks": [{"place": place, "count": 3, "rating_kn": 1000.0} for place in PLACES],
        "cargoes": [{"name": "Gas oil"}, {"name": "Kerosene"}],
        "certificates": [{"certificate": "load line"}, {"certificate": "oil pollution prevention"}],
        "own_rules": [
            {"name": "Age", "fact": "age in years", "comparison": "at most", "number": 25.0},
        ],
    }
    return facts


def visit_document() -> Document:
    """A visit at noon, 11 m deep, of one and a half days."""
    return {
        "arrives_on": TODAY.isoformat(),
        "arrival_hour_h": 12.0,
        "stay_h": 36.0,
        "arrival_draught_m": 11.0,
        "departure_draught_m": 7.5,
        "arrival_displacement_t": 52_000.0,
        "tank_washing": "none",
        "grades": 2,
    }


def outcome(rate: float = 2500.0, pressure: float = 8.0, agreed: float = 8.0) -> Outcome:
    """What the hydraulics say."""
    return Outcome(np.array([rate]), np.array([pressure]), np.array([agreed]))


def fit_case(documents: dict[str, Document] | None = None, said: Outcome | None = None) -> FitCase:
    """The case of these documents, those not given as above."""
    given = documents or {}
    return FitCase(
        ShipFacts.model_validate(given.get("ship", ship_document())),
        BerthFacts.model_validate(given.get("berth", berth_document())),
        CargoFacts.model_validate(given.get("cargo", cargo_facts())),
        VisitFacts.model_validate(given.get("visit", visit_document())),
        said or outcome(),
    )


def changed(document: Document, path: str, value: Any) -> Document:
    """The document with one value set, or taken out where it is None; ``hooks.0.rating_kn`` counts into lists."""
    *way, last = path.split(".")
    here: Any = document
    for part in way:
        here = here[int(part)] if isinstance(here, list) else here[part]
    if value is None:
        here.pop(last, None)
    else:
        here[last] = value
    return document
