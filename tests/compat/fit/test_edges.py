"""Each check just inside its limit, at it, just outside, and with the fact or the limit missing."""

from __future__ import annotations

from typing import Any, NamedTuple

import pytest

from compat.fit.answer import Fit, FitRow, fit_of
from compat.fit.catalogue import CHECKS
from tests.builders import Document
from tests.compat.fit.building import (
    berth_document,
    cargo_facts,
    changed,
    fit_case,
    outcome,
    ship_document,
    visit_document,
)

BUILD = {"ship": ship_document, "berth": berth_document, "visit": visit_document, "cargo": cargo_facts}
_HULL, _EQUIPMENT = "ship:berthing.hull.", "ship:berthing.equipment."
_RANGE, _WATER, _REACH = "berth:berthing.range.", "berth:berthing.water.", "berth:berthing.reach."
_SERVICES = "berth:berthing.services."


class Edge(NamedTuple):
    """A number that is moved to the edge: at it within, ``outwards`` beyond it not."""

    check: str
    moved: str
    at: float
    outwards: float
    beyond: str = "outside"
    missing: str = "not decided"


EDGES = [
    Edge("length-overall", "ship:particulars.length_overall_m", 250.0, 0.01),
    Edge("length-overall", "ship:particulars.length_overall_m", 120.0, -0.01),
    Edge("length-overall", "berth:size.greatest_length_overall_m", 183.0, -0.01),
    Edge("length-overall", f"{_RANGE}least_length_overall_m", 183.0, 0.01),
    Edge("beam", "ship:particulars.beam_m", 44.0, 0.01),
    Edge("beam", f"{_RANGE}least_beam_m", 32.2, 0.01),
    Edge("displacement", "visit:arrival_displacement_t", 100_000.0, 1.0, missing="within"),
    Edge("displacement", f"{_RANGE}least_displacement_t", 52_000.0, 1.0),
    Edge("displacement", f"{_RANGE}greatest_displacement_t", 52_000.0, -1.0),
    Edge("deadweight", "ship:particulars.summer_deadweight_t", 90_000.0, 1.0),
    Edge("deadweight", f"{_RANGE}least_deadweight_t", 47_500.0, 1.0),
    Edge("draught", "visit:arrival_draught_m", 13.5, 0.01),
    Edge("draught", "berth:size.greatest_draught_m", 11.0, -0.01),
    # 14.0 m deep, 0.5 m of water, 1.0 m asked for: 13.5 m draught at the lowest water.
    Edge("under-keel", "visit:arrival_draught_m", 13.5, 0.01, "needs agreement"),
    Edge("under-keel", "berth:size.depth_below_zero_m", 11.5, -0.01, "needs agreement"),
    Edge("under-keel", f"{_WATER}under_keel_m", 3.5, 0.01, "needs agreement"),
    Edge("under-keel", f"{_WATER}lowest_water_m", -2.0, -0.01, "needs agreement"),
    # Lightest 7.5 m at 4.0 m of water: 48.0 - 7.5 + 4.0 = 44.5 m up, under 60 m with 2 m to stay.
    Edge("air-draught", f"{_HULL}keel_to_top_m", 61.5, 0.01),
    Edge("air-draught", f"{_WATER}overhead_elevation_m", 46.5, -0.01),
    Edge("air-draught", f"{_WATER}overhead_clearance_m", 15.5, 0.01),
    Edge("air-draught", f"{_WATER}highest_water_m", 17.5, 0.01),
    Edge("bow-to-manifold", f"{_HULL}bow_to_manifold_m", 130.0, 0.01),
    Edge("bow-to-manifold", f"{_REACH}greatest_bow_to_manifold_m", 92.0, -0.01),
    Edge("stern-to-manifold", f"{_HULL}bow_to_manifold_m", 53.0, -0.01),
    Edge("stern-to-manifold", f"{_REACH}greatest_stern_to_manifold_m", 91.0, -0.01),
    Edge("manifold-setback", f"{_HULL}manifold_setback_m", 6.0, 0.01),
    Edge("manifold-setback", f"{_HULL}manifold_setback_m", 3.0, -0.01),
    # Deep at low water: 20.0 - 11.0 + 0.5 = 9.5 m; light at high water: 20.0 - 7.5 + 4.0 = 16.5 m.
    Edge("manifold-lowest", f"{_REACH}lowest_manifold_m", 9.5, 0.01),
    Edge("manifold-lowest", "visit:arrival_draught_m", 13.5, 0.01),
    Edge("manifold-highest", f"{_REACH}highest_manifold_m", 16.5, -0.01),
    Edge("manifold-highest", "visit:departure_draught_m", 4.0, -0.01, missing="within"),
    Edge("flat-side-ballast", f"{_HULL}flat_side_ballast_forward_m", 25.0, -0.01),
    Edge("flat-side-ballast", f"{_HULL}flat_side_ballast_aft_m", 25.0, -0.01),
    Edge("flat-side-ballast", f"{_REACH}fender_forward_m", 36.0, 0.01),
    Edge("flat-side-loaded", f"{_HULL}flat_side_loaded_forward_m", 25.0, -0.01),
    Edge("flat-side-loaded", f"{_REACH}fender_aft_m", 52.0, 0.01),
    Edge("manifold-spacing", f"{_HULL}manifold_spacing_m", 1.5, -0.01, "needs agreement"),
    Edge("crane-lift", f"{_EQUIPMENT}crane_lift_t", 5.0, -0.1),
    Edge("crane-reach", f"{_REACH}crane_reach_m", 6.0, 0.01),
    Edge("arms-connected", "ship:manifold.connections", 2, -1, "needs agreement"),
    Edge("connection-rating", "ship:manifold.rating_bar_gauge", 8.0, -0.01),
    Edge("connection-rating", "berth:arms.0.rating_bar_gauge", 8.0, -0.01),
    Edge("lines", "berth:berthing.mooring.least_lines", 12, 1),
    Edge("hooks", "berth:berthing.hooks.0.count", 2, -1, "needs agreement", missing=""),
    Edge("line-strength", "ship:berthing.moorings.0.breaking_load_kn", 500.0, -1.0),
    Edge("line-strength", "berth:berthing.mooring.least_breaking_load_kn", 600.0, 1.0),
    Edge("hook-strength", "berth:berthing.hooks.0.rating_kn", 600.0, -1.0, "needs agreement"),
    Edge("grades", "visit:grades", 2, 1),
    Edge("grades", f"{_EQUIPMENT}segregations", 2, -1),
    Edge("discharge-rate", f"{_SERVICES}least_discharge_rate_m3_per_h", 2500.0, 1.0, "needs agreement"),
    Edge("manifold-pressure", f"{_SERVICES}least_manifold_pressure_bar_gauge", 8.0, 0.01, "needs agreement"),
    Edge("loading-rate", f"{_EQUIPMENT}greatest_loading_rate_m3_per_h", 1000.0, -1.0),
    Edge("own-rule-1", "ship:particulars.year_built", 2006, -1),
    Edge("own-rule-1", "berth:berthing.own_rules.0.number", 17.0, -1.0, missing=""),
]
IDS = [f"{edge.check} by {edge.moved}, {'up' if edge.outwards > 0 else 'down'}" for edge in EDGES]


