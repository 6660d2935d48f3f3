"""Shaft power: Crane's example, efficiency carried to other speeds, and what is not known."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.calc.curve import Pieces, constant_pieces, pieces_through, stack_pieces
from tests.array_checks import check_array_answer
from tests.reference_tables import reference_numbers
from vessels.calc.power import PowerData, shaft_power_w

HOUR_S = 3600.0
FLOWS, EFFICIENCIES = [0.1, 0.3, 0.5], [0.5, 0.8, 0.7]


def data(efficiency: Pieces, *, known: bool = True, speed_rpm: float = 1000.0, count: int = 1) -> PowerData:
    """Alike pumps of one efficiency curve."""
    return PowerData(
        np.full(count, known),
        stack_pieces([efficiency] * count),
        np.full(count, speed_rpm),
        np.full(count, np.inf),
    )


def power_w(flow: float, head: float, speed: float = 1000.0, density: float = 900.0) -> float:
    """Return the power of the pump with the curve of this file."""
    return float(
        shaft_power_w(
            data(pieces_through(FLOWS, EFFICIENCIES)),
            np.array([flow]),
            np.array([head]),
            np.array([speed]),
            np.array([density]),
        )[0]
    )


@pytest.mark.parametrize("row", reference_numbers("shaft_power"))
def test_shaft_power_of_cranes_example(row: dict[str, float]) -> None:
    found = shaft_power_w(
        data(constant_pieces(row["efficiency_percent"] / 100.0)),
        np.array([row["flow_m3_per_h"] / HOUR_S]),
        np.array([row["head_m"]]),
        np.array([1000.0]),
        np.array([row["density_kg_per_m3"]]),
    )
    assert found[0] / 1e3 == pytest.approx(row["power_kw"], rel=1e-3)


def test_at_a_stated_point_power_is_the_hydraulic_power_over_its_efficiency() -> None:
    for flow, efficiency in zip(FLOWS, EFFICIENCIES, strict=True):
        assert power_w(flow, 120.0) == pytest.approx(900.0 * 9.80665 * flow * 120.0 / efficiency, rel=1e-12)


def test_no_flow_takes_no_power_here() -> None:
    """The hydraulic power is none; what a pump against a shut valve takes is not told by this formula."""
    assert power_w(0.0, 150.0) == 0.0


@given(st.floats(0.12, 0.48), st.floats(0.5, 1.2))
@settings(max_examples=30)
def test_at_another_speed_power_goes_with_its_cube(flow: float, ratio: float) -> None:
    """Affinity laws, Crane TP-410: flow with n, head with n², so power with n³ at one efficiency."""
    here = power_w(flow, 120.0)
    assert power_w(flow * ratio, 120.0 * ratio**2, 1000.0 * ratio) == pytest.approx(here * ratio**3, rel=1e-10)


def test_where_no_efficiency_is_stated_the_power_is_not_a_number() -> None:
    unknown = data(constant_pieces(1.0), known=False)
    assert np.isnan(shaft_power_w(unknown, np.ones(1), np.ones(1), np.ones(1), np.ones(1)))[0]


def test_array_answers() -> None:
    def power(flow: np.ndarray, head: np.ndarray, speed: np.ndarray, density: np.ndarray) -> np.ndarray:
        flat = [np.atleast_1d(value) for value in (flow, head, speed, density)]
        found = shaft_power_w(data(pieces_through(FLOWS, EFFICIENCIES), count=flat[0].size), *flat)
        return found if np.ndim(flow) else found[0]

    check_array_answer(power, [0.0, 0.2, 0.6], [150.0, 120.0, 70.0], [1000.0, 800.0, 1150.0], [700.0, 850.0, 1000.0])
