"""A pump's stated data as it is now: worn, with a thick liquid, tested at speeds that disagree, partly known."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from shared.calc.errors import InputError, OutOfRangeError
from shared.facts import sentences
from tests.compat.systems import POINTS_A, Document, coefficients, points, pump
from vessels.calc.power import PowerData, shaft_power_w
from vessels.calc.pump import pump_head, stack_curves
from vessels.facts import PumpFacts
from vessels.pump_curves import PumpData, ViscosityMethod, curves_of, pump_data, thick_notes

HOUR_S = 3600.0
WATER = 1e-6
CORRECTED: ViscosityMethod = "ANSI/HI 9.6.7"

# ANSI/HI 9.6.7, example 1: 110 m³/h, 77 m, 2,950 rpm, 68 %, oil of 120 mm²/s (inputs read in two open code files headed
# as that example). The other points of the water curve are our own; only their ratios to the best flow are used.
EXAMPLE_POINTS = [(0.0, 92.0, 30.0), (66.0, 87.0, 58.0), (88.0, 82.5, 65.0), (110.0, 77.0, 68.0), (132.0, 69.0, 66.0)]
OIL = 120e-6


def efficient(rows: list[tuple[float, float, float]], speed: float) -> Document:
    """A curve of flow m³/h, head m and efficiency in percent."""
    return {
        "speed_rpm": speed,
        "points": [{"flow_m3_per_h": q, "head_m": h, "efficiency_percent": e} for q, h, e in rows],
    }


def facts(curve: Document, **changes: Any) -> PumpFacts:
    """A pump that has this curve."""
    return PumpFacts.model_validate(
        pump("P1", curve, least_speed_rpm=300.0, greatest_speed_rpm=curve["speed_rpm"], **changes)
    )


def example(**changes: Any) -> PumpFacts:
    """The pump of the standard's example."""
    return facts(efficient(EXAMPLE_POINTS, 2950.0), **changes)


def head_m(data: PumpData, flow_m3_per_h: float, speed: float) -> float:
    """Return the head of a pump's data."""
    curves = stack_curves([data.curves])
    return float(pump_head(curves, np.array([flow_m3_per_h / HOUR_S]), np.array([speed]))[0][0])


def efficiency(data: PumpData, flow_m3_per_h: float) -> float:
    """Return the efficiency of a pump's data at its tested speed, as a fraction."""
    assert data.efficiency is not None
    return float(data.efficiency.pieces.evaluate(np.array(flow_m3_per_h / HOUR_S))[0])


def power_kw(data: PumpData, flow_m3_per_h: float, speed: float, density: float) -> float:
    """Return the shaft power of a pump's data at its tested speed."""
    assert data.efficiency is not None
    single = PowerData(np.array(True), data.efficiency.pieces, np.array(speed), np.array(np.inf))
    flow, head = np.array(flow_m3_per_h / HOUR_S), np.array(head_m(data, flow_m3_per_h, speed))
    return float(shaft_power_w(single, flow, head, np.array(speed), np.array(density))) / 1e3


def test_the_worked_example_of_the_standard_through_a_pumps_facts() -> None:
    """Factors 0.938 on flow and head, 0.738 on efficiency; 103.2 m³/h, 72.2 m, 50.2 %, 36.4 kW at SG 0.90."""
    oil = pump_data(example(), OIL, CORRECTED)
    assert head_m(oil, 103.2, 2950.0) == pytest.approx(72.2, rel=5e-3)
    assert efficiency(oil, 103.2) == pytest.approx(0.502, rel=5e-3)
    assert power_kw(oil, 103.2, 2950.0, 900.0) == pytest.approx(36.4, rel=1e-2)
    flow_factor = 0.938
    for (flow, head, _), head_factor in zip(EXAMPLE_POINTS[1:], (0.958, 0.947, 0.938, 0.929), strict=True):
        assert head_m(oil, flow * flow_factor, 2950.0) == pytest.approx(head * head_factor, rel=5e-3)
    assert oil.notes == ()


