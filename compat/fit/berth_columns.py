"""Berths as columns of numbers for the checks (pure: no Django)."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from compat.calc.fit.connections import KINDS_OF_FLANGE, NOT_KNOWN, flange_code, offered
from compat.fit.columns import Columns, numbers_at
from compat.fit.ship_columns import reducer_codes
from shared.berthing_facts import CERTIFICATES, MOORING_PLACES
from shared.calc.root import Array
from terminals.berthing_facts import RULE_FACTS, UNLIMITED_KEYS, BerthBerthingFacts, Hooks
from terminals.facts import BerthFacts

_PARTS = {
    "range": (
        "least_length_overall_m",
        "least_beam_m",
        "least_deadweight_t",
        "least_displacement_t",
        "greatest_displacement_t",
    ),
    "water": (
        "lowest_water_m",
        "highest_water_m",
        "under_keel_m",
        "under_keel_percent_of_draught",
        "under_keel_percent_of_beam",
        "overhead_elevation_m",
        "overhead_clearance_m",
    ),
    "reach": (
        "greatest_bow_to_manifold_m",
        "greatest_stern_to_manifold_m",
        "lowest_manifold_m",
        "highest_manifold_m",
        "least_setback_m",
        "greatest_setback_m",
        "least_spacing_m",
        "fender_forward_m",
        "fender_aft_m",
        "crane_lift_t",
        "crane_reach_m",
    ),
    "mooring": ("least_lines", "least_breaking_load_kn"),
    "services": (
        "inert_gas",
        "vapour_return",
        "tank_washing",
        "grades_at_once",
        "least_discharge_rate_m3_per_h",
        "least_manifold_pressure_bar_gauge",
        "least_loading_rate_m3_per_h",
        "berthing_hours",
        "latitude_degrees",
        "longitude_degrees",
    ),
}
BERTH_KEYS = (
    "size.greatest_length_overall_m",
    "size.greatest_beam_m",
    "size.greatest_draught_m",
    "size.greatest_deadweight_t",
    "size.depth_below_zero_m",
    "manifold_pressure_limit_bar_gauge",
    *(f"berthing.{part}.{key}" for part, keys in _PARTS.items() for key in keys),
)
MOST_RULES = 40
# Limits of which the lower one is named; where nothing limits, they are minus infinity and the others infinity.
_LOWER = ("least_", "lowest_", "fender_", "crane_")


def berth_columns(berths: Sequence[BerthFacts]) -> Columns:
    """Return berths as columns; arms and rules have one column for each kind or rule, padded to the most."""
    stated = [berth.berthing or BerthBerthingFacts() for berth in berths]
    kinds = max(len(berth.arms) for berth in berths)
    rules = max(len(one.own_rules) for one in stated)
    columns = {
        **numbers_at(BerthFacts, berths, BERTH_KEYS),
        **_arms(berths, stated, kinds),
        **_rules(stated, rules),
        "hooks": np.stack([_hooks(one.hooks, lambda rows: float(sum(row.count for row in rows))) for one in stated]),
        "hook rating": np.stack([_hooks(one.hooks, _weakest) for one in stated]),
        "hook along": np.stack([_hooks(one.hooks, lambda rows: rows[0].along_m) for one in stated]),
        "hook setback": np.stack([_hooks(one.hooks, lambda rows: rows[0].setback_m) for one in stated]),
        "hook elevation": np.stack([_hooks(one.hooks, lambda rows: rows[0].elevation_m) for one in stated]),
        "certificates asked": np.stack([_certificates(one) for one in stated]),
    }
    for row, one in enumerate(stated):
        _lift_limits(columns, row, {unlimited.on for unlimited in one.unlimited})
    return Columns(columns)


def cargo_taken(berth: BerthFacts, cargo_name: str) -> float:
    """Return 1 where the berth takes a cargo of this name, 0 where it does not, NaN where that is not known."""
    stated = berth.berthing or BerthBerthingFacts()
    if any(one.on == "cargoes" for one in stated.unlimited):
        return 1.0
    if not stated.cargoes:
        return np.nan
    return float(_plain(cargo_name) in {_plain(one.name) for one in stated.cargoes})


def _plain(name: str) -> str:
    return " ".join(name.casefold().split())


def _arms(berths: Sequence[BerthFacts], stated: Sequence[BerthBerthingFacts], kinds: int) -> dict[str, Array]:
    counts = np.zeros((len(berths), kinds))
    codes = np.full((len(berths), kinds), float(NOT_KNOWN))
    offers = np.zeros((len(berths), kinds, KINDS_OF_FLANGE))
    ratings = np.full(len(berths), np.nan)
    hoses = np.zeros(len(berths))
    for i, (berth, one) in enumerate(zip(berths, stated, strict=True)):
        reducers = reducer_codes(one.reducers)
        for k, arm in enumerate(berth.arms):
            codes[i, k] = flange_code(arm.flange, arm.bore_mm)
            counts[i, k] = arm.count
            offers[i, k] = offered(int(codes[i, k]), arm.count, reducers)
        stated_ratings = [np.nan if arm.rating_bar_gauge is None else arm.rating_bar_gauge for arm in berth.arms]
        ratings[i] = np.min(stated_ratings)
        hoses[i] = float(any(arm.kind == "hose" for arm in berth.arms))
    return {"arm counts": counts, "arm codes": codes, "arm offers": offers, "arm rating": ratings, "hoses": hoses}


def _rules(stated: Sequence[BerthBerthingFacts], rules: int) -> dict[str, Array]:
    """Rules as the place of their fact (NaN: no rule), the sign (+1 at most, −1 at least), number and softness."""
    facts, signs, numbers, soft = (np.full((len(stated), rules), np.nan) for _ in range(4))
    for i, one in enumerate(stated):
        for k, rule in enumerate(one.own_rules):
            facts[i, k] = RULE_FACTS.index(rule.fact)
            signs[i, k] = 1.0 if rule.comparison == "at most" else -1.0
            numbers[i, k] = rule.number
            soft[i, k] = float(rule.otherwise == "by agreement")
    return {"rule facts": facts, "rule signs": signs, "rule numbers": numbers, "rule soft": soft}


def _hooks(rows: Sequence[Hooks], read: Callable[[Sequence[Hooks]], float | None]) -> Array:
    found = np.full(len(MOORING_PLACES), np.nan)
    for place, name in enumerate(MOORING_PLACES):
        here = [row for row in rows if row.place == name]
        value = read(here) if here else None
        found[place] = np.nan if value is None else value
    return found


def _weakest(rows: Sequence[Hooks]) -> float:
    return float(np.min([np.nan if row.rating_kn is None else row.rating_kn for row in rows]))


def _certificates(stated: BerthBerthingFacts) -> Array:
    """Return 1 for each certificate that is asked for, 0 for the others; NaN throughout where that is not known."""
    if any(one.on == "certificates" for one in stated.unlimited):
        return np.zeros(len(CERTIFICATES))
    if not stated.certificates:
        return np.full(len(CERTIFICATES), np.nan)
    asked = {one.certificate for one in stated.certificates}
    return np.array([float(name in asked) for name in CERTIFICATES])


def _lift_limits(columns: dict[str, Array], row: int, unlimited: set[str]) -> None:
    for name in unlimited:
        for key in UNLIMITED_KEYS[name]:
            if key in columns:
                lower = key.rpartition(".")[2].startswith(_LOWER)
                columns[key][row] = -np.inf if lower else np.inf
