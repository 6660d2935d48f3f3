"""Loss coefficients against a peer library that works the same handbook, and closed forms."""

from collections.abc import Callable

import fluids.fittings as crane
import numpy as np
import pytest
from fluids.friction import ft_Crane
from hypothesis import given
from hypothesis import strategies as st

from shared.calc.errors import InputError, OutOfRangeError
from shared.calc.fittings import (
    FITTINGS,
    loss_of_bend,
    loss_of_contraction,
    loss_of_expansion,
    loss_of_fitting,
    loss_of_mitre_bend,
    loss_of_rounded_entrance,
    moved_to_bore,
    turbulent_factor,
)
from tests.array_checks import check_array_answer
from tests.reference_tables import reference_numbers

BORES = (0.0525, 0.10226, 0.20272, 0.3048, 0.381, 0.58)

# The general fluids library `fluids` works Crane TP-410 (2009) on its own; its coefficients per f_T are compared.
Peer = Callable[[float, float], float]
PEERS: dict[str, Peer] = {
    "gate-valve": lambda d, f: crane.K_gate_valve_Crane(d, d, 0.0, f),
    "globe-valve": lambda d, f: crane.K_globe_valve_Crane(d, d, f),
    "angle-valve": lambda d, f: crane.K_angle_valve_Crane(d, d, f, style=1),
    "angle-valve-streamlined": lambda d, f: crane.K_angle_valve_Crane(d, d, f, style=2),
    "ball-valve": lambda d, f: crane.K_ball_valve_Crane(d, d, 0.0, f),
    "plug-valve": lambda d, f: crane.K_plug_valve_Crane(d, d, 0.0, f, style=0),
    "plug-valve-three-way-straight": lambda d, f: crane.K_plug_valve_Crane(d, d, 0.0, f, style=1),
    "plug-valve-three-way-turned": lambda d, f: crane.K_plug_valve_Crane(d, d, 0.0, f, style=2),
    "butterfly-valve": lambda d, f: crane.K_butterfly_valve_Crane(d, f, style=0),
    "butterfly-valve-double-offset": lambda d, f: crane.K_butterfly_valve_Crane(d, f, style=1),
    "butterfly-valve-triple-offset": lambda d, f: crane.K_butterfly_valve_Crane(d, f, style=2),
    "swing-check-valve": lambda d, f: crane.K_swing_check_valve_Crane(fd=f, angled=True),
    "swing-check-valve-straight": lambda d, f: crane.K_swing_check_valve_Crane(fd=f, angled=False),
    "lift-check-valve": lambda d, f: crane.K_lift_check_valve_Crane(d, d, f, angled=False),
    "foot-valve-poppet": lambda d, f: crane.K_foot_valve_Crane(fd=f, style=0),
    "foot-valve-hinged": lambda d, f: crane.K_foot_valve_Crane(fd=f, style=1),
    "elbow-45": lambda d, f: crane.crane_standard_bend_losses[0] * f,
    "elbow-90": lambda d, f: crane.crane_standard_bend_losses[1] * f,
    "return-bend": lambda d, f: crane.crane_standard_bend_losses[2] * f,
}
FROM_MEMORY = {"entrance-projecting": 0.78, "entrance-sharp": 0.5, "exit": 1.0}  # Crane TP-410, K factor table
TEES = {"tee-through": 20.0, "tee-branch": 60.0}  # Crane TP-410, editions before 2009, from memory


def test_every_fitting_of_the_list_is_compared_with_something() -> None:
    assert set(FITTINGS) == set(PEERS) | set(FROM_MEMORY) | set(TEES)


@pytest.mark.parametrize("bore", BORES)
@pytest.mark.parametrize("key", PEERS)
def test_valves_and_elbows_against_a_peer_library(key: str, bore: float) -> None:
    factor = float(turbulent_factor(bore))
    assert loss_of_fitting(key, bore).loss_coefficient == pytest.approx(PEERS[key](bore, factor), rel=1e-12)


