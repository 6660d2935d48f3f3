"""Flange ratings against the published tables, between their temperatures and outside them."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.calc.errors import InputError, OutOfRangeError
from shared.calc.flange import FLANGES, flange_rating
from tests.array_checks import check_array_answer
from tests.reference_tables import reference_rows

BAR = 1e5


@pytest.mark.parametrize("row", reference_rows("flange_ratings"))
def test_published_ratings(row: dict[str, str]) -> None:
    answer = flange_rating(row["key"], float(row["temperature_c"]) + 273.15)
    assert answer.rating_pa_gauge / BAR == pytest.approx(float(row["rating_bar_gauge"]), rel=1e-9)


def test_between_temperatures_by_straight_lines() -> None:
    # ASME B16.5 allows linear interpolation between temperatures: (19.2 + 17.7)/2 at 75 °C.
    assert flange_rating("class 150", 348.15).rating_pa_gauge / BAR == pytest.approx(18.45, abs=1e-9)
    assert flange_rating("class 150", 300.0).rating_pa_gauge / BAR == pytest.approx(19.6, abs=1e-9)


@pytest.mark.parametrize("nominal", [10.0, 16.0])
@pytest.mark.parametrize(
    ("temperature_c", "proof_strength_mpa"),
    [(100, 195.0), (150, 185.0), (200, 175.0), (250, 160.0), (300, 145.0)],
)
def test_pn_ratings_follow_from_the_steel(nominal: float, temperature_c: float, proof_strength_mpa: float) -> None:
    # EN 1092-1 annex F, from memory: PS = PN R/(1.5 * 140 MPa), rounded down to 0.1 bar; R of P245GH by EN 10222-2,
    # from memory. Two recollections that agree, not a reading of the standard.
    expected = np.floor(10.0 * nominal * proof_strength_mpa / (1.5 * 140.0)) / 10.0
    rating = flange_rating(f"PN {nominal:g}", temperature_c + 273.15).rating_pa_gauge / BAR
    assert rating == pytest.approx(expected, abs=1e-9)


def test_what_was_not_read_in_the_standard_says_so() -> None:
    for key in FLANGES:
        answer = flange_rating(key, 300.0)
        assert answer.confirmed == ("from memory" not in answer.source)


@pytest.mark.parametrize("key", FLANGES)
@given(colder=st.floats(264.0, 570.0), step=st.floats(0.0, 100.0))
def test_a_warmer_flange_never_bears_more(key: str, colder: float, step: float) -> None:
    warmer = min(colder + step, 573.15)
    cold, warm = flange_rating(key, np.array([colder, warmer])).rating_pa_gauge
    assert warm <= cold


def test_array_answers() -> None:
    for key in FLANGES:
        check_array_answer(lambda t, key=key: flange_rating(key, t).rating_pa_gauge, [264.0, 300.0, 348.15, 573.15])


def test_outside_the_table_is_refused() -> None:
    with pytest.raises(
        OutOfRangeError, match=r"Temperature of the class 150 flange is 301.85 °C; allowed: -29 to 300 °C"
    ):
        flange_rating("class 150", 575.0)
    with pytest.raises(OutOfRangeError, match=r"PN 16 flange is -13.15 °C; allowed: -10 to 300 °C. State the rating"):
        flange_rating("PN 16", 260.0)
    with pytest.raises(
        InputError, match="Flange “class 600” is not known; use one of class 150, class 300, PN 10, PN 16"
    ):
        flange_rating("class 600", 300.0)
