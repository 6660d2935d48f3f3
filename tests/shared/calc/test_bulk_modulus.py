"""The bulk modulus that follows from an oil's density, against measured speeds of sound and by hand."""

import math

import numpy as np
import pytest

from shared.calc.bulk_modulus import bulk_modulus_at
from shared.calc.density import OilGroup, density_at
from shared.calc.errors import InputError, OutOfRangeError
from shared.calc.units import to_si
from tests.array_checks import check_array_answer


@pytest.mark.parametrize(
    ("density_15", "celsius", "compressed_per_gpa"),
    # API MPMS 11.2.1M by hand, ρ in kg/L: F = 1e-6 exp(-1.6208 + 0.00021592 t + (0.87096 + 0.0042092 t)/ρ²) 1/kPa
    [(850.0, 15.0, 0.7228), (740.0, 20.0, 1.1361), (840.0, 20.0, 0.7690), (950.0, 60.0, 0.6956)],
)
def test_compressibility_at_constant_temperature(density_15: float, celsius: float, compressed_per_gpa: float) -> None:
    found = bulk_modulus_at(density_15, to_si(celsius, "°C"), "refined product")
    assert 1e9 / found.isothermal_pa == pytest.approx(compressed_per_gpa, rel=3e-4)


@pytest.mark.parametrize(
    ("group", "density_15", "celsius", "speed"),
    # Speeds of sound, from memory: kerosene 1,324 m/s at 25 °C and gasoline 1,250 m/s (tables of handbooks), gas oil
    # about 1,370 m/s at 20 °C (injection studies)
    [
        ("refined product", 810.0, 25.0, 1324.0),
        ("refined product", 740.0, 20.0, 1250.0),
        ("refined product", 840.0, 20.0, 1370.0),
    ],
)
def test_speed_of_sound_is_the_measured_one(group: OilGroup, density_15: float, celsius: float, speed: float) -> None:
    kelvin = to_si(celsius, "°C")
    found = bulk_modulus_at(density_15, kelvin, group)
    density = float(density_at(density_15, kelvin, group).density_kg_per_m3)
    assert math.sqrt(float(found.bulk_modulus_pa) / density) == pytest.approx(speed, rel=0.025)


def test_crude_and_fuel_oil_lie_in_their_usual_range() -> None:
    # 1.3 to 1.7 GPa, from memory of hydraulics texts
    for density_15 in (840.0, 870.0, 900.0):
        assert 1.3e9 < bulk_modulus_at(density_15, to_si(30.0, "°C"), "crude oil").bulk_modulus_pa < 1.75e9


def test_a_quick_change_meets_more_than_a_slow_one_and_heat_softens() -> None:
    kelvin = to_si(np.array([0.0, 30.0, 60.0, 90.0]), "°C")
    found = bulk_modulus_at(860.0, kelvin, "crude oil")
    ratio = found.bulk_modulus_pa / found.isothermal_pa
    assert (ratio > 1.1).all()
    assert (ratio < 1.3).all()  # specific heats of liquid hydrocarbons, at constant pressure over constant volume
    assert (np.diff(found.bulk_modulus_pa) < 0.0).all()


def test_arrays_answer_as_single_numbers() -> None:
    check_array_answer(
        lambda rho, t: bulk_modulus_at(rho, t, "crude oil").bulk_modulus_pa,
        [700.0, 850.0, 1000.0],
        [280.0, 300.0, 350.0],
    )


def test_outside_its_range_nothing_is_worked_out() -> None:
    with pytest.raises(OutOfRangeError, match=r"Density at 15 °C \(crude oil\) is 620 kg/m³; allowed: 638 to 1,074"):
        bulk_modulus_at(620.0, 300.0, "crude oil")
    with pytest.raises(OutOfRangeError, match=r"Temperature is 120 °C; allowed: -30 to 90 °C\. State the bulk modulus"):
        bulk_modulus_at(900.0, to_si(120.0, "°C"), "refined product")
    with pytest.raises(InputError, match="Oil group “naphtha” is not known"):
        bulk_modulus_at(700.0, 300.0, "naphtha")  # type: ignore[arg-type]
