"""Limits from gas and static electricity against the figures of their sources."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.calc import gas_and_static as limits
from shared.calc.errors import OutOfRangeError
from shared.calc.units import to_si
from tests.array_checks import check_array_answer
from tests.reference_tables import reference_numbers

PER_HOUR = 1.0 / 3600.0


@pytest.mark.parametrize("row", reference_numbers("velocity_throughput"))
def test_throughput_at_a_velocity(row: dict[str, float]) -> None:
    flow = limits.flow_at_velocity(row["velocity_m_per_s"], row["bore_mm"] / 1000.0)
    assert flow / PER_HOUR == pytest.approx(row["flow_m3_per_h"], rel=0.006)


@pytest.mark.parametrize("row", reference_numbers("static_start_rates"))
def test_start_rates_of_static_accumulators(row: dict[str, float]) -> None:
    flow = limits.initial_filling_flow(row["nominal_bore_mm"] / 1000.0)
    assert flow / PER_HOUR == pytest.approx(row["flow_m3_per_h"], rel=0.15)


def test_bulk_rate_is_seven_times_the_start_rate() -> None:
    # The guide's 7 m/s over its 1 m/s.
    assert limits.bulk_filling_flow(0.254) == pytest.approx(7.0 * limits.initial_filling_flow(0.254), rel=1e-12)
    assert limits.bulk_filling_flow(0.254) / PER_HOUR == pytest.approx(1277, rel=5e-4)


def test_inert_gas_and_vents_at_125_percent() -> None:
    # 18,750 m³/h of inert gas allows 15,000 m³/h: SOLAS II-2/62 as applied by a national rule; vents MSC/Circ.585.
    assert limits.discharge_allowed_by_inert_gas(18_750 * PER_HOUR) / PER_HOUR == pytest.approx(15_000)
    assert limits.inert_gas_needed(15_000 * PER_HOUR) / PER_HOUR == pytest.approx(18_750)
    assert limits.loading_allowed_by_vents(10_000 * PER_HOUR) / PER_HOUR == pytest.approx(8_000)
    assert limits.vent_capacity_needed(8_000 * PER_HOUR) / PER_HOUR == pytest.approx(10_000)


@pytest.mark.parametrize(("pressure_psi", "factor"), [(0.0, 1.0), (6.0, 1.12), (11.22, 1.2244), (12.5, 1.25)])
def test_vapour_growth(pressure_psi: float, factor: float) -> None:
    # 33 CFR 154.2103(a), worked by hand.
    assert limits.vapour_growth_factor(to_si(pressure_psi, "psi")) == pytest.approx(factor, rel=1e-12)


@pytest.mark.parametrize(("conductivity_ps_per_m", "time_s"), [(50.0, 0.354), (10.0, 1.77), (1.0, 17.7), (0.5, 35.4)])
def test_relaxation_time_of_oil(conductivity_ps_per_m: float, time_s: float) -> None:
    # API RP 2003, from memory, for a relative permittivity of 2.
    assert limits.relaxation_time_s(conductivity_ps_per_m * 1e-12, 2.0) == pytest.approx(time_s, rel=1.5e-3)


def test_static_accumulators_lie_below_50_ps_per_m() -> None:
    assert limits.is_static_accumulator(np.array([1e-12, 49.9e-12, 50e-12, 1e-9])).tolist() == [
        True,
        True,
        False,
        False,
    ]


@given(flow=st.floats(0.0, 27.0), bore=st.floats(0.01, 3.0))
def test_velocity_and_flow_are_inverse(flow: float, bore: float) -> None:
    velocity = limits.velocity_of_flow(flow, bore)
    if velocity <= 30.0:
        assert limits.flow_at_velocity(float(velocity), bore) == pytest.approx(flow, rel=1e-12)


@pytest.mark.parametrize(
    "function",
    [
        limits.inert_gas_needed,
        limits.discharge_allowed_by_inert_gas,
        limits.vent_capacity_needed,
        limits.loading_allowed_by_vents,
        limits.initial_filling_flow,
        limits.bulk_filling_flow,
        limits.vapour_growth_factor,
    ],
)
def test_array_answers(function) -> None:  # type: ignore[no-untyped-def]
    check_array_answer(function, [0.1, 0.25, 0.6])


def test_array_answers_of_two_inputs() -> None:
    check_array_answer(limits.flow_at_velocity, [1.0, 7.0], [0.2, 0.3])
    check_array_answer(limits.velocity_of_flow, [1.0, 0.0], [0.2, 0.3])
    check_array_answer(limits.relaxation_time_s, [1e-12, 1e-9], [2.0, 2.4])


def test_out_of_range_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="Inert gas delivery is -3,600 m³/h; allowed: 0 to 100,000 m³/h"):
        limits.discharge_allowed_by_inert_gas(-1.0)
    with pytest.raises(OutOfRangeError, match="Bore is 5 mm; allowed: 10 to 3,000 mm"):
        limits.initial_filling_flow(0.005)
    with pytest.raises(OutOfRangeError, match="Conductivity in S/m is 0; allowed: 1e-15 to 1"):
        limits.relaxation_time_s(0.0, 2.0)
    with pytest.raises(OutOfRangeError, match=r"Relative permittivity is 0.5; allowed: 1 to 100"):
        limits.relaxation_time_s(1e-12, 0.5)
    with pytest.raises(OutOfRangeError, match="allowed: 0 to 25 psi"):
        limits.vapour_growth_factor(to_si(30.0, "psi"))
    with pytest.raises(OutOfRangeError, match="Velocity is 31 m/s"):
        limits.flow_at_velocity(31.0, 0.3)