def test_the_head_at_no_flow_is_that_of_water() -> None:
    """ANSI/HI 9.6.7: C_H = 1 - (1 - C_Q)(Q/Q_best)^0.75 is 1 at rest."""
    assert head_m(pump_data(example(), OIL, CORRECTED), 0.0, 2950.0) == pytest.approx(92.0, rel=1e-12)


def test_every_tested_speed_is_corrected_with_the_flow_of_best_efficiency_of_that_speed() -> None:
    """A second curve that obeys the affinity laws: the same ratio of flow to best flow there, another B."""
    slower = [(q * 0.5, h * 0.25, e) for q, h, e in EXAMPLE_POINTS]
    both = pump("P1", points([]), curves=[efficient(EXAMPLE_POINTS, 2950.0), efficient(slower, 1475.0)])
    oil = pump_data(PumpFacts.model_validate(both), OIL, CORRECTED)
    b = 16.5 * 120.0**0.5 * (77.0 / 4.0) ** 0.0625 / (55.0**0.375 * 1475.0**0.25)
    factor = 2.71 ** (-0.165 * np.log10(b) ** 3.15)
    assert factor < 0.93
    assert head_m(oil, 55.0 * factor, 1475.0) == pytest.approx(77.0 / 4.0 * factor, rel=1e-9)


def test_a_thin_liquid_is_pumped_like_water_and_the_note_says_so() -> None:
    oil = pump_data(example(), 3e-6, CORRECTED)
    for flow, head, percent in EXAMPLE_POINTS:
        assert head_m(oil, flow, 2950.0) == pytest.approx(head, rel=1e-12)
        assert efficiency(oil, flow) == pytest.approx(percent / 100.0, rel=1e-12)
    assert oil.notes == ("No. P1: The liquid is thin for this pump: no correction (B up to 1).",)


def test_without_a_correction_a_thick_liquid_is_cautioned_with_its_b_and_a_thin_one_is_not() -> None:
    as_tested = pump_data(example(), OIL, "as tested")
    (note,) = thick_notes(example(), OIL)
    assert "thick enough (B = 5.5 by ANSI/HI 9.6.7)" in note
    assert "no correction is made" in note
    assert head_m(as_tested, 110.0, 2950.0) == pytest.approx(77.0, rel=1e-12)
    assert thick_notes(example(), 3e-6) == ()


def test_from_b_of_40_the_correction_is_refused() -> None:
    small = facts(efficient([(0.0, 34.0, 30.0), (10.0, 30.0, 55.0), (14.0, 25.0, 50.0)], 1450.0))
    with pytest.raises(OutOfRangeError, match=r"Viscosity parameter B of the pump is 41\.\d; allowed: below 40"):
        pump_data(small, 900e-6, CORRECTED)


def test_a_correction_needs_points_within_twice_the_best_flow() -> None:
    far = facts(points(POINTS_A), rated_flow_m3_per_h=200.0)
    with pytest.raises(InputError) as refused:
        pump_data(far, OIL, CORRECTED)
    assert str(refused.value) == (
        "No. P1: the viscosity correction holds up to twice the flow of best efficiency, 400 m³/h, and fewer than two"
        " points of the curve at 1250 rpm lie there; give points there, or correct its efficiencies or its"
        " rated_flow_m3_per_h."
    )


def test_the_rated_flow_stands_in_where_no_efficiency_is_stated() -> None:
    bare = [{key: p[key] for key in ("flow_m3_per_h", "head_m")} for p in efficient(EXAMPLE_POINTS, 1.0)["points"]]
    rated = facts({"speed_rpm": 2950.0, "points": bare}, rated_flow_m3_per_h=110.0)
    oil = pump_data(rated, OIL, CORRECTED)
    assert head_m(oil, 103.2, 2950.0) == pytest.approx(72.2, rel=5e-3)
    assert oil.efficiency is None


@given(st.floats(50.0, 110.0), st.floats(0.0, 132.0), st.floats(1000.0, 2950.0))
@settings(max_examples=25)
def test_a_worn_pump_keeps_its_share_of_the_head_at_every_flow_and_speed(
    kept: float, flow: float, speed: float
) -> None:
    new, worn = pump_data(example(), WATER, "as tested"), pump_data(example(head_kept_percent=kept), WATER, "as tested")
    assert head_m(worn, flow, speed) == pytest.approx(kept / 100.0 * head_m(new, flow, speed), rel=1e-9, abs=1e-9)


