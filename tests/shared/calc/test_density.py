"""Density over temperature against printed factors, hand-worked figures and its own inverse."""

from typing import get_args

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from shared.calc.density import _BANDS, OilGroup, density_at, density_at_15_c
from shared.calc.errors import InputError, OutOfRangeError
from tests.array_checks import check_array_answer
from tests.reference_tables import reference_numbers, reference_rows

GROUPS: tuple[OilGroup, ...] = get_args(OilGroup)
densities = st.floats(801.0, 1163.0)
temperatures = st.floats(223.15, 423.15)


@pytest.mark.parametrize("row", reference_numbers("mpms_11_1_factors"))
def test_factors_read_from_the_printed_table_of_products(row: dict[str, float]) -> None:
    answer = density_at(row["density_at_15_c_kg_per_m3"], row["temperature_c"] + 273.15, "refined product")
    assert answer.volume_correction_factor == pytest.approx(row["factor"], abs=6e-5)


@pytest.mark.parametrize("row", reference_numbers("mpms_11_1_crude_by_hand"))
def test_crude_densities_worked_by_hand(row: dict[str, float]) -> None:
    answer = density_at(row["density_at_15_c_kg_per_m3"], row["temperature_c"] + 273.15, "crude oil")
    assert answer.volume_correction_factor == pytest.approx(row["factor"], rel=1e-5)
    assert answer.density_kg_per_m3 == pytest.approx(row["density_kg_per_m3"], rel=1e-5)


def test_constants_are_those_published_for_fahrenheit_times_1_8() -> None:
    published = reference_rows("mpms_11_1_constants")
    ours = [(group, band) for group, bands in _BANDS.items() for band in bands]
    for row, (group, band) in zip(published, ours, strict=True):
        assert row["group"] == group
        assert band.least == float(row["least_density_kg_per_m3"])
        fahrenheit = [float(row[name]) for name in ("k0_f", "k1_f", "k2_f")]
        assert [band.k0, band.k1, band.k2] == pytest.approx([1.8 * k for k in fahrenheit], rel=1e-12)


@pytest.mark.parametrize("group", GROUPS)
def test_at_15_c_the_density_is_itself(group: OilGroup) -> None:
    answer = density_at(850.0, 288.15, group)
    assert answer.density_kg_per_m3 == pytest.approx(850.0, rel=1e-15)
    assert answer.volume_correction_factor == 1.0


def test_bands_of_products_meet() -> None:
    # The constants are printed to seven figures; 4e-8 of 1e-3 1/K is what that leaves at a border.
    for border in (770.352, 787.5195, 838.3127):
        below, above = (density_at(border + step, 300.0, "refined product").expansion_per_k for step in (-1e-6, 1e-6))
        assert below == pytest.approx(above, abs=4e-8)


@pytest.mark.parametrize("group", GROUPS)
@given(density=densities, colder=temperatures, warmer=temperatures)
def test_warmer_oil_is_lighter(group: OilGroup, density: float, colder: float, warmer: float) -> None:
    assume(warmer - colder > 1e-3)
    cold, warm = (density_at(density, k, group).density_kg_per_m3 for k in (colder, warmer))
    assert warm < cold


@pytest.mark.parametrize("group", GROUPS)
@given(density=densities, temperature=temperatures)
def test_density_goes_to_a_temperature_and_back(group: OilGroup, density: float, temperature: float) -> None:
    there = density_at(density, temperature, group).density_kg_per_m3
    assert density_at_15_c(float(there), temperature, group) == pytest.approx(density, abs=0.005)


@given(density=st.floats(611.0, 800.0), temperature=temperatures)
def test_light_products_go_to_a_temperature_and_back(density: float, temperature: float) -> None:
    there = density_at(density, temperature, "refined product").density_kg_per_m3
    assert density_at_15_c(float(there), temperature, "refined product") == pytest.approx(density, abs=0.005)


@pytest.mark.parametrize("group", GROUPS)
def test_array_answers(group: OilGroup) -> None:
    density, temperature = np.array([801.0, 838.3127, 860.0, 1000.0]), np.array([250.0, 288.15, 330.0, 420.0])
    check_array_answer(lambda d, t: density_at(d, t, group).density_kg_per_m3, density, temperature)
    check_array_answer(lambda d, t: density_at_15_c(d, t, group), density, np.full(4, 300.0))


def test_shapes_fit_together() -> None:
    answer = density_at(np.array([[800.0], [900.0]]), np.array([280.0, 300.0, 320.0]), "crude oil")
    assert answer.density_kg_per_m3.shape == (2, 3)


@pytest.mark.parametrize(
    ("density", "temperature", "group", "sentence"),
    [
        (610.0, 300.0, "crude oil", r"Density at 15 °C \(crude oil\) is 610 kg/m³; allowed: 610.6 to 1,163.5 kg/m³"),
        (800.0, 300.0, "lubricating oil", r"is 800 kg/m³; allowed: 800.9 to 1,163.5 kg/m³"),
        (1164.0, 300.0, "refined product", r"is 1,164 kg/m³; allowed: 610.6 to 1,163.5 kg/m³"),
        (850.0, 423.2, "crude oil", r"Temperature is 150.05 °C; allowed: -50 to 150 °C"),
        (850.0, float("nan"), "crude oil", r"Temperature is nan, which is not a finite number"),
    ],
)
def test_out_of_range_is_refused(density: float, temperature: float, group: OilGroup, sentence: str) -> None:
    with pytest.raises(OutOfRangeError, match=sentence):
        density_at(density, temperature, group)


def test_a_measured_density_that_no_density_at_15_c_explains_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match=r"belongs to a density at 15 °C outside 610.6 to 1163.5 kg/m³"):
        density_at_15_c(612.0, 280.0, "crude oil")
    with pytest.raises(OutOfRangeError, match=r"Measured density is 1.2 kg/m³; allowed: 450 to 1,250 kg/m³"):
        density_at_15_c(1.2, 280.0, "crude oil")


def test_an_unknown_group_is_refused() -> None:
    with pytest.raises(InputError, match="Oil group “palm oil” is not known; use one of crude oil, refined product"):
        density_at(850.0, 300.0, "palm oil")  # type: ignore[arg-type]
