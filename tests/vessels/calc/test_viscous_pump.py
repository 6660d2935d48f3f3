"""Viscosity correction against the worked example of the standard and its limits."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.calc.errors import OutOfRangeError
from tests.array_checks import check_array_answer
from tests.reference_tables import reference_numbers
from vessels.calc.viscous_pump import ViscousCorrection, parameter_b, viscous_correction, viscous_curve

# ANSI/HI 9.6.7, example 1 (water to oil): inputs read in two open code files headed as that example.
EXAMPLE = {"best_flow_m3_per_s": 110.0 / 3600.0, "best_head_per_stage_m": 77.0, "speed_rpm": 2950.0}
OIL = 120e-6


SMALL_PUMP = {"best_flow_m3_per_s": 10.0 / 3600.0, "best_head_per_stage_m": 30.0, "speed_rpm": 1450.0}


def correction_at(b: float) -> ViscousCorrection:
    """Return the correction of a small pump whose viscosity is chosen so that the parameter is ``b``."""
    at_100 = parameter_b(100e-6, *SMALL_PUMP.values())
    viscosity = 100e-6 * (b / float(at_100)) ** 2
    return viscous_correction(kinematic_viscosity_m2_per_s=viscosity, **SMALL_PUMP)


def test_example_of_the_standard() -> None:
    ratios = np.array([0.6, 0.8, 1.0, 1.2])
    found = viscous_correction(kinematic_viscosity_m2_per_s=OIL, flow_ratio=ratios, **EXAMPLE)
    # The standard prints B = 5.50 (from memory), in US units; 0.4 % is the rounding of its two coefficients.
    assert found.parameter_b == pytest.approx(5.50, rel=5e-3)
    assert found.flow_factor == pytest.approx(0.938, rel=5e-3)
    assert found.efficiency_factor == pytest.approx(0.738, rel=5e-3)
    assert found.head_factor == pytest.approx([0.958, 0.947, 0.938, 0.929], rel=5e-3)
    assert found.notes == ()


def test_example_as_a_curve() -> None:
    curve = viscous_curve(
        flow_m3_per_s=np.array([110.0 / 3600.0]),
        head_m=np.array([77.0]),
        efficiency=np.array([0.68]),
        kinematic_viscosity_m2_per_s=OIL,
        **EXAMPLE,
    )
    assert curve.flow_m3_per_s * 3600.0 == pytest.approx([103.2], rel=5e-3)
    assert curve.head_m == pytest.approx([72.2], rel=5e-3)
    assert curve.efficiency == pytest.approx([0.502], rel=5e-3)
    # Power of the example, SG 0.90, by the standard's Q H SG/(367 η): 36.4 kW.
    assert curve.efficiency is not None
    power = curve.flow_m3_per_s * 3600.0 * curve.head_m * 0.90 / (367.0 * curve.efficiency)
    assert power == pytest.approx([36.4], rel=5e-3)


@pytest.mark.parametrize("row", reference_numbers("hi_9_6_7_factors"))
def test_factors_over_the_parameter(row: dict[str, float]) -> None:
    found = correction_at(row["parameter_b"])
    assert found.flow_factor == pytest.approx(row["flow_factor"], abs=1e-3)
    assert found.head_factor == found.flow_factor
    assert found.efficiency_factor == pytest.approx(row["efficiency_factor"], abs=1e-3)


def test_the_two_unit_systems_of_the_standard_agree() -> None:
    # The US form, 26.6 with gpm and ft, read on the same pages: within the rounding of 16.5 and 26.6.
    gpm, feet = 110.0 / 0.2271247, 77.0 / 0.3048
    us = 26.6 * 120.0**0.5 * feet**0.0625 / (gpm**0.375 * 2950.0**0.25)
    assert parameter_b(OIL, *EXAMPLE.values()) == pytest.approx(us, rel=5e-3)


def test_a_large_cargo_pump_is_corrected_less_and_noted_as_outside_the_test_data() -> None:
    cargo_pump = {"best_flow_m3_per_s": 5000.0 / 3600.0, "best_head_per_stage_m": 150.0, "speed_rpm": 1100.0}
    found = viscous_correction(kinematic_viscosity_m2_per_s=np.array([100e-6, 300e-6, 700e-6]), **cargo_pump)
    # Worked by hand from the equations.
    assert found.parameter_b == pytest.approx([1.61, 2.78, 4.25], rel=5e-3)
    assert found.flow_factor == pytest.approx([0.999, 0.987, 0.963], rel=2e-3)
    assert found.efficiency_factor == pytest.approx([0.965, 0.893, 0.807], rel=2e-3)
    assert len(found.notes) == 2
    assert "Best flow is outside the test data behind the standard, 2.95 to 258.9 m³/h" in found.notes[0]
    assert "Head per stage is outside the test data" in found.notes[1]


def test_a_thin_liquid_is_not_corrected_and_says_so() -> None:
    found = viscous_correction(kinematic_viscosity_m2_per_s=1e-6, flow_ratio=np.array([0.0, 1.0, 2.0]), **EXAMPLE)
    assert found.flow_factor == 1.0
    assert found.efficiency_factor == 1.0
    assert found.head_factor.tolist() == [1.0, 1.0, 1.0]
    assert "no correction" in found.notes[0]


def test_no_jump_where_the_correction_begins() -> None:
    below, above = correction_at(1.0 - 1e-9), correction_at(1.0 + 1e-9)
    assert above.flow_factor == pytest.approx(below.flow_factor, abs=1e-8)
    assert above.efficiency_factor == pytest.approx(below.efficiency_factor, abs=1e-8)


def test_shut_off_head_is_kept() -> None:
    assert viscous_correction(kinematic_viscosity_m2_per_s=OIL, flow_ratio=0.0, **EXAMPLE).head_factor == 1.0


@given(viscosity=st.floats(1e-6, 3000e-6), more=st.floats(1.001, 1.3), ratio=st.floats(0.1, 1.5))
def test_a_thicker_liquid_never_pumps_better(viscosity: float, more: float, ratio: float) -> None:
    pump = {"best_flow_m3_per_s": 0.5, "best_head_per_stage_m": 120.0, "speed_rpm": 1500.0}
    thin, thick = (
        viscous_correction(kinematic_viscosity_m2_per_s=v, flow_ratio=ratio, **pump)
        for v in (viscosity, viscosity * more)
    )
    assert thick.flow_factor <= thin.flow_factor
    assert thick.head_factor <= thin.head_factor
    assert thick.efficiency_factor <= thin.efficiency_factor
    assert 0.0 < thick.efficiency_factor <= thick.flow_factor <= 1.0


def test_specific_speed_beyond_radial_pumps_is_noted() -> None:
    found = viscous_correction(
        kinematic_viscosity_m2_per_s=500e-6, best_flow_m3_per_s=0.06, best_head_per_stage_m=8.0, speed_rpm=2950.0
    )
    assert any("Specific speed is above 60" in note for note in found.notes)


def test_curve_without_efficiency_keeps_it_unknown_and_leaves_its_inputs_alone() -> None:
    flow, head = np.linspace(0.0, 0.05, 6), np.linspace(90.0, 50.0, 6)
    kept = flow.copy(), head.copy()
    curve = viscous_curve(flow_m3_per_s=flow, head_m=head, efficiency=None, kinematic_viscosity_m2_per_s=OIL, **EXAMPLE)
    assert curve.efficiency is None
    assert np.all(np.diff(curve.head_m) < 0.0)
    np.testing.assert_array_equal(flow, kept[0])
    np.testing.assert_array_equal(head, kept[1])


def test_array_answers() -> None:
    viscosity, flow, head, speed = (
        [1e-6, 50e-6, 900e-6],
        [0.03, 0.5, 1.5],
        [60.0, 120.0, 150.0],
        [2950.0, 1500.0, 900.0],
    )
    check_array_answer(parameter_b, viscosity, flow, head, speed)
    for name in ("flow_factor", "head_factor", "efficiency_factor"):
        check_array_answer(
            lambda v, q, h, n, r, name=name: getattr(
                viscous_correction(
                    kinematic_viscosity_m2_per_s=v,
                    best_flow_m3_per_s=q,
                    best_head_per_stage_m=h,
                    speed_rpm=n,
                    flow_ratio=r,
                ),
                name,
            ),
            viscosity,
            flow,
            head,
            speed,
            [0.0, 0.7, 1.3],
        )


def test_out_of_range_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match=r"Viscosity parameter B of the pump is 40.0; allowed: below 40"):
        correction_at(40.001)
    with pytest.raises(OutOfRangeError, match=r"Viscosity is 4,100 mm²/s; allowed: 0.1 to 4,000 mm²/s"):
        viscous_correction(kinematic_viscosity_m2_per_s=4.1e-3, **EXAMPLE)
    with pytest.raises(OutOfRangeError, match=r"Flow over best flow is 2.5; allowed: 0 to 2"):
        viscous_correction(kinematic_viscosity_m2_per_s=OIL, flow_ratio=2.5, **EXAMPLE)
    with pytest.raises(OutOfRangeError, match="Best flow of the pump is 0 m³/h"):
        viscous_curve(
            flow_m3_per_s=np.array([0.0]),
            head_m=np.array([80.0]),
            efficiency=None,
            kinematic_viscosity_m2_per_s=OIL,
            **(EXAMPLE | {"best_flow_m3_per_s": 0.0}),
        )
    with pytest.raises(OutOfRangeError, match="Pump speed is nan, which is not a finite number"):
        viscous_correction(kinematic_viscosity_m2_per_s=OIL, **(EXAMPLE | {"speed_rpm": float("nan")}))