def test_a_worn_pump_takes_the_power_of_a_new_one_at_the_same_flow() -> None:
    """Our own reading of wear: the driver works as before, the lost head is lost inside the pump."""
    new, worn = pump_data(example(), WATER, "as tested"), pump_data(example(head_kept_percent=90.0), WATER, "as tested")
    for flow in (66.0, 95.0, 120.0):
        assert power_kw(worn, flow, 2950.0, 900.0) == pytest.approx(power_kw(new, flow, 2950.0, 900.0), rel=1e-9)


def test_wear_comes_on_top_of_the_viscosity_correction() -> None:
    oil, worn = (pump_data(example(**wear), OIL, CORRECTED) for wear in ({}, {"head_kept_percent": 93.0}))
    assert head_m(worn, 90.0, 2950.0) == pytest.approx(0.93 * head_m(oil, 90.0, 2950.0), rel=1e-9)


def test_a_pump_that_is_as_on_its_curve_has_its_curve() -> None:
    data = pump_data(facts(coefficients(155.0, (1800.0, 112.0), 1.85), head_kept_percent=100.0), WATER, "as tested")
    assert head_m(data, 0.0, 1250.0) == pytest.approx(155.0, rel=1e-12)
    assert head_m(data, 1800.0, 1250.0) == pytest.approx(112.0, rel=1e-12)


def test_wear_on_a_curve_by_coefficients_follows_the_formula() -> None:
    """The formula is sampled at 13 flows up to near its run-out; between them within a part in a thousand."""
    stated = facts(coefficients(155.0, (1800.0, 112.0), 1.85), head_kept_percent=92.0)
    worn, drop = pump_data(stated, WATER, "as tested"), (155.0 - 112.0) / 1800.0**1.85
    for flow in np.linspace(0.0, 3000.0, 37):
        assert head_m(worn, flow, 1250.0) == pytest.approx(0.92 * (155.0 - drop * flow**1.85), abs=1e-3 * 155.0)


def test_tested_speeds_that_disagree_are_told_in_percent_of_head() -> None:
    weaker = [(q * 0.8, h * 0.64 * 0.95) for q, h in POINTS_A]
    both = pump("P1", points([]), curves=[points(POINTS_A), points(weaker, 1000.0)])
    (note,) = pump_data(PumpFacts.model_validate(both), WATER, "as tested").notes
    assert note.startswith("No. P1: the tested curves differ by up to 5.3 % of head from what the affinity laws")
    agreeing = [(q * 0.8, h * 0.64 * 0.99) for q, h in POINTS_A]
    both = pump("P1", points([]), curves=[points(POINTS_A), points(agreeing, 1000.0)])
    assert pump_data(PumpFacts.model_validate(both), WATER, "as tested").notes == ()


@pytest.mark.parametrize("kind", ["positive displacement", "eductor"])
def test_what_is_not_centrifugal_is_neither_corrected_nor_compared(kind: str) -> None:
    curve = points([(180.0, 120.0), (190.0, 60.0), (200.0, 0.0)], 300.0)
    data = pump_data(facts(curve, kind=kind), 900e-6, CORRECTED)
    assert data.notes == thick_notes(facts(curve, kind=kind, rated_flow_m3_per_h=190.0), 900e-6) == ()
    assert head_m(data, 190.0, 300.0) == pytest.approx(60.0, rel=1e-12)
    assert data.curves.displaces.all()


def test_npsh_required_of_nought_is_a_value_and_a_missing_one_is_not() -> None:
    curve = points([(0.0, 150.0), (1000.0, 140.0), (2000.0, 110.0)])
    for point, npsh in zip(curve["points"], (0.0, None, 6.0), strict=True):
        point["npsh_required_m"] = npsh
    data = pump_data(facts(curve), WATER, "as tested")
    assert data.npsh_required is not None
    assert data.npsh_required.pieces.evaluate(np.array(0.0))[0] == pytest.approx(0.0, abs=1e-12)
    curve["points"][0]["npsh_required_m"] = None
    assert pump_data(facts(curve), WATER, "as tested").npsh_required is None


