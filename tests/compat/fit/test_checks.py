"""Checks that are more than one comparison: tide, reducers, moorings, gas, papers, daylight; and their sources."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from compat.calc.fit.connections import flange_code, nominal_place
from compat.calc.fit.moorings import from_square_degrees, steepness_degrees
from compat.calc.fit.sun import daylight_hours, hours_until_daylight
from compat.calc.fit.water import clearance_asked, hours_until_deep_enough
from compat.fit.answer import fit_of, pairs_of
from compat.fit.catalogue import CHECKS, judge_all, verdict_of
from tests.builders import Document, cargo_facts
from tests.compat.fit.building import berth_document, changed, fit_case, ship_document, visit_document
from tests.compat.fit.test_edges import row_of


def state(key: str, **documents: Document) -> str:
    return row_of(fit_of(fit_case(documents)), key).state


# Water


def test_a_ship_too_deep_at_any_water_is_outside() -> None:
    # 14.0 m + 4.0 m - 1.0 m: nothing deeper than 17.0 m floats at the highest water.
    visit = changed(visit_document(), "arrival_draught_m", 17.1)
    assert state("under-keel", visit=visit) == "outside"


def test_with_the_tide_known_by_the_hour_there_is_nothing_to_agree() -> None:
    visit = changed(visit_document(), "arrival_draught_m", 13.6)
    visit["waters"] = [
        {"hour_h": -1.0, "height_m": 0.6},
        {"hour_h": 5.2, "height_m": 3.9},
        {"hour_h": 40.0, "height_m": 0.7},
    ]
    fit = row_of(fit_of(fit_case({"visit": visit})), "under-keel")
    # On arrival, 1 h after low water: 14.0 + about 0.81 - 13.6 is more than the 1.0 m asked for.
    assert fit.state == "within"
    assert fit.value == pytest.approx(14.0 + 0.6 + 3.3 * 0.5 * (1 - np.cos(np.pi / 6.2)) - 13.6, abs=1e-6)
    visit["arrival_draught_m"] = 14.0
    assert state("under-keel", visit=visit) == "outside"


# Low water at −1 h, high water at 5 h: half a cosine of 1.0 to 4.0 m over the berth's zero; 14.0 m deep, 1.0 m asked.
# A draught of 15.5 m needs 2.5 m of water, which is the middle of the rise: 2 h after arrival.
@pytest.mark.parametrize(
    ("draught", "wait", "word"),
    [(14.0, 0.0, "within"), (15.5, 2.0, "needs agreement"), (17.5, np.inf, "outside"), (None, np.nan, "not decided")],
)
def test_the_wait_for_water_enough_to_come_alongside(draught: float | None, wait: float, word: str) -> None:
    visit = visit_document()
    visit["waters"] = [
        {"hour_h": -1.0, "height_m": 1.0},
        {"hour_h": 5.0, "height_m": 4.0},
        {"hour_h": 40.0, "height_m": 1.0},
    ]
    row = row_of(fit_of(fit_case({"visit": changed(visit, "arrival_draught_m", draught)})), "tide-window")
    assert row.state == word
    assert row.value == (pytest.approx(wait, abs=0.02) if np.isfinite(wait) else None)
    assert bool(row.note) == (word == "needs agreement")
    assert bool(row.asks) == (word == "not decided")


def test_the_wait_goes_straight_between_moments_and_arrays_equal_each_alone() -> None:
    left = np.array([[-1.0, 1.0, 2.0], [0.0, -1.0, 1.0], [-3.0, -2.0, -1.0], [np.nan, 1.0, 1.0]])
    asked, stay = np.zeros_like(left), np.full(4, 10.0)
    found = hours_until_deep_enough(left, asked, stay)
    assert found.tolist()[:3] == [2.5, 0.0, np.inf]  # halfway through the first of two stretches of 5 h
    assert np.isnan(found[3])
    alone = [hours_until_deep_enough(left[i : i + 1], asked[:1], stay[:1])[0] for i in range(4)]
    assert np.array_equal(found, alone, equal_nan=True)


def test_without_a_tide_by_the_hour_there_is_no_window_to_tell() -> None:
    assert not any(row.key == "tide-window" for row in fit_of(fit_case()).rows)


def test_the_places_of_checks_are_those_that_stored_screenings_count_by() -> None:
    first = ("length-overall", "beam", "displacement", "deadweight", "cargo-weight", "draught", "under-keel")
    assert tuple(check.key for check in CHECKS[:7]) == first
    assert [check.key for check in CHECKS[37:]] == ["certificates", "daylight", "own-rules", "tide-window"]


def test_the_greatest_of_several_under_keel_rules_counts() -> None:
    draught, nothing = np.array([[12.0]]), np.array([np.nan])
    asked = clearance_asked(draught, np.array([40.0]), np.array([0.5]), np.array([10.0]), np.array([1.5]))
    assert asked[0, 0] == pytest.approx(1.2)  # a tenth of the draught
    assert np.isnan(clearance_asked(draught, np.array([40.0]), nothing, nothing, nothing)[0, 0])
    assert np.isnan(clearance_asked(draught, nothing, np.array([0.5]), nothing, np.array([1.5]))[0, 0])


# Connection


@pytest.mark.parametrize(
    ("bore", "inches"), [(152.0, 6), (203.0, 8), (254.5, 10), (303.0, 12), (305.0, 12), (387.0, 16), (406.0, 16)]
)
def test_bores_are_taken_for_their_nominal_size(bore: float, inches: int) -> None:
    # Nominal inches and DN of one size: ASME B36.10 and ISO 6708, from memory.
    places = [2, 3, 4, 6, 8, 10, 12, 14, 16, 18, 20, 24]
    assert places[nominal_place(bore)] == inches


def test_a_bore_between_two_sizes_is_no_flange_that_is_known() -> None:
    assert flange_code("class 150", 222.0) == -1
    assert flange_code(None, 300.0) == -1
    assert flange_code("class 150", 300.0) != flange_code("PN 16", 300.0)


def _reducer(own: float, other: float, count: int = 1, flange: str = "class 150", to: str = "class 150") -> Document:
    return {"own_size_mm": own, "own_flange": flange, "other_size_mm": other, "other_flange": to, "count": count}


@pytest.mark.parametrize(
    ("ship_reducers", "shore_reducers", "arms", "word"),
    [
        ([], [], None, "outside"),
        ([_reducer(300.0, 250.0, 2)], [], 2.0, "within"),
        ([_reducer(300.0, 250.0, 1)], [], 1.0, "needs agreement"),
        ([], [_reducer(250.0, 300.0, 2)], 2.0, "within"),
        ([_reducer(300.0, 250.0, 1)], [_reducer(250.0, 300.0, 1)], 2.0, "within"),
        ([_reducer(300.0, 200.0, 2)], [_reducer(250.0, 200.0, 2)], 2.0, "within"),
        ([_reducer(300.0, 250.0, 2, to="PN 16")], [], 0.0, "outside"),
        ([_reducer(250.0, 300.0, 2)], [], 0.0, "outside"),
    ],
)
def test_reducers_are_searched_on_both_sides(
    ship_reducers: list[Document], shore_reducers: list[Document], arms: float | None, word: str
) -> None:
    ship, berth = ship_document(), berth_document()
    ship["manifold"]["bore_mm"] = 300.0
    berth["arms"][0]["bore_mm"] = 254.5
    ship["berthing"]["reducers"], berth["berthing"]["reducers"] = ship_reducers, shore_reducers
    fit = fit_of(fit_case({"ship": ship, "berth": berth}))
    row = row_of(fit, "arms-connected")
    assert row.state == word
    assert row.value == (arms or 0.0)
    if arms:
        assert row_of(fit, "reducers").state == "needs agreement"


# Moorings


def test_angles_of_lines_are_those_of_a_right_triangle() -> None:
    # Fairlead and hook 30 m apart along and 40 m across: 50 m level; 50 m up is 45 degrees.
    assert steepness_degrees(*(np.array([v]) for v in (10.0, 58.0, 40.0, 40.0, 8.0)))[0] == pytest.approx(45.0)
    assert from_square_degrees(np.array([10.0]), np.array([40.0]), np.array([30.0]))[0] == pytest.approx(45.0)
    assert from_square_degrees(np.array([10.0]), np.array([10.0]), np.array([30.0]))[0] == 0.0


def _positions(along: float, setback: float, elevation: float) -> tuple[Document, Document]:
    ship, berth = ship_document(), berth_document()
    ship["berthing"]["moorings"][1] |= {"fairlead_m": 60.0, "fairlead_elevation_m": 20.0}
    berth["berthing"]["hooks"][1] |= {"along_m": along, "setback_m": setback, "elevation_m": elevation}
    return ship, berth


def test_directions_of_lines_are_looked_at_only_where_they_are_known() -> None:
    assert not [row for row in fit_of(fit_case()).rows if row.key in {"line-steepness", "line-leads"}]


@pytest.mark.parametrize(
    ("along", "setback", "elevation", "steep", "lead"),
    [
        (60.0, 40.0, 5.0, "within", "within"),
        (60.0, 20.0, 5.0, "needs agreement", "within"),  # 20 - 7.5 + 4.0 - 5.0 = 11.5 m up over 20 m: 29.9 degrees
        (75.0, 40.0, 5.0, "within", "needs agreement"),  # 20.6 degrees from square
        (60.0 + 40.0 * 0.267, 40.0, 5.0, "within", "within"),  # 14.9 degrees
    ],
)
def test_steep_and_slanting_lines_need_agreement(
    along: float, setback: float, elevation: float, steep: str, lead: str
) -> None:
    ship, berth = _positions(along, setback, elevation)
    fit = fit_of(fit_case({"ship": ship, "berth": berth}))
    assert (row_of(fit, "line-steepness").state, row_of(fit, "line-leads").state) == (steep, lead)


def test_mixed_materials_in_one_place_need_agreement() -> None:
    ship = ship_document()
    ship["berthing"]["moorings"].append(
        {"place": "head line", "count": 1, "breaking_load_kn": 600.0, "material": "wire"}
    )
    berth = berth_document()
    berth["berthing"]["hooks"][0]["count"] = 3
    assert state("line-materials", ship=ship, berth=berth) == "needs agreement"


# Cargo and gas


@pytest.mark.parametrize(
    ("deadweight", "built", "word"),
    # SOLAS II-2/4.5.5.1 via MSC.365(93): from 20,000 t, and from 8,000 t for ships built from 2016 on.
    [
        (19_999.0, 2010, "within"),
        (20_000.0, 2010, "outside"),
        (7_999.0, 2016, "within"),
        (8_000.0, 2016, "outside"),
        (8_000.0, 2015, "within"),
    ],
)
def test_the_size_from_which_inert_gas_must_be_fitted(deadweight: float, built: int, word: str) -> None:
    ship = ship_document()
    ship["particulars"] |= {"summer_deadweight_t": deadweight, "year_built": built}
    ship["berthing"]["equipment"]["inert_gas"] = "not fitted"
    assert state("inert-gas-rule", ship=ship) == word


@pytest.mark.parametrize(
    ("asked", "fitted", "word"),
    [
        ("required", "fitted", "within"),
        ("required", "not fitted", "outside"),
        ("required", None, "not decided"),
        ("not required", "not fitted", "within"),
        (None, "fitted", "not decided"),
    ],
)
def test_equipment_that_a_terminal_requires(asked: str | None, fitted: str | None, word: str) -> None:
    ship = changed(ship_document(), "berthing.equipment.inert_gas", fitted)
    ship.pop("inert_gas_delivery_m3_per_h")
    berth = changed(berth_document(), "berthing.services.inert_gas", asked)
    assert state("inert-gas", ship=ship, berth=berth) == word
    if asked != "not required":
        ship = changed(ship_document(), "berthing.equipment.vapour_return", fitted)
        berth = changed(berth_document(), "berthing.services.vapour_return", asked)
        assert state("vapour-return", ship=ship, berth=berth) == word


@pytest.mark.parametrize(
    ("planned", "may", "fitted", "word"),
    [
        ("none", "not allowed", "not fitted", "within"),
        ("crude oil washing", "not allowed", "fitted", "outside"),
        ("crude oil washing", "crude oil washing only", "fitted", "within"),
        ("crude oil washing", "crude oil washing only", "not fitted", "outside"),
        ("crude oil washing", "allowed", None, "not decided"),
        ("water washing", "crude oil washing only", "fitted", "outside"),
        ("water washing", "allowed", "not fitted", "within"),
        (None, "allowed", "fitted", "not decided"),
        ("water washing", None, "fitted", "not decided"),
    ],
)
def test_tank_washing(planned: str | None, may: str | None, fitted: str | None, word: str) -> None:
    visit = changed(visit_document(), "tank_washing", planned)
    berth = changed(berth_document(), "berthing.services.tank_washing", may)
    ship = changed(ship_document(), "berthing.equipment.crude_oil_washing", fitted)
    assert state("tank-washing", visit=visit, berth=berth, ship=ship) == word


@pytest.mark.parametrize(
    ("name", "word"), [("Gas oil", "within"), ("  GAS   OIL ", "within"), ("Crude oil", "outside")]
)
def test_the_cargo_is_looked_up_by_its_name(name: str, word: str) -> None:
    assert state("cargo", cargo=cargo_facts(name=name)) == word


def test_a_berth_that_names_no_cargo_has_not_decided() -> None:
    assert state("cargo", berth=changed(berth_document(), "berthing.cargoes", [])) == "not decided"


def test_a_cargo_heavier_than_she_carries_is_outside() -> None:
    assert state("cargo-weight", cargo=cargo_facts(quantity_m3=47_500.0 / 0.845 + 1.0)) == "outside"


# Papers and hours


@pytest.mark.parametrize(
    ("valid_to", "word"),
    # Arrives on 14 April, leaves 36 h later: on the 15th at noon.
    [("2031-04-16", "within"), ("2031-04-15", "outside"), ("2030-12-31", "outside"), (None, "not decided")],
)
def test_certificates_are_in_date_over_the_whole_stay(valid_to: str | None, word: str) -> None:
    ship = ship_document()
    if valid_to is None:
        del ship["berthing"]["certificates"][0]
    else:
        ship["berthing"]["certificates"][0]["valid_to"] = valid_to
    assert state("certificates", ship=ship) == word


def test_a_certificate_that_is_not_asked_for_may_be_out_of_date() -> None:
    ship = changed(ship_document(), "berthing.certificates.2.valid_to", "2020-01-01")
    assert state("certificates", ship=ship) == "within"


@pytest.mark.parametrize(
    ("day", "rise", "set_"),
    # Greenwich, UTC, as its almanac office tabulates them; from memory, to the minute.
    [(date(2031, 6, 21), 3 + 43 / 60, 20 + 21 / 60), (date(2031, 12, 21), 8 + 4 / 60, 15 + 53 / 60)],
)
def test_sunrise_and_sunset_at_greenwich(day: date, rise: float, set_: float) -> None:
    found = daylight_hours(np.array(day.timetuple().tm_yday), np.array(51.48), np.array(0.0))
    assert float(found[0]) == pytest.approx(rise, abs=4 / 60)
    assert float(found[1]) == pytest.approx(set_, abs=4 / 60)


def test_the_day_lasts_about_twelve_hours_on_the_equator_and_all_or_nothing_at_the_poles() -> None:
    rise, set_ = daylight_hours(np.array([80, 172, 355]), np.array([0.0, 85.0, 85.0]), np.zeros(3))
    assert (set_ - rise)[0] == pytest.approx(12.1, abs=0.05)  # refraction adds some minutes
    assert (set_ - rise)[1:] == pytest.approx([24.0, 0.0])


@pytest.mark.parametrize(("hour", "wait"), [(5.0, 1.0), (6.0, 0.0), (18.0, 0.0), (18.5, 11.5), (0.0, 6.0)])
def test_the_wait_for_daylight(hour: float, wait: float) -> None:
    assert float(hours_until_daylight(np.array(hour), np.array(6.0), np.array(18.0))) == pytest.approx(wait)


def test_coming_in_the_dark_needs_agreement_and_day_and_night_berths_do_not_ask() -> None:
    night = changed(visit_document(), "arrival_hour_h", 2.0)
    assert state("daylight", visit=night) == "needs agreement"
    always = changed(berth_document(), "berthing.services.berthing_hours", "day and night")
    assert not [row for row in fit_of(fit_case({"visit": night, "berth": always})).rows if row.key == "daylight"]


# Own rules


def test_each_rule_of_the_terminal_is_a_row_and_the_worst_counts() -> None:
    berth = berth_document()
    berth["berthing"]["own_rules"] = [
        {"name": "Age", "fact": "age in years", "comparison": "at most", "number": 10.0, "otherwise": "by agreement"},
        {"name": "Thin oil", "fact": "cargo viscosity in mm²/s", "comparison": "at least", "number": 5.0},
    ]
    fit = fit_of(fit_case({"berth": berth}))
    assert (row_of(fit, "own-rule-1").state, row_of(fit, "own-rule-2").state) == ("needs agreement", "outside")
    assert (fit.state, fit.deciding) == ("outside", "own-rules")


# Arrays


def test_many_pairs_at_once_come_out_as_each_alone() -> None:
    random = np.random.default_rng(5)
    cases = []
    for _ in range(40):
        ship, berth, visit = ship_document(), berth_document(), visit_document()
        ship["particulars"]["length_overall_m"] = float(random.uniform(100, 300))
        ship["berthing"]["hull"]["bow_to_manifold_m"] = float(random.uniform(50, 180))
        visit["arrival_draught_m"] = float(random.uniform(8, 18))
        if random.random() < 0.3:
            del ship["berthing"]
        if random.random() < 0.3:
            berth["berthing"]["own_rules"] = berth["berthing"]["own_rules"] * 3
        if random.random() < 0.3:
            berth["arms"] = berth["arms"] * 2
        cases.append(fit_case({"ship": ship, "berth": berth, "visit": visit}))
    together = verdict_of(judge_all(pairs_of(cases)))
    for row, case in enumerate(cases):
        alone = verdict_of(judge_all(pairs_of([case])))
        assert (alone.overall[0], alone.deciding[0], alone.undecided[0]) == (
            together.overall[row],
            together.deciding[row],
            together.undecided[row],
        )