@pytest.mark.parametrize(("key", "loss"), FROM_MEMORY.items())
def test_entrances_and_exit(key: str, loss: float) -> None:
    assert loss_of_fitting(key, 0.3).loss_coefficient == loss


@pytest.mark.parametrize(("key", "multiple"), TEES.items())
def test_tees(key: str, multiple: float) -> None:
    assert loss_of_fitting(key, 0.3).loss_coefficient == pytest.approx(multiple * turbulent_factor(0.3), rel=1e-12)


@pytest.mark.parametrize("row", reference_numbers("crane_turbulent_factors"))
def test_turbulent_factor_against_cranes_table(row: dict[str, float]) -> None:
    assert turbulent_factor(row["bore_mm"] / 1000.0) == pytest.approx(row["turbulent_factor"], rel=0.05)


@given(bore=st.floats(0.05, 0.91))
def test_turbulent_factor_against_a_peer_library(bore: float) -> None:
    # `fluids` fits Crane's rounded table; the two differ by up to 1 %.
    assert turbulent_factor(bore) == pytest.approx(ft_Crane(bore), rel=0.01)


def test_published_example_with_a_line_of_fittings() -> None:
    # Crane TP-410 example 7-9: 5 in schedule 40, f_T 0.0154 in an open worked notebook; gate, angle valve, elbow r/d 1.
    bore = 0.12819
    total = sum(loss_of_fitting(key, bore).loss_coefficient for key in ("gate-valve", "angle-valve"))
    total += loss_of_bend(bore, 1.0).loss_coefficient
    assert total == pytest.approx((8 + 150 + 20) * 0.0154, rel=0.01)


@pytest.mark.parametrize(
    "row", list(zip(crane.entrance_rounded_ratios_Crane, crane.entrance_rounded_Ks_Crane, strict=True))
)
def test_rounded_entrance_against_a_peer_library(row: tuple[float, float]) -> None:
    assert loss_of_rounded_entrance(row[0], 0.3).loss_coefficient == pytest.approx(row[1], rel=1e-12)


def test_rounded_entrance_between_and_beyond_cranes_values() -> None:
    answer = loss_of_rounded_entrance(np.array([0.01, 0.05, 0.5]), 0.3)
    assert answer.loss_coefficient == pytest.approx([0.39, 0.195, 0.04], rel=1e-12)
    assert answer.bore_m.shape == (3,)


@pytest.mark.parametrize("row", list(zip(crane.bend_rounded_Crane_ratios, crane.bend_rounded_Crane_fds, strict=True)))
def test_bends_against_a_peer_library(row: tuple[float, float]) -> None:
    factor = turbulent_factor(0.3)
    assert loss_of_bend(0.3, row[0]).loss_coefficient == pytest.approx(row[1] * factor, rel=1e-12)


def test_bends_of_other_angles_follow_cranes_rule() -> None:
    # Crane TP-410, page A-30, from memory: K = (N - 1)(0.25 π f_T r/d + 0.5 K90) + K90, here with r/d 1.5, K90 14 f_T.
    factor = turbulent_factor(0.3)
    expected = np.array([10.5 - 0.1875 * np.pi, 14.0, 21.0 + 0.375 * np.pi]) * factor
    assert loss_of_bend(0.3, 1.5, np.array([45.0, 90.0, 180.0])).loss_coefficient == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("row", list(zip(crane.bend_miter_Crane_angles, crane.bend_miter_Crane_fds, strict=True)))
def test_mitre_bends_against_a_peer_library(row: tuple[float, float]) -> None:
    expected = row[1] * turbulent_factor(0.3)
    assert loss_of_mitre_bend(0.3, row[0]).loss_coefficient == pytest.approx(expected, rel=1e-12)


