"""Ships as columns of numbers for the checks (pure: no Django)."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from compat.calc.fit.connections import KINDS_OF_FLANGE, flange_code, offered
from compat.fit.columns import Columns, numbers_at
from shared.berthing_facts import CERTIFICATES, MOORING_PLACES, ReducerFacts
from shared.calc.root import Array
from vessels.berthing_facts import MooringLines, ShipBerthingFacts
from vessels.facts import ShipFacts

SHIP_KEYS = (
    "particulars.length_overall_m",
    "particulars.beam_m",
    "particulars.summer_draught_m",
    "particulars.summer_deadweight_t",
    "particulars.year_built",
    "manifold.elevation_m",
    "manifold.rating_bar_gauge",
    "manifold.connections",
    "inert_gas_delivery_m3_per_h",
    *(
        f"berthing.hull.{key}"
        for key in (
            "summer_displacement_t",
            "ballast_draught_m",
            "keel_to_top_m",
            "bow_to_manifold_m",
            "manifold_setback_m",
            "manifold_spacing_m",
            "flat_side_ballast_forward_m",
            "flat_side_ballast_aft_m",
            "flat_side_loaded_forward_m",
            "flat_side_loaded_aft_m",
        )
    ),
    *(
        f"berthing.equipment.{key}"
        for key in (
            "crane_lift_t",
            "crane_reach_m",
            "inert_gas",
            "vapour_return",
            "crude_oil_washing",
            "segregations",
            "greatest_loading_rate_m3_per_h",
        )
    ),
)


def ship_columns(ships: Sequence[ShipFacts]) -> Columns:
    """Return ships as columns; lines have one column for each mooring place, certificates one for each kind."""
    stated = [ship.berthing or ShipBerthingFacts() for ship in ships]
    codes = [flange_code(ship.manifold.flange, ship.manifold.bore_mm) for ship in ships]
    return Columns(
        {
            **numbers_at(ShipFacts, ships, SHIP_KEYS),
            "flange code": np.array(codes, dtype=float),
            "flanges offered": _rows([_offers(ship, code) for ship, code in zip(ships, codes, strict=True)]),
            "lines": _rows([_lines(one.moorings, _count) for one in stated]),
            "breaking load, most": _rows([_lines(one.moorings, _strongest) for one in stated]),
            "breaking load, least": _rows([_lines(one.moorings, _weakest) for one in stated]),
            "materials": _rows([_lines(one.moorings, _materials) for one in stated]),
            "fairlead along": _rows([_lines(one.moorings, lambda rows: rows[0].fairlead_m) for one in stated]),
            "fairlead over keel": _rows(
                [_lines(one.moorings, lambda rows: rows[0].fairlead_elevation_m) for one in stated]
            ),
            "valid to": _rows([_valid_to(one) for one in stated]),
        }
    )


def reducer_codes(reducers: Sequence[ReducerFacts]) -> list[tuple[int, int, int]]:
    """Return reducers as (own side, other side, how many) in numbers of ``flange_code``."""
    return [
        (flange_code(one.own_flange, one.own_size_mm), flange_code(one.other_flange, one.other_size_mm), one.count)
        for one in reducers
    ]


def _rows(rows: list[Array]) -> Array:
    return np.stack(rows)


def _offers(ship: ShipFacts, code: int) -> Array:
    reducers = reducer_codes(ship.berthing.reducers) if ship.berthing else []
    count = ship.manifold.connections
    return np.zeros(KINDS_OF_FLANGE) if count is None else offered(code, count, reducers)


def _lines(rows: Sequence[MooringLines], read: Callable[[Sequence[MooringLines]], float | None]) -> Array:
    """Return one number for each mooring place; NaN where nothing is stated."""
    found = np.full(len(MOORING_PLACES), np.nan)
    for place, name in enumerate(MOORING_PLACES):
        here = [row for row in rows if row.place == name]
        value = read(here) if here else None
        found[place] = np.nan if value is None else value
    return found


def _count(rows: Sequence[MooringLines]) -> float:
    return float(sum(row.count for row in rows))


def _loads(rows: Sequence[MooringLines]) -> list[float]:
    return [np.nan if row.breaking_load_kn is None else row.breaking_load_kn for row in rows]


def _strongest(rows: Sequence[MooringLines]) -> float:
    return float(np.max(_loads(rows)))


def _weakest(rows: Sequence[MooringLines]) -> float:
    return float(np.min(_loads(rows)))


def _materials(rows: Sequence[MooringLines]) -> float | None:
    stated = [row.material for row in rows]
    return None if None in stated else float(len(set(stated)))


def _valid_to(stated: ShipBerthingFacts) -> Array:
    found = np.full(len(CERTIFICATES), np.nan)
    for one in stated.certificates:
        place, day = CERTIFICATES.index(one.certificate), float(one.valid_to.toordinal())
        found[place] = day if np.isnan(found[place]) else max(found[place], day)  # the renewed one counts
    return found