def test_a_single_efficiency_makes_no_curve_of_it() -> None:
    curve = points(POINTS_A)
    curve["points"][2]["efficiency_percent"] = 78.0
    assert pump_data(facts(curve), WATER, "as tested").efficiency is None


def test_the_stated_curve_stays_as_it_was() -> None:
    stated = example(head_kept_percent=80.0)
    before = stated.model_dump()
    pump_data(stated, OIL, CORRECTED)
    assert stated.model_dump() == before
    heads = pump_head(stack_curves([curves_of(stated)]), np.array([110.0 / HOUR_S]), np.array([2950.0]))[0]
    assert heads[0] == pytest.approx(77.0, rel=1e-12)


BAD: list[tuple[str, Document, str]] = [
    (
        "eductor with a range of speeds",
        {"kind": "eductor", "least_speed_rpm": 800.0, "greatest_speed_rpm": 1250.0},
        (
            "an eductor has no speed: give least_speed_rpm and greatest_speed_rpm the speed_rpm of its curve, which"
            " stands for its drive pressure."
        ),
    ),
    (
        "displacing pump by coefficients",
        {"kind": "positive displacement", "curves": [coefficients(155.0, (1800.0, 112.0), 1.85)]},
        "kind positive displacement is to be given by points, not by coefficients.",
    ),
    (
        "continuous flows crossed",
        {"least_continuous_flow_m3_per_h": 900.0, "greatest_continuous_flow_m3_per_h": 800.0},
        "least_continuous_flow_m3_per_h 900 m³/h is not below greatest_continuous_flow_m3_per_h 800 m³/h.",
    ),
    (
        "fixed speed with a range",
        {"drive": "electric motor, fixed speed"},
        (
            "drive is 'electric motor, fixed speed', but least_speed_rpm 300 rpm and greatest_speed_rpm 1500 rpm"
            " differ; give both the motor's speed, or state the drive otherwise."
        ),
    ),
    (
        "wear out of range",
        {"head_kept_percent": 40.0},
        "head_kept_percent is 40.0 %; allowed: 50 to 110 %.",
    ),
    (
        "step of nothing",
        {"speed_step_rpm": 0.0},
        "speed_step_rpm is 0.0 rpm; allowed: 1 to 5,000 rpm.",
    ),
]


@pytest.mark.parametrize(("changes", "sentence"), [entry[1:] for entry in BAD], ids=[entry[0] for entry in BAD])
def test_each_mistake_gives_one_sentence(changes: Document, sentence: str) -> None:
    with pytest.raises(ValidationError) as refused:
        PumpFacts.model_validate(pump("P1", points(POINTS_A), **changes))
    assert [found for _, found in sentences(refused.value)] == [sentence]


def by_power(speed: float = 1200.0) -> Document:
    """The curve of ``efficient`` points, with the shaft power that water takes there instead of the efficiency."""
    rows = [(0.0, 152.0, None), (600.0, 150.0, 0.55), (1200.0, 143.0, 0.76), (1800.0, 131.0, 0.82)]
    return {
        "speed_rpm": speed,
        "points": [
            {"flow_m3_per_h": q, "head_m": h, "shaft_power_kw": 180.0 if e is None else 9.80665 * q / HOUR_S * h / e}
            for q, h, e in rows
        ],
    }


def test_shaft_power_with_water_says_what_an_efficiency_does() -> None:
    # Crane TP-410, ex. 7-34 gives P = rho g Q H / eta; solved for eta with water of 1,000 kg/m³
    data = pump_data(facts(by_power()), WATER, "as tested")
    for flow, expected in ((600.0, 0.55), (1200.0, 0.76), (1800.0, 0.82)):
        assert efficiency(data, flow) == pytest.approx(expected, rel=1e-9)


