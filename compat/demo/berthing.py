"""What the demo ships and berths state for the fit: hull, moorings, papers, water, reach, rules. All invented.

Figures are of a usual kind for ships and jetties of these sizes. Some are left out or only assumed on purpose, so that
it is seen how an answer asks for them.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

Document = dict[str, Any]

_PLACES = ("head line", "fore breast", "fore spring", "aft spring", "aft breast", "stern line")
_PAPERS = (
    "classification",
    "load line",
    "oil pollution prevention",
    "safety construction",
    "civil liability, oil pollution",
)


def _lines(counts: Sequence[int], load_kn: float, material: str = "high-modulus fibre") -> list[Document]:
    return [
        {"place": place, "count": count, "breaking_load_kn": load_kn, "material": material}
        for place, count in zip(_PLACES, counts, strict=True)
    ]


def _papers(valid_to: str, **other: str) -> list[Document]:
    dates = dict.fromkeys(_PAPERS, valid_to) | {name.replace("_", " "): day for name, day in other.items()}
    return [{"certificate": name, "valid_to": day} for name, day in dates.items()]


def _reducer(own_mm: float, other_mm: float, count: int) -> Document:
    standard = "class 150"
    return {
        "own_size_mm": own_mm,
        "own_flange": standard,
        "other_size_mm": other_mm,
        "other_flange": standard,
        "count": count,
    }


def _hull(*figures: float | None) -> Document:
    keys = (
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
    return {key: figure for key, figure in zip(keys, figures, strict=True) if figure is not None}


def _equipment(lift_t: float, reach_m: float, segregations: int, **other: str) -> Document:
    fitted = {"inert_gas": "fitted", "vapour_return": "fitted", "crude_oil_washing": "not fitted"} | other
    return {"crane_lift_t": lift_t, "crane_reach_m": reach_m, "segregations": segregations, **fitted}


SHIPS: dict[str, Document] = {
    "Calder Wren": {
        "hull": _hull(11_400.0, 4.6, 32.0, 58.5, 3.2, 1.6, 18.0, 22.0, 24.0, 28.0),
        "equipment": _equipment(3.0, 4.0, 6),
        "moorings": _lines((2, 1, 1, 1, 1, 2), 330.0, "polyester"),
        "reducers": [_reducer(200.0, 150.0, 2), _reducer(200.0, 250.0, 2)],
        "certificates": _papers("2030-05-31"),
    },
    "Calder Linnet": {
        "hull": _hull(61_500.0, 7.1, 47.5, 91.0, 4.6, 2.0, 34.0, 38.0, 46.0, 52.0),
        "equipment": _equipment(10.0, 6.5, 6),
        "moorings": _lines((4, 2, 2, 2, 2, 4), 640.0),
        "reducers": [_reducer(300.0, 250.0, 4), _reducer(300.0, 400.0, 3), _reducer(300.0, 200.0, 2)],
        "certificates": _papers("2030-11-30"),
    },
    "Brannoch Skerry": {
        "hull": _hull(131_000.0, 8.6, 51.0, 125.0, 4.6, 2.4, 48.0, 52.0, 60.0, 66.0),
        "equipment": _equipment(15.0, 7.0, 3, crude_oil_washing="fitted"),
        "moorings": _lines((4, 2, 2, 2, 2, 4), 790.0),
        "reducers": [_reducer(400.0, 300.0, 3)],
        "certificates": _papers("2030-02-28"),
        "statements": [{"fact": "flat side", "sure": "assumed", "by": "From a sister ship"}],
    },
    "Calder Heron": {
        "hull": _hull(91_000.0, 7.9, 49.0, 113.0, 4.6, 2.2, 46.0, 50.0, 56.0, 60.0),
        "equipment": _equipment(15.0, 6.5, 3, crude_oil_washing="fitted"),
        "moorings": _lines((4, 2, 2, 2, 2, 4), 700.0),
        "reducers": [_reducer(400.0, 300.0, 3), _reducer(400.0, 250.0, 2)],
        "certificates": _papers("2030-09-30"),
    },
    "Calder Dunlin": {
        "hull": _hull(52_500.0, 6.8, 46.0, 88.5, 4.6, 2.0, 32.0, 36.0, 42.0, 48.0),
        "equipment": _equipment(8.0, 5.5, 4),
        "moorings": _lines((3, 2, 2, 2, 2, 3), 590.0, "polypropylene"),
        "certificates": _papers("2030-01-31", load_line="2026-03-31"),
        "statements": [{"fact": "bow to manifold", "sure": "assumed", "by": "Taken off a general arrangement plan"}],
    },
}


def _berth(
    least: tuple[float, float, float],
    displacement_t: tuple[float, float],
    water: Document,
    reach: Document,
    **other: Any,
) -> Document:
    """``least`` is length in m, beam in m and deadweight in t."""
    return {
        "range": {
            "least_length_overall_m": least[0],
            "least_beam_m": least[1],
            "least_deadweight_t": least[2],
            "least_displacement_t": displacement_t[0],
            "greatest_displacement_t": displacement_t[1],
        },
        "water": water,
        "reach": reach,
        **other,
    }


def _reach(*figures: float | None) -> Document:
    keys = (
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
    )
    return {key: figure for key, figure in zip(keys, figures, strict=True) if figure is not None}


def _hooks(counts: Sequence[int], rating_kn: float) -> list[Document]:
    return [
        {"place": place, "count": count, "rating_kn": rating_kn} for place, count in zip(_PLACES, counts, strict=True)
    ]


def _names(key: str, *names: str) -> list[Document]:
    return [{key: name} for name in names]


_PRODUCTS = ("Gas oil", "Motor gasoline", "Kerosene")
_AT_ELLERY = {"latitude_degrees": 51.7, "longitude_degrees": -5.1}
_AT_SKARRA = {"latitude_degrees": 59.3, "longitude_degrees": 5.2}
_USUAL_PAPERS = _names("certificate", "load line", "oil pollution prevention", "civil liability, oil pollution")
_NOT_LIMITED = ("height overhead", "loading rate")

BERTHS: dict[str, Document] = {
    "Berth 1": _berth(
        (110.0, 17.0, 6_000.0),
        (9_000.0, 75_000.0),
        {"lowest_water_m": 0.6, "highest_water_m": 6.4, "under_keel_m": 0.6, "under_keel_percent_of_beam": 1.5},
        _reach(112.0, 112.0, 6.5, 22.5, 2.5, 6.0, 1.5, 16.0, 18.0, None, None),
        mooring={"least_lines": 8, "least_breaking_load_kn": 300.0},
        services={
            "inert_gas": "required",
            "vapour_return": "offered",
            "tank_washing": "not allowed",
            "grades_at_once": 2,
            "least_discharge_rate_m3_per_h": 800.0,
            "least_manifold_pressure_bar_gauge": 5.0,
            "berthing_hours": "day and night",
            **_AT_ELLERY,
        },
        hooks=_hooks((4, 2, 2, 2, 2, 4), 750.0),
        cargoes=_names("name", *_PRODUCTS),
        certificates=_USUAL_PAPERS,
        own_rules=[{"name": "Age", "fact": "age in years", "comparison": "at most", "number": 20.0}],
        unlimited=_names("on", *_NOT_LIMITED, "crane"),
    ),
    "Berth 2": _berth(
        (60.0, 9.0, 1_500.0),
        (2_500.0, 16_000.0),
        {"lowest_water_m": 0.6, "highest_water_m": 6.4, "under_keel_m": 0.5},
        _reach(75.0, 75.0, None, None, 2.0, 4.5, 1.0, 10.0, 10.0, 1.2, 3.0),
        mooring={"least_lines": 6, "least_breaking_load_kn": 250.0},
        services={
            "inert_gas": "not required",
            "vapour_return": "none",
            "tank_washing": "not allowed",
            "grades_at_once": 2,
            "berthing_hours": "daylight only",
            **_AT_ELLERY,
        },
        hooks=_hooks((2, 1, 1, 1, 1, 2), 400.0),
        cargoes=_names("name", *_PRODUCTS),
        certificates=[*_USUAL_PAPERS, {"certificate": "cargo hose test"}],
        unlimited=_names(
            "on", *_NOT_LIMITED, "lowest manifold", "highest manifold", "discharge rate", "manifold pressure"
        ),
    ),
    "Crude jetty": _berth(
        (180.0, 30.0, 40_000.0),
        (45_000.0, 185_000.0),
        {"lowest_water_m": 0.6, "highest_water_m": 6.4, "under_keel_m": 1.0, "under_keel_percent_of_draught": 10.0},
        _reach(150.0, 150.0, 7.0, 24.0, 3.0, 6.0, 2.0, 30.0, 30.0, None, None),
        mooring={"least_lines": 14, "least_breaking_load_kn": 600.0},
        services={
            "inert_gas": "required",
            "vapour_return": "none",
            "tank_washing": "crude oil washing only",
            "grades_at_once": 1,
            "least_discharge_rate_m3_per_h": 3_000.0,
            "least_manifold_pressure_bar_gauge": 7.0,
            "berthing_hours": "daylight only",
            **_AT_ELLERY,
        },
        hooks=_hooks((4, 2, 2, 2, 2, 4), 1_000.0),
        cargoes=_names("name", "Crude oil"),
        certificates=_USUAL_PAPERS,
        own_rules=[
            {
                "name": "Age",
                "fact": "age in years",
                "comparison": "at most",
                "number": 15.0,
                "otherwise": "by agreement",
            }
        ],
        unlimited=_names("on", *_NOT_LIMITED, "crane"),
    ),
    "North berth": _berth(
        (140.0, 22.0, 15_000.0),
        (20_000.0, 100_000.0),
        {"lowest_water_m": 0.2, "highest_water_m": 2.2, "under_keel_m": 0.9},
        _reach(125.0, 125.0, 6.0, 19.0, 3.0, 6.0, 1.5, 22.0, 22.0, None, None),
        mooring={"least_lines": 12, "least_breaking_load_kn": 500.0},
        services={
            "inert_gas": "required",
            "vapour_return": "required",
            "tank_washing": "not allowed",
            "grades_at_once": 1,
            "least_discharge_rate_m3_per_h": 1_000.0,
            "berthing_hours": "day and night",
            **_AT_SKARRA,
        },
        hooks=_hooks((4, 2, 2, 2, 2, 4), 800.0),
        cargoes=_names("name", "Gas oil", "Kerosene", "Motor gasoline"),
        certificates=_USUAL_PAPERS,
        unlimited=_names("on", *_NOT_LIMITED, "crane", "manifold pressure"),
        statements=[{"fact": "depth", "sure": "measured", "by": "Harbour survey"}],
    ),
    "Sea island": _berth(
        (100.0, 16.0, 5_000.0),
        (8_000.0, 160_000.0),
        {"lowest_water_m": 0.2, "highest_water_m": 2.2, "under_keel_percent_of_draught": 10.0},
        _reach(140.0, 140.0, 5.5, None, 2.5, 6.0, 2.0, 18.0, 20.0, None, None),
        mooring={"least_lines": 8},
        services={
            "inert_gas": "required",
            "vapour_return": "none",
            "tank_washing": "allowed",
            "grades_at_once": 2,
            "berthing_hours": "daylight only",
            **_AT_SKARRA,
        },
        cargoes=_names("name", *_PRODUCTS, "Crude oil"),
        certificates=_USUAL_PAPERS,
        unlimited=_names("on", *_NOT_LIMITED, "crane", "discharge rate", "manifold pressure"),
    ),
}
