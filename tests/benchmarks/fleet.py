"""A fleet and a coast drawn at random around the demo's ships and berths, for screenings that are measured."""

from __future__ import annotations

import copy
from typing import Any

import numpy as np

from compat.demo.berths import (
    ellery_crude_jetty,
    ellery_product_berth,
    ellery_small_berth,
    skarra_north_berth,
    skarra_sea_island,
)
from compat.demo.more_ships import long_range_tanker, older_product_tanker
from compat.demo.ships import crude_tanker, medium_range_product_tanker, small_product_tanker
from compat.demo.transfers import CRUDE_OIL, GAS_OIL
from compat.screening.terms import ScreeningTerms
from shared.cargo_facts import CargoFacts
from terminals.facts import BerthFacts
from vessels.facts import ShipFacts
from vessels.imo_number import check_digit

Document = dict[str, Any]


def terms(cargoes: tuple[CargoFacts, ...] = (GAS_OIL,)) -> ScreeningTerms:
    """Terms on which every demo ship can be worked out at every demo berth."""
    return ScreeningTerms(
        cargoes=[one.model_copy(update={"quantity_m3": 7_000.0}) for one in cargoes],
        tank_filling_percent=60.0,
        tank_gas_pressure_bar_gauge=0.06,
        manifold_pressure_bar_gauge=8.0,
        tank_washing="none",
        grades=1,
        stay_h=36.0,
    )


def two_cargoes() -> ScreeningTerms:
    """The same terms with two cargoes."""
    return terms((GAS_OIL, CRUDE_OIL))


def fleet(count: int, seed: int = 1) -> list[ShipFacts]:
    """Return so many ships, no two alike."""
    random = np.random.default_rng(seed)
    made = [
        one.model_dump(mode="json", exclude_none=True)
        for one in (
            small_product_tanker(),
            medium_range_product_tanker(),
            crude_tanker(),
            long_range_tanker(),
            older_product_tanker(),
        )
    ]
    return [ShipFacts.model_validate(_ship(copy.deepcopy(made[i % len(made)]), i, random)) for i in range(count)]


def coast(count: int, seed: int = 2) -> list[BerthFacts]:
    """Return so many berths, no two alike."""
    random = np.random.default_rng(seed)
    made = [
        one.facts.model_dump(mode="json", exclude_none=True)
        for one in (
            ellery_product_berth(),
            ellery_small_berth(),
            ellery_crude_jetty(),
            skarra_north_berth(),
            skarra_sea_island(),
        )
    ]
    return [BerthFacts.model_validate(_berth(copy.deepcopy(made[i % len(made)]), i, random)) for i in range(count)]


def _ship(ship: Document, number: int, random: np.random.Generator) -> Document:
    six = f"{910_000 + number:06d}"
    scale = float(random.uniform(0.9, 1.1))
    ship |= {"name": f"{ship['name']} {number}", "imo_number": f"{six}{check_digit(six)}"}
    for key in ("length_overall_m", "beam_m", "summer_draught_m", "summer_deadweight_t"):
        ship["particulars"][key] *= scale
    for key in ("bow_to_manifold_m", "keel_to_top_m", "summer_displacement_t"):
        ship["berthing"]["hull"][key] *= float(random.uniform(0.92, 1.08))
    head = float(random.uniform(0.9, 1.1))
    for pump in ship["pumps"]:
        for curve in pump["curves"]:
            for point in curve["points"]:
                point["head_m"] *= head
    if number % 4 == 1:
        ship["cargo_line_rating_bar_gauge"] = 7.0 + number % 3
    for segment in ship["common_line"]:
        segment["length_m"] *= float(random.uniform(0.7, 1.4))
    return ship


def _berth(berth: Document, number: int, random: np.random.Generator) -> Document:
    berth["name"] = f"{berth['name']} {number}"
    scale = float(random.uniform(0.85, 1.2))
    for key in berth["size"]:
        berth["size"][key] *= scale
    for segment in berth["shore_line"]:
        segment["length_m"] *= float(random.uniform(0.4, 2.0))
    tank = berth["shore_end"].get("tank")
    if tank:
        tank["surface_elevation_m"] = float(
            random.uniform(tank["bottom_elevation_m"] + 0.5, tank["top_elevation_m"] - 0.5)
        )
    return berth