@given(
    large=st.floats(0.1, 0.9),
    ratio=st.floats(0.2, 1.0),
    angle=st.one_of(st.floats(1.0, 44.9), st.floats(45.1, 180.0)),
)
def test_changes_of_bore_against_a_peer_library(large: float, ratio: float, angle: float) -> None:
    small = large * ratio
    narrowing = loss_of_contraction(large, small, angle).loss_coefficient
    assert narrowing == pytest.approx(crane.contraction_conical_Crane(large, small, angle=angle), rel=1e-9, abs=1e-12)
    widening = loss_of_expansion(small, large, angle).loss_coefficient
    assert widening == pytest.approx(crane.diffuser_conical_Crane(small, large, angle=angle), rel=1e-9, abs=1e-12)


def test_changes_of_bore_in_closed_form() -> None:
    # Borda-Carnot for the sudden expansion; half of (1 - area ratio) for the sudden contraction; nothing for no change.
    assert loss_of_expansion(0.2, 0.4).loss_coefficient == pytest.approx((1 - 0.25) ** 2, rel=1e-12)
    assert loss_of_contraction(0.4, 0.2).loss_coefficient == pytest.approx(0.5 * 0.75, rel=1e-12)
    assert loss_of_contraction(0.3, 0.3).loss_coefficient == 0.0
    assert loss_of_expansion(0.3, 0.3).loss_coefficient == 0.0


def test_a_loss_moved_to_another_bore_keeps_its_head() -> None:
    # Head is K Q² / (2 g A²), so K goes with the square of the area.
    at_small = loss_of_expansion(0.2, 0.4)
    at_large = moved_to_bore(at_small, 0.4)
    assert at_small.loss_coefficient / 0.2**4 == pytest.approx(at_large.loss_coefficient / 0.4**4, rel=1e-12)


def test_array_answers() -> None:
    bores = [0.05, 0.2286, 0.3, 0.6]
    for key in FITTINGS:
        check_array_answer(lambda d, key=key: loss_of_fitting(key, d).loss_coefficient, bores)
    check_array_answer(turbulent_factor, bores)
    check_array_answer(
        lambda d, r, a: loss_of_bend(d, r, a).loss_coefficient, bores, [1, 2.5, 7, 20], [45, 90, 180, 360]
    )
    check_array_answer(lambda d, a: loss_of_mitre_bend(d, a).loss_coefficient, bores, [0, 20, 45, 90])
    check_array_answer(lambda d, a: loss_of_contraction(0.7, d, a).loss_coefficient, bores, [0, 20, 45, 180])
    check_array_answer(lambda d, a: loss_of_expansion(d, 0.7, a).loss_coefficient, bores, [0, 20, 45, 180])
    check_array_answer(lambda r, d: loss_of_rounded_entrance(r, d).loss_coefficient, [0, 0.03, 0.2, 1], bores)


def test_wrong_input_is_refused() -> None:
    with pytest.raises(InputError, match="Fitting “strainer” is not known; use one of entrance-projecting"):
        loss_of_fitting("strainer", 0.3)
    with pytest.raises(OutOfRangeError, match=r"Bore is 1,000 mm; allowed: 12.7 to 914.4 mm. Use the maker's loss"):
        loss_of_fitting("exit", 1.0)
    with pytest.raises(OutOfRangeError, match=r"Radius of the bend over its bore is 0.5; allowed: 1 to 20"):
        loss_of_bend(0.3, 0.5)
    with pytest.raises(OutOfRangeError, match="Angle of the bend in degrees is 30; allowed: 45 to 360"):
        loss_of_bend(0.3, 1.5, 30.0)
    with pytest.raises(OutOfRangeError, match="Angle of the mitre in degrees is 120; allowed: 0 to 90"):
        loss_of_mitre_bend(0.3, 120.0)
    with pytest.raises(OutOfRangeError, match="Included angle in degrees is 181; allowed: 0 to 180"):
        loss_of_expansion(0.2, 0.4, 181.0)
    with pytest.raises(InputError, match="exchange the two"):
        loss_of_contraction(0.2, 0.4)
    with pytest.raises(OutOfRangeError, match="Large bore is 2,000 mm"):
        loss_of_contraction(2.0, 0.4)