def test_best_flow_is_that_of_the_best_power_too() -> None:
    curve = by_power()
    curve["points"].append({"flow_m3_per_h": 2400.0, "head_m": 112.0, "shaft_power_kw": 1000.0})  # 73 %
    assert pump_data(facts(curve), 300e-6, CORRECTED).notes == pump_data(facts(by_power()), 300e-6, CORRECTED).notes


@pytest.mark.parametrize(
    ("point", "sentence"),
    [
        ({"shaft_power_kw": 300.0}, "makes an efficiency of 183 %; allowed: up to 95 %. Check its unit"),
        (
            {"shaft_power_kw": 700.0, "efficiency_percent": 80.0},
            "state efficiency_percent or shaft_power_kw at a point, one of the two.",
        ),
    ],
)
def test_shaft_power_that_is_none_is_refused(point: Document, sentence: str) -> None:
    curve = points(POINTS_A)
    curve["points"][3] |= {"head_m": 134.5, "flow_m3_per_h": 1500.0} | point
    with pytest.raises(ValidationError) as refused:
        facts(curve)
    assert any(sentence in found for _, found in sentences(refused.value))


POLYNOMIAL: Document = {
    "shut_off_head_m": 152.0,
    "linear_m": -1.5,
    "square_m": -4.0,
    "cube_m": -1.0,
    "greatest_flow_m3_per_h": 2500.0,
}


def polynomial(**changes: Any) -> Document:
    """A curve by a polynomial."""
    return {"speed_rpm": 1200.0, "polynomial": {**POLYNOMIAL, **changes}}


@given(st.floats(0.0, 2500.0))
@settings(max_examples=50)
def test_a_polynomial_is_followed(flow: float) -> None:
    q = flow / 1000.0
    own = 152.0 - 1.5 * q - 4.0 * q**2 - q**3
    assert head_m(pump_data(facts(polynomial()), WATER, "as tested"), flow, 1200.0) == pytest.approx(own, rel=2e-5)


def test_a_polynomial_of_second_degree_is_a_curve_by_coefficients() -> None:
    quadratic = pump_data(facts(polynomial(linear_m=0.0, cube_m=None)), WATER, "as tested")
    power = pump_data(facts(coefficients(152.0, (1000.0, 148.0), 2.0, speed=1200.0)), WATER, "as tested")
    for flow in (0.0, 700.0, 1900.0):
        assert head_m(quadratic, flow, 1000.0) == pytest.approx(head_m(power, flow, 1000.0), rel=2e-5)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"linear_m": 5.0}, "head does not fall from 152 m at 0 m³/h"),
        ({"greatest_flow_m3_per_h": 9000.0}, "at greatest_flow_m3_per_h 9000 m³/h; state the flow up to which"),
    ],
)
def test_a_polynomial_that_rises_or_goes_below_nothing_is_refused(changes: Document, sentence: str) -> None:
    with pytest.raises(ValidationError) as refused:
        facts(polynomial(**changes))
    assert any(sentence in found for _, found in sentences(refused.value))


def curve_of_a_test_with(viscosity: float) -> PumpFacts:
    """The pump of the example, tested with a thick liquid."""
    return facts({**efficient(EXAMPLE_POINTS, 2950.0), "tested_viscosity_mm2_per_s": viscosity})


def test_a_liquid_thinner_than_that_of_the_test_is_said_and_not_corrected() -> None:
    (told,) = thick_notes(curve_of_a_test_with(120.0), 20e-6)
    assert "was tested with 120 mm²/s, and this liquid has 20 mm²/s" in told
    assert "how much is not decided" in told
    with pytest.raises(InputError, match="starts from a curve tested with water, and that at 2950 rpm was tested with"):
        pump_data(curve_of_a_test_with(120.0), 20e-6, CORRECTED)


def test_a_curve_tested_with_such_a_liquid_needs_no_word() -> None:
    assert thick_notes(curve_of_a_test_with(120.0), OIL) == ()
    assert thick_notes(example(), OIL) != ()
    assert thick_notes(curve_of_a_test_with(120.0), 4.0 * OIL) != ()
    assert pump_data(curve_of_a_test_with(1.0), OIL, CORRECTED).notes == pump_data(example(), OIL, CORRECTED).notes
