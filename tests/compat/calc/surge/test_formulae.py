"""Closed forms of surge against worked numbers, and their bad input."""

import numpy as np
import pytest

from compat.calc.surge.formulae import (
    MATERIALS,
    checked_wave_speed,
    joukowsky_head_m,
    michaud_head_m,
    restraint_factor,
    return_time_s,
    wave_speed_m_per_s,
)
from shared.calc.errors import InputError, OutOfRangeError
from shared.calc.units import GRAVITY_M_PER_S2
from tests.array_checks import check_array_answer


def test_wave_in_a_rigid_pipe_and_the_head_of_a_stop():
    # Chaudhry, Applied Hydraulic Transients, example 1-1 (from memory, recomputed): 0.5 m pipe, oil 900 kg/m³,
    # K 1.5 GPa, 0.4 m³/s stopped at once: a 1291 m/s, V 2.037 m/s, ΔH 268 m, Δp 2.367 MPa
    speed = wave_speed_m_per_s(1.5e9, 900.0, 0.5, 0.2, 400e9, 0.0)
    assert speed == pytest.approx(1291.0, rel=3e-4)
    velocity = 0.4 / (np.pi * 0.25 / 4.0)
    rise = joukowsky_head_m(speed, velocity)
    assert rise == pytest.approx(268.0, rel=3e-3)
    assert rise * 900.0 * GRAVITY_M_PER_S2 == pytest.approx(2.367e6, rel=1e-3)


def test_wave_in_an_elastic_pipe():
    # Inputs of an open course example: water, L 1200 m, D 0.6 m, e 12 mm, V 1.5 m/s, K 2.1 GPa, E 200 GPa;
    # recomputed: a 1173.5 m/s, 2L/a 2.045 s, ΔH 179.4 m
    speed = wave_speed_m_per_s(2.1e9, 1000.0, 0.6, 0.012, 200e9)
    assert speed == pytest.approx(1173.5, rel=3e-3)
    assert return_time_s(np.array([1200.0]), np.array([speed])) == pytest.approx(2.045, rel=3e-3)
    assert joukowsky_head_m(speed, 1.5) == pytest.approx(179.4, rel=3e-3)


@pytest.mark.parametrize(("inches", "wall_mm", "speed"), [(12, 9.5, 1190), (24, 9.5, 1091), (36, 12.7, 1071)])
def test_wave_speeds_of_oil_in_steel(inches, wall_mm, speed):
    # Oil 860 kg/m³, K 1.5 GPa, E 207 GPa, c1 = 1; recomputed beside the project, rounded to 1 m/s
    found = wave_speed_m_per_s(1.5e9, 860.0, inches * 0.0254, wall_mm / 1000.0, 207e9)
    assert found == pytest.approx(speed, abs=1.0)


def test_slow_closure_by_michaud():
    # Recomputed: L 3000 m, V 2.5 m/s in 30 s, 860 kg/m³: 4.3 bar
    head = michaud_head_m(np.array([3000.0]), np.array([2.5]), 30.0)
    assert head * 860.0 * GRAVITY_M_PER_S2 / 1e5 == pytest.approx(4.3, abs=0.05)


def test_restraint_of_steel():
    # Wylie & Streeter (1993), ch. 1 (from memory): 1 - µ², 1 - µ/2, 1
    assert restraint_factor("anchored throughout", 0.3) == pytest.approx(0.91)
    assert restraint_factor("anchored upstream", 0.3) == pytest.approx(0.85)
    assert restraint_factor("expansion joints", 0.3) == 1.0
    with pytest.raises(InputError, match="not known; use one of anchored throughout"):
        restraint_factor("glued", 0.3)


def test_stiffer_means_faster():
    modulus, _ = MATERIALS["carbon steel"]
    thick = wave_speed_m_per_s(1.5e9, 860.0, 0.5, 0.012, modulus)
    assert wave_speed_m_per_s(1.5e9, 860.0, 0.5, 0.006, modulus) < thick < np.sqrt(1.5e9 / 860.0)
    assert wave_speed_m_per_s(1.5e9, 860.0, 0.5, 0.012, 20e9) < thick


def test_arrays_answer_as_single_numbers():
    check_array_answer(
        wave_speed_m_per_s,
        [1.5e9, 1e9, 2.2e9],
        [860.0, 740.0, 998.0],
        [0.3, 0.5, 0.9],
        [0.008, 0.01, 0.012],
        [207e9, 193e9, 170e9],
        [1.0, 0.91, 0.85],
    )
    check_array_answer(joukowsky_head_m, [1100.0, 900.0], [1.0, 3.0])


@pytest.mark.parametrize("speed", [99.0, 1501.0, float("nan")])
def test_wave_speed_outside_its_range_is_refused(speed):
    with pytest.raises(OutOfRangeError, match=r"Wave speed in the jetty line is .*allowed: 100 to 1,500 m/s"):
        checked_wave_speed("Wave speed in the jetty line", speed)


def test_no_wall_is_refused():
    with pytest.raises(OutOfRangeError, match="Wall thickness is 0 mm; allowed"):
        wave_speed_m_per_s(1.5e9, 860.0, 0.5, 0.0, 207e9)
