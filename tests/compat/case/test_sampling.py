"""How sure a rate is: the spread over stated tolerances, against closed forms of the same spread.

Where pumps H = 150 - 1.2e-6 Q² (at 1,000 rpm) meet 40 + 2.0e-6 Q², Q in m³/h, the rate under an agreed pressure is a
square root of it, so that the tenth part of the pressures gives the tenth part of the rates.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compat.case.answer import answer_case, binding_of_each
from compat.case.case_file import CaseError, case_document, check_case
from compat.case.sampling import SEED, Spread, spread_of
from compat.case.tolerances import changed, number_at, place_of, written
from tests.compat.case.test_answer import answered, flow_at_pressure, freed, put
from tests.compat.case.test_case_file import assess
from tests.compat.case.test_other_solvers import flow
from tests.compat.systems import UNLIKE, Document, closed_form, document, points, pump

PRESSURE = "agreed.manifold_pressure_bar_gauge"
AT_REST_BAR = 30.0 * 850.0 * 9.80665 / 1e5  # the shore stands 30 m over the manifold


def spread(stated: Document, *tolerances: Document, samples: int = 1024, seed: int = SEED) -> Spread:
    """Return the spread of a document with these tolerances."""
    found = spread_of(check_case(put(stated, "tolerances", list(tolerances)), "case"), samples, seed)
    assert found is not None
    return found


def refused(stated: Document, *tolerances: Document, samples: int = 64) -> str:
    """Return the one sentence with which a tolerance is refused."""
    with pytest.raises(CaseError) as found:
        spread(stated, *tolerances, samples=samples)
    (sentence,) = found.value.problems
    return sentence


SEVERAL = (
    {"key": "cargo.kinematic_viscosity_mm2_per_s", "least": 5.0, "greatest": 40.0},
    {"key": "berth.shore_line[1].roughness_mm", "least": 0.05, "greatest": 0.4},
    {"key": "operation.pumps[0].tank_surface_elevation_m", "plus_minus": 1.5},
    {"key": "cargo.density_kg_per_m3", "plus_minus_percent": 1.0},
)


def test_the_spread_of_a_square_root_in_closed_form() -> None:
    """Agreed pressure anywhere between 5 and 7 bar."""
    found = spread(freed(closed_form(2), 6.0), {"key": PRESSURE, "least": 5.0, "greatest": 7.0})
    for share, rate in ((0.1, found.rate_p10_m3_per_h), (0.5, found.rate_p50_m3_per_h), (0.9, found.rate_p90_m3_per_h)):
        assert rate == pytest.approx(flow_at_pressure(5.0 + 2.0 * share), rel=1e-3)
    assert found.binding == {"agreed-manifold-pressure": 1.0}
    assert found.no_point == 0.0


def test_the_chance_that_a_limit_binds_in_closed_form() -> None:
    """A highest rate that is below the rate at 6 bar in three quarters of its range."""
    at_pressure = flow_at_pressure(6.0)
    stated = put(freed(closed_form(2), 6.0), "agreed.highest_rate_m3_per_h", at_pressure)
    tolerance = {
        "key": "agreed.highest_rate_m3_per_h",
        "least": at_pressure - 300.0,
        "greatest": at_pressure + 100.0,
    }
    found = spread(stated, tolerance)
    assert found.binding["agreed-highest-rate"] == pytest.approx(0.75, abs=2e-3)
    assert found.binding["agreed-manifold-pressure"] == pytest.approx(0.25, abs=2e-3)
    assert found.rate_p50_m3_per_h == pytest.approx(at_pressure - 100.0, rel=1e-3)
    assert found.rate_p90_m3_per_h == pytest.approx(at_pressure, rel=1e-9)


def test_what_each_number_does_to_the_rate_in_closed_form() -> None:
    """Between 5 and 7 bar the lowest tenth lies about 5.1 bar; a number that limits nothing moves nothing."""
    found = spread(
        freed(closed_form(2), 6.0),
        {"key": PRESSURE, "least": 5.0, "greatest": 7.0},
        {"key": "cargo.density_kg_per_m3", "plus_minus": 1e-3},
    )
    pressure, density = found.influences
    assert pressure.key == PRESSURE
    assert pressure.rate_at_low_end_m3_per_h == pytest.approx(flow_at_pressure(5.1), rel=1e-3)
    assert pressure.rate_at_high_end_m3_per_h == pytest.approx(flow_at_pressure(6.9), rel=1e-3)
    assert density.rate_at_low_end_m3_per_h == pytest.approx(density.rate_at_high_end_m3_per_h, rel=5e-3)
    assert found.percentiles_m3_per_h[0] == pytest.approx(flow_at_pressure(5.0), rel=1e-3)
    assert list(found.percentiles_m3_per_h) == sorted(found.percentiles_m3_per_h)
    assert found.percentiles_m3_per_h[10] == found.rate_p10_m3_per_h


def test_samples_without_an_operating_point_are_counted_and_make_no_rate() -> None:
    """Below the pressure at rest nothing moves."""
    found = spread(freed(closed_form(2), 3.0), {"key": PRESSURE, "least": 2.0, "greatest": 4.0})
    assert found.no_point == pytest.approx((AT_REST_BAR - 2.0) / 2.0, abs=2e-3)
    assert found.rate_p10_m3_per_h == 0.0
    assert sum(found.binding.values()) + found.no_point == pytest.approx(1.0, abs=1e-12)


def test_the_same_seed_gives_the_same_answer_and_another_one_nearly() -> None:
    stated = freed(document(UNLIKE), 8.0)
    first, again = spread(stated, *SEVERAL, samples=128), spread(stated, *SEVERAL, samples=128)
    assert first == again
    other = spread(stated, *SEVERAL, samples=128, seed=7)
    assert other.seed == 7
    assert other.rate_p10_m3_per_h != first.rate_p10_m3_per_h
    assert other.rate_p50_m3_per_h == pytest.approx(first.rate_p50_m3_per_h, rel=0.02)


def test_the_middle_lies_near_the_answer_and_the_shares_make_one() -> None:
    stated = freed(document(UNLIKE), 8.0)
    tolerances = ({"key": PRESSURE, "plus_minus": 0.4}, *SEVERAL[2:])
    found = spread(stated, *tolerances, samples=256)
    assert found.rate_p50_m3_per_h == pytest.approx(flow(answered(stated)), rel=0.01)
    assert found.rate_p10_m3_per_h < found.rate_p50_m3_per_h < found.rate_p90_m3_per_h
    assert sum(found.binding.values()) + found.no_point == pytest.approx(1.0, abs=1e-12)


def test_a_tolerance_of_next_to_nothing_leaves_the_answer() -> None:
    found = spread(freed(closed_form(2), 6.0), {"key": PRESSURE, "plus_minus": 1e-9}, samples=8)
    for rate in (found.rate_p10_m3_per_h, found.rate_p50_m3_per_h, found.rate_p90_m3_per_h):
        assert rate == pytest.approx(flow_at_pressure(6.0), rel=1e-8)


@given(st.floats(0.05, 1.5), st.floats(1.1, 2.0))
@settings(max_examples=10)
def test_a_wider_tolerance_spreads_the_rate_wider(width: float, wider: float) -> None:
    narrow, wide = (
        spread(freed(closed_form(2), 6.0), {"key": PRESSURE, "plus_minus": half}, samples=64)
        for half in (width, width * wider)
    )
    assert wide.rate_p10_m3_per_h < narrow.rate_p10_m3_per_h
    assert wide.rate_p90_m3_per_h > narrow.rate_p90_m3_per_h


def test_every_form_of_a_tolerance_means_what_it_says() -> None:
    stated = freed(closed_form(2), 6.0)
    forms: list[Document] = [{"least": 5.4, "greatest": 6.6}, {"plus_minus": 0.6}, {"plus_minus_percent": 10.0}]
    first, *others = (spread(stated, {"key": PRESSURE, **form}, samples=64) for form in forms)
    for other in others:
        assert other.rate_p10_m3_per_h == pytest.approx(first.rate_p10_m3_per_h, rel=1e-9)
        assert other.rate_p90_m3_per_h == pytest.approx(first.rate_p90_m3_per_h, rel=1e-9)


def test_stated_speeds_are_sampled_too_and_bind_as_stated() -> None:
    found = spread(document(UNLIKE), *SEVERAL[2:], samples=32)
    assert found.binding == {"stated": 1.0}
    assert found.rate_p10_m3_per_h < flow(answered(document(UNLIKE))) < found.rate_p90_m3_per_h


def test_samples_are_answered_as_each_case_alone() -> None:
    case = check_case(freed(document(UNLIKE), 8.0), "case")
    cases = [
        changed(case, {place_of(PRESSURE): pressure, place_of("cargo.kinematic_viscosity_mm2_per_s"): viscosity})
        for pressure, viscosity in ((4.0, 2.0), (8.0, 60.0), (30.0, 700.0), (1.0, 5.0))
    ]
    rates, keys = binding_of_each(cases)
    for one, rate, key in zip(cases, rates, keys, strict=True):
        alone = answer_case(check_case(case_document(one), "alone"))
        assert rate == pytest.approx(alone.total_flow_m3_per_h or 0.0, rel=1e-9)
        assert key == (alone.binding or "")


def test_without_tolerances_there_is_no_spread() -> None:
    assert spread_of(check_case(freed(closed_form(2), 6.0), "case")) is None


def test_the_number_of_samples_is_a_power_of_two_at_least_the_one_asked_for() -> None:
    stated, tolerance = freed(closed_form(2), 6.0), {"key": PRESSURE, "plus_minus": 0.5}
    assert [spread(stated, tolerance, samples=asked).samples for asked in (2, 3, 100)] == [2, 4, 128]


@pytest.mark.parametrize("samples", [0, 1, 16_385, -5])
def test_a_number_of_samples_that_is_not_allowed_is_refused(samples: int) -> None:
    tolerance = {"key": PRESSURE, "plus_minus": 0.5}
    sentence = refused(freed(closed_form(2), 6.0), tolerance, samples=samples)
    assert sentence == f"samples is {samples}; allowed: 2 to 16,384."


BAD: list[tuple[str, Document, str]] = [
    (
        "an end out of range",
        {"key": "cargo.density_kg_per_m3", "least": 400.0, "greatest": 900.0},
        (
            "tolerance of cargo.density_kg_per_m3: cargo.density_kg_per_m3 is 400.0 kg/m³; allowed: 500 to 1,200 kg/m³."
            " Water is 1000 kg/m³; a density in t/m³ is to be multiplied by 1000."
        ),
    ),
    (
        "an end that contradicts another value",
        {"key": "ship.pumps[0].least_speed_rpm", "least": 350.0, "greatest": 1300.0},
        (
            "tolerance of ship.pumps[0].least_speed_rpm: ship.pumps[0]: least_speed_rpm 1300 rpm is above"
            " greatest_speed_rpm 1100 rpm."
        ),
    ),
    (
        "a part of nothing",
        {"key": "operation.pumps[0].tank_gas_pressure_bar_gauge", "plus_minus_percent": 5.0},
        (
            "tolerances: operation.pumps[0].tank_gas_pressure_bar_gauge is 0, and a part of it is nothing; state"
            " plus_minus."
        ),
    ),
    (
        "not a number",
        {"key": "ship.name", "plus_minus": 1.0},
        "tolerances: ship.name is not a number that this case states; correct the key.",
    ),
    (
        "a number that is not stated",
        {"key": "agreed.start_rate_m3_per_h", "plus_minus": 1.0},
        "tolerances: agreed.start_rate_m3_per_h is not a number that this case states; correct the key.",
    ),
    (
        "a place that is not there",
        {"key": "ship.pumps[9].elevation_m", "plus_minus": 1.0},
        "tolerances: ship.pumps[9].elevation_m is not a number that this case states; correct the key.",
    ),
    (
        "not a key at all",
        {"key": "Ship's draught", "plus_minus": 1.0},
        ("Ship's draught is not the key of a number; write it as in cargo.density_kg_per_m3 or ship.pumps[0]."),
    ),
    (
        "least above greatest",
        {"key": PRESSURE, "least": 7.0, "greatest": 5.0},
        f"case: tolerances[0]: {PRESSURE}: least 7 is not below greatest 5.",
    ),
    (
        "least alone",
        {"key": PRESSURE, "least": 5.0},
        f"case: tolerances[0]: {PRESSURE}: state both least and greatest.",
    ),
    (
        "two forms at once",
        {"key": PRESSURE, "plus_minus": 0.5, "plus_minus_percent": 5.0},
        f"case: tolerances[0]: {PRESSURE}: state least and greatest, plus_minus, or plus_minus_percent: one of these.",
    ),
]


@pytest.mark.parametrize(("tolerance", "sentence"), [entry[1:] for entry in BAD], ids=[entry[0] for entry in BAD])
def test_each_mistake_gives_one_sentence(tolerance: Document, sentence: str) -> None:
    assert refused(freed(closed_form(2), 6.0), tolerance) == sentence


def test_tolerances_that_together_make_a_curve_rise_are_refused() -> None:
    """Each of the two heads may move so far alone, but not both against each other."""
    stated = freed(document([pump("P1", points([(0, 150), (1000, 147), (2000, 120)]))]), 8.0)
    heads = [{"key": f"ship.pumps[0].curves[0].points[{i}].head_m", "plus_minus": 2.9} for i in (0, 1)]
    assert all(spread(stated, one, samples=8).no_point == 0.0 for one in heads)
    assert refused(stated, *heads).startswith(
        "Within the tolerances, taken together: The curve at 1250 rpm: head does not fall from 14"
    )


@given(st.lists(st.from_regex(r"[a-z][a-z0-9_]{0,8}", fullmatch=True) | st.integers(0, 9999), min_size=1, max_size=5))
@settings(max_examples=40)
def test_a_written_place_reads_back(parts: list[str | int]) -> None:
    place = ("ship", *parts)
    assert place_of(written(place)) == place


def test_one_number_is_changed_and_the_case_stays_as_it_was() -> None:
    case = check_case(freed(document(UNLIKE), 8.0), "case")
    before = case_document(case)
    other = changed(case, {place_of("ship.pumps[1].discharge_line[0].length_m"): 61.5})
    assert number_at(other, "ship.pumps[1].discharge_line[0].length_m") == 61.5
    assert case_document(case) == before
    differing = put(before, "ship.pumps.1.discharge_line.0.length_m", 61.5)
    assert case_document(other) == differing


def run(tmp_path: Path, *options: str) -> Any:
    """Run the command on a case with a tolerance."""
    stated = put(freed(closed_form(2), 6.0), "tolerances", [{"key": PRESSURE, "plus_minus": 0.5}])
    return assess(tmp_path, json.dumps(stated), *options)


def test_the_command_tells_the_spread_with_its_seed_and_refuses_too_many_samples(tmp_path: Path) -> None:
    done = run(tmp_path, "--json", "--samples", "64", "--seed", "5")
    assert done.returncode == 0
    expected = spread(freed(closed_form(2), 6.0), {"key": PRESSURE, "plus_minus": 0.5}, samples=64, seed=5)
    assert json.loads(done.stdout)["spread"] == json.loads(json.dumps(asdict(expected)))
    text = run(tmp_path, "--samples", "64").stdout
    assert f"How sure: 64 samples over the stated tolerances (seed {SEED})" in text
    assert "agreed-manifold-pressure binds in 100.0 % of the samples" in text
    too_many = run(tmp_path, "--samples", "20000")
    assert too_many.returncode == 2
    assert too_many.stderr.strip() == "samples is 20000; allowed: 2 to 16,384."