def fit_with(moved: str, value: Any) -> Fit:
    owner, _, path = moved.partition(":")
    document: Document = changed(BUILD[owner](), path, value)
    return fit_of(fit_case({owner: document}))


def row_of(fit: Fit, key: str) -> FitRow:
    return next(row for row in fit.rows if row.key == key)


def test_the_base_is_within_everywhere() -> None:
    fit = fit_of(fit_case())
    assert {row.key: row.state for row in fit.rows if row.state != "within"} == {}
    assert fit.state == "within"
    assert not fit.asks


@pytest.mark.parametrize("edge", EDGES, ids=IDS)
def test_inside_at_and_outside_the_limit(edge: Edge) -> None:
    inside, at, outside = (
        row_of(fit_with(edge.moved, type(edge.at)(edge.at + step)), edge.check)
        for step in (-edge.outwards, 0, edge.outwards)
    )
    assert (inside.state, at.state, outside.state) == ("within", "within", edge.beyond)
    assert at.margin == pytest.approx(0.0, abs=1e-9)
    assert outside.margin is not None
    assert outside.margin < 0
    if edge.beyond == "needs agreement":
        assert outside.note


@pytest.mark.parametrize(
    "edge", [edge for edge in EDGES if edge.missing], ids=[i for i, e in zip(IDS, EDGES, strict=True) if e.missing]
)
def test_what_is_missing_is_not_decided_and_asked_for(edge: Edge) -> None:
    row = row_of(fit_with(edge.moved, None), edge.check)
    assert row.state == edge.missing
    if edge.missing == "not decided":
        assert row.asks
        assert row.margin is None


def test_every_check_has_an_edge_or_a_test_of_its_own() -> None:
    own = {
        "cargo-weight", "reducers", "line-materials", "line-steepness", "line-leads", "cargo", "inert-gas",
        "inert-gas-rule", "vapour-return", "tank-washing", "certificates", "daylight", "own-rules", "tide-window",
    }  # fmt: skip
    assert {edge.check for edge in EDGES} | own >= {check.key for check in CHECKS}


def test_a_limit_of_which_the_terminal_says_that_there_is_none_is_no_limit() -> None:
    berth = berth_document()
    berth["size"].pop("greatest_length_overall_m")
    berth["berthing"]["unlimited"] = [{"on": "greatest length"}]
    ship = changed(ship_document(), "particulars.length_overall_m", 400.0)
    row = row_of(fit_of(fit_case({"berth": berth, "ship": ship})), "length-overall")
    assert row.state == "within"


def test_outside_counts_before_not_decided_and_that_before_agreement() -> None:
    ship = changed(ship_document(), "particulars.beam_m", None)
    assert fit_of(fit_case({"ship": ship})).state == "not decided"
    ship = changed(ship, "berthing.hull.manifold_spacing_m", 1.0)
    assert fit_of(fit_case({"ship": ship})).state == "not decided"
    ship = changed(ship, "berthing.hull.bow_to_manifold_m", 150.0)
    fit = fit_of(fit_case({"ship": ship}))
    assert (fit.state, fit.deciding) == ("outside", "bow-to-manifold")


def test_without_any_facts_for_berths_every_check_that_needs_them_is_not_decided() -> None:
    ship, berth = ship_document(), berth_document()
    del ship["berthing"], berth["berthing"]
    fit = fit_of(fit_case({"ship": ship, "berth": berth}))
    assert fit.state == "not decided"
    assert "Ask the terminal: greatest bow to manifold." in fit.asks
    assert "Ask the ship: bow to manifold." in fit.asks


def test_the_rate_is_asked_for_where_none_was_worked_out() -> None:
    row = row_of(fit_of(fit_case(said=outcome(rate=float("nan")))), "discharge-rate")
    assert row.state == "not decided"
    assert row.asks == ("Work out the rate first: no operating point was found or asked for.",)
