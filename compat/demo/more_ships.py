"""Two more invented tankers of the first operator, so that a screening has something to compare."""

from __future__ import annotations

from typing import Any

from compat.demo.berthing import SHIPS
from compat.demo.ships import crude_tanker, medium_range_product_tanker
from vessels.facts import ShipFacts


def long_range_tanker() -> ShipFacts:
    """About 74,000 t deadweight: a pump room with three turbine-driven pumps, slower than the crude tanker's."""
    return _made_from(
        crude_tanker(),
        name="Calder Heron",
        imo_number="9999929",
        particulars=_size(228.6, 32.2, 14.2, 74_000.0, 2017),
        manifold={"elevation_m": 21.8, "bore_mm": 400.0, "connections": 4},
        pumps={"greatest_speed_rpm": 1200.0, "rated_flow_m3_per_h": 2300.0},
        inert_gas_delivery_m3_per_h=8_800.0,
    )


def older_product_tanker() -> ShipFacts:
    """About 41,000 t deadweight, older, with a worn set of pumps and fewer papers."""
    return _made_from(
        medium_range_product_tanker(),
        name="Calder Dunlin",
        imo_number="9999931",
        particulars=_size(180.0, 32.2, 11.9, 41_000.0, 2004),
        manifold={"elevation_m": 19.6, "bore_mm": 250.0, "connections": 5},
        pumps={"head_kept_percent": 94.0},
        inert_gas_delivery_m3_per_h=4_000.0,
    )


def _size(length_m: float, beam_m: float, draught_m: float, deadweight_t: float, built: int) -> dict[str, Any]:
    return {
        "length_overall_m": length_m,
        "beam_m": beam_m,
        "summer_draught_m": draught_m,
        "summer_deadweight_t": deadweight_t,
        "year_built": built,
    }


def _made_from(ship: ShipFacts, *, manifold: dict[str, Any], pumps: dict[str, Any], **changes: Any) -> ShipFacts:
    document = ship.model_dump(mode="json", exclude_none=True)
    document["manifold"] |= manifold
    document["pumps"] = [pump | pumps for pump in document["pumps"]]
    return ShipFacts.model_validate(document | changes | {"berthing": SHIPS[changes["name"]]})
