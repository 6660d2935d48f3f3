"""What valves let through along their stroke, against Weisbach's measurements, and closing times that are none."""

import numpy as np
import pytest

from compat.calc.surge.valves import SOURCES, VALVE_LAWS, closing, let_through, loss_over_flow2
from shared.calc.errors import InputError, OutOfRangeError
from shared.calc.units import GRAVITY_M_PER_S2
from tests.reference_tables import reference_rows


@pytest.mark.parametrize("row", reference_rows("valve_losses"), ids=lambda row: f"{row['valve']} {row['stroke']}")
def test_loss_is_the_measured_one(row):
    through = float(let_through(row["valve"], np.array(float(row["stroke"]))))
    assert 1.0 / through**2 - 1.0 == pytest.approx(float(row["loss_coefficient"]), rel=0.01)


@pytest.mark.parametrize("law", VALVE_LAWS)
def test_every_law_goes_from_open_to_shut_and_never_opens_again(law):
    through = let_through(law, np.linspace(0.0, 1.0, 201))
    assert through[0] == 1.0
    assert through[-1] == 0.0
    assert (np.diff(through) <= 0.0).all()
    assert SOURCES[law]


def test_a_gate_does_little_in_the_first_part_of_its_stroke():
    # Common practice, no source
    assert let_through("gate", np.array(0.4)) > let_through("linear", np.array(0.4)) + 0.1


def test_open_valve_adds_nothing_and_a_shut_one_stops_everything():
    loss = loss_over_flow2(np.array([1.0, 0.5, 0.0]), 0.2)
    assert loss[0] == 0.0
    assert loss[1] == pytest.approx(3.0 / (2.0 * GRAVITY_M_PER_S2 * 0.04))
    assert np.isinf(loss[2])


def test_closing_follows_the_stroke():
    times = np.array([0.0, 1.0, 6.0, 11.0, 20.0])
    assert closing("linear", times, 1.0, 10.0).tolist() == [1.0, 1.0, 0.5, 0.0, 0.0]


@pytest.mark.parametrize("takes", [0.0, -3.0, float("nan")])
def test_closing_time_that_is_none_is_refused(takes):
    with pytest.raises(OutOfRangeError, match=r"Closing time is .*allowed: 0.01 to 3,600 s"):
        closing("ball", np.zeros(1), 0.0, takes)


def test_unknown_valve_is_refused():
    with pytest.raises(InputError, match="use one of linear, ball, butterfly, gate"):
        let_through("pinch", np.zeros(1))
