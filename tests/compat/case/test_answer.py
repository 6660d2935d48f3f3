"""The answer to a case: every limit made to bind in turn, readings that agree with each other, answers side by side."""

from __future__ import annotations

import copy
import dataclasses
import json
import math
from typing import Any

import pytest

from compat.case.answer import Answer, answer_case, answer_cases
from compat.case.case_file import case_document, check_case
from shared.calc.errors import InputError
from tests.compat.systems import (
    DROP,
    NARROW,
    RESISTANCE,
    SHUT_OFF_M,
    STATIC_M,
    SYSTEMS,
    UNLIKE,
    UNLIKE_ARMS,
    Document,
    alike,
    closed_form,
    document,
)
from vessels.calc.gauges import head_from_gauges_m

G = 9.80665
WEIGHT = 850.0 * G


def answered(stated: Document) -> Answer:
    """Answer a document."""
    return answer_case(check_case(stated, "case"))


def freed(stated: Document, pressure: float = 9.0, speed: str = "one common speed") -> Document:
    """Return a document with its speed left free under an agreed pressure."""
    changed = copy.deepcopy(stated)
    changed["operation"]["speed"] = speed
    for state in changed["operation"]["pumps"]:
        state.pop("speed_rpm", None)
    changed["agreed"]["manifold_pressure_bar_gauge"] = pressure
    return changed


def put(stated: Document, path: str, value: Any) -> Document:
    """Return a document with one key set, by a path such as ``berth.arms.0.rating_bar_gauge``."""
    changed = copy.deepcopy(stated)
    place: Any = changed
    *way, last = path.split(".")
    for part in way:
        place = place[int(part)] if part.isdigit() else place.setdefault(part, {})
    place[last] = value
    return changed


def row(answer: Answer, key: str) -> Any:
    """Return a limit by key."""
    return next(limit for limit in answer.limits if limit.key == key)


def exceeded(answer: Answer) -> list[str]:
    """Return the exceeded limits among those that a free speed is searched within; the others are warnings."""
    told_only = ("shut-valve", "slack-line", "least-flow")
    return [limit.key for limit in answer.limits if limit.state == "exceeded" and not limit.key.startswith(told_only)]


def flow_at_pressure(bar: float) -> float:
    """Flow in m³/h of the closed form at which its manifold, 10 m up, is at a pressure."""
    return math.sqrt((bar * 1e5 / WEIGHT + 10.0 - STATIC_M) / RESISTANCE)


AREA_M2 = math.pi / 4.0
BINDING = [
    ("agreed-manifold-pressure", "agreed.manifold_pressure_bar_gauge", 6.0, 6.0, flow_at_pressure(6.0)),
    ("berth-manifold-pressure", "berth.manifold_pressure_limit_bar_gauge", 5.5, 5.5, flow_at_pressure(5.5)),
    ("ship-manifold-rating", "ship.manifold.rating_bar_gauge", 5.0, 5.0, flow_at_pressure(5.0)),
    ("arm-rating-1", "berth.arms.0.rating_bar_gauge", 5.8, 5.8, flow_at_pressure(5.8)),
    ("arm-velocity-1", "berth.arms.0.velocity_limit_m_per_s", 1.2, 1.2, 1.2 * AREA_M2 * 3600.0),
    ("agreed-highest-rate", "agreed.highest_rate_m3_per_h", 3300.0, 3300.0, 3300.0),
    ("receiving-rate", "berth.receiving_rate_m3_per_h", 2750.0, 2750.0, 2750.0),
    ("inert-gas", "ship.inert_gas_delivery_m3_per_h", 5000.0, 4000.0, 4000.0),
    ("rated-flow-P1", "ship.pumps.0.rated_flow_m3_per_h", 1700.0, 1700.0, None),
]


@pytest.mark.parametrize(("key", "path", "value", "allowed", "flow"), BINDING, ids=[entry[0] for entry in BINDING])
def test_each_limit_binds_when_it_is_the_lowest(
    key: str, path: str, value: float, allowed: float, flow: float | None
) -> None:
    """Two alike pumps in closed form under 9 bar, whose pumps can do more than that; one limit is lowered."""
    answer = answered(put(freed(closed_form(2)), path, value))
    assert answer.outcome == "found"
    assert answer.converged
    assert answer.binding == key
    binding = row(answer, key)
    assert binding.state == "binding"
    assert binding.allowed == pytest.approx(allowed, rel=1e-12)
    assert binding.value == pytest.approx(allowed, rel=1e-6)
    assert not exceeded(answer)
    if flow is not None:
        assert answer.total_flow_m3_per_h == pytest.approx(flow, rel=1e-6)
        needed = STATIC_M + (RESISTANCE + DROP / 4.0) * flow**2
        assert answer.common_speed_rpm == pytest.approx(1000.0 * math.sqrt(needed / SHUT_OFF_M), rel=1e-6)


def test_the_greatest_speed_binds_where_no_other_limit_is_met() -> None:
    stated = freed(closed_form(2), 30.0)
    for i in (0, 1):
        stated = put(stated, f"ship.pumps.{i}.greatest_speed_rpm", 800.0)
    answer = answered(stated)
    assert answer.binding == "speed-P1"
    assert answer.common_speed_rpm == 800.0
    expected = math.sqrt((SHUT_OFF_M * 0.64 - STATIC_M) / (DROP / 4.0 + RESISTANCE))
    assert answer.total_flow_m3_per_h == pytest.approx(expected, rel=1e-9)


def test_a_lower_rated_flow_of_one_pump_slows_both() -> None:
    both = answered(put(freed(closed_form(2)), "ship.pumps.0.rated_flow_m3_per_h", 1700.0))
    flows = [reading.flow_m3_per_h for reading in both.pumps]
    assert flows == pytest.approx([1700.0, 1700.0], rel=1e-6)
    assert len({reading.speed_rpm for reading in both.pumps}) == 1


def npsh_points(stated: Document) -> Document:
    """Give pump P1 of a closed form its NPSH required: 2 m at rest, 8 m at 4,000 m³/h, a straight line."""
    points = [
        {"flow_m3_per_h": q, "head_m": SHUT_OFF_M - DROP * q**2, "npsh_required_m": 2.0 + 6.0 * q / 4000.0}
        for q in range(0, 4001, 250)
    ]
    curves = [{"speed_rpm": 1000.0, "points": points}]
    return put(put(stated, "ship.pumps.0.curves", curves), "cargo.vapour_pressure_kpa_abs", 70.0)


def test_suction_binds_where_available_meets_required() -> None:
    """NPSH available is hydrostatic here: (101.325 - 70) kPa / (rho g) + 9.0 m of level - 6.5 m of pump."""
    stated = npsh_points(freed(closed_form(1), 8.0))
    stated = put(stated, "ship.pumps.0.elevation_m", 6.5)
    answer = answered(stated)
    assert answer.binding == "npsh-P1"
    available = (101_325.0 - 70_000.0) / WEIGHT + 9.0 - 6.5
    reading = answer.pumps[0]
    assert reading.npsh_available_m == pytest.approx(available, rel=1e-9)
    assert reading.npsh_required_m == pytest.approx(available, rel=1e-6)
    assert reading.speed_rpm is not None
    ratio = reading.speed_rpm / 1000.0
    required = ratio**2 * (2.0 + 6.0 * reading.flow_m3_per_h / ratio / 4000.0)
    assert required == pytest.approx(available, rel=1e-6)


FREE_SYSTEMS = [system for system in SYSTEMS if "shut out" not in system.name and "unlike speeds" not in system.name]


@pytest.mark.parametrize("system", FREE_SYSTEMS, ids=lambda system: system.name)
def test_a_little_faster_than_the_answer_breaks_the_binding_limit(system: Any) -> None:
    """The answer is run again at stated speeds: there it keeps every limit, and half a percent faster it does not."""
    stated = freed(system.document, 8.5)
    answer = answered(stated)
    assert answer.converged
    if answer.outcome != "found":
        assert answer.reason
        return
    assert answer.binding is not None
    assert not exceeded(answer)
    assert answer.common_speed_rpm is not None

    def run(speed: float) -> Answer:
        changed = copy.deepcopy(stated)
        changed["operation"]["speed"] = "as stated"
        for state in changed["operation"]["pumps"]:
            state["speed_rpm"] = speed
        for pump in changed["ship"]["pumps"]:
            pump["greatest_speed_rpm"] = max(pump["greatest_speed_rpm"], speed)
        return answered(changed)

    same = run(answer.common_speed_rpm)
    assert same.total_flow_m3_per_h == pytest.approx(answer.total_flow_m3_per_h, rel=1e-7)
    if answer.binding.startswith("speed-"):
        assert answer.common_speed_rpm == 1500.0
        return
    faster = run(1.005 * answer.common_speed_rpm)
    assert row(faster, answer.binding).state == "exceeded"


def test_an_agreed_pressure_below_the_static_one_is_an_answer_with_a_reason() -> None:
    """40 m over the zero, manifold at 10 m: 30 m x 850 kg/m³ x g = 2.50 bar at rest."""
    answer = answered(freed(closed_form(2), 2.0))
    assert answer.outcome == "no operating point"
    assert answer.total_flow_m3_per_h is None
    assert answer.manifold_pressure_at_rest_bar_gauge == pytest.approx(30.0 * WEIGHT / 1e5, rel=1e-9)
    assert "2 bar" in answer.reason
    assert "2.50 bar" in answer.reason


def test_pumps_that_can_not_lift_to_the_tank_are_an_answer_with_a_reason() -> None:
    """At 500 rpm the shut-off head is 37.5 m; 40 m are needed."""
    answer = answered(closed_form(2, speeds=500.0))
    assert answer.outcome == "no operating point"
    assert "37.5 m" in answer.reason
    assert "40.0 m" in answer.reason
    assert answer.binding is None


def test_even_the_least_speed_past_a_limit_asks_for_throttling_and_says_how_much() -> None:
    """At 900 rpm, 3,000 m³/h: 121.5 - 40 - 3.2e-6 x 9e6 = 52.7 m are left over."""
    stated = put(
        put(freed(closed_form(1)), "ship.pumps.0.least_speed_rpm", 900.0), "agreed.highest_rate_m3_per_h", 3000.0
    )
    answer = answered(stated)
    assert answer.outcome == "throttling needed"
    assert answer.throttled_head_m == pytest.approx(52.7, rel=1e-6)
    assert answer.total_flow_m3_per_h == pytest.approx(3000.0)
    assert answer.binding == "agreed-highest-rate"
    assert "52.7 m" in answer.reason


def test_three_metres_of_fresh_water_more_ashore_read_three_tenths_of_a_kgf_per_cm2_more_at_rest() -> None:
    """Common practice, no source."""
    rest = [
        answered(document(alike(2), density=1000.0, tank=level)).manifold_pressure_at_rest_bar_gauge
        for level in (20.0, 23.0)
    ]
    assert (rest[1] - rest[0]) * 1e5 / 98_066.5 == pytest.approx(0.3, rel=1e-9)


@pytest.mark.parametrize("system", SYSTEMS, ids=lambda system: system.name)
def test_gauges_give_back_the_head_of_each_pump(system: Any) -> None:
    """Head = (discharge - suction gauge) / (rho g), at the flow where the stated curve has that head; mass balances."""
    answer = answered(system.document)
    density = system.document["cargo"]["density_kg_per_m3"]
    assert answer.total_flow_m3_per_h is not None
    for reading in answer.pumps:
        if not reading.running:
            continue
        assert reading.discharge_pressure_bar_gauge is not None
        assert reading.suction_pressure_bar_gauge is not None
        head = head_from_gauges_m(
            reading.discharge_pressure_bar_gauge * 1e5, reading.suction_pressure_bar_gauge * 1e5, density
        )
        assert head == pytest.approx(reading.head_m, rel=1e-9)
    assert sum(reading.flow_m3_per_h for reading in answer.pumps) == pytest.approx(answer.total_flow_m3_per_h, rel=1e-9)
    arms = sum(arm.flow_each_m3_per_h * arm.count for arm in answer.arms)
    assert arms == pytest.approx(answer.total_flow_m3_per_h, rel=1e-9)
    assert answer.residual_m < 1e-6
    assert answer.manifold_pressure_bar_gauge == answer.profile[0].pressure_bar_gauge


MIXED = [
    *(system.document for system in SYSTEMS[::4]),
    *(freed(system.document, 7.5) for system in SYSTEMS[1::5]),
    freed(document(UNLIKE, arms=UNLIKE_ARMS, viscosity=90.0), 8.0, "one common fraction"),
    freed(document(alike(1), shore=NARROW), 30.0),
    freed(closed_form(2), 2.0),
    closed_form(2, speeds=500.0),
    npsh_points(freed(closed_form(3), 8.0)),
    put(freed(closed_form(1)), "ship.pumps.0.least_speed_rpm", 950.0),
]


def test_cases_answered_side_by_side_are_answered_as_each_alone() -> None:
    """To 1e-9: a whole array takes other routines for logarithms than one number, and its slowest case sets the steps.

    Every word, state and choice of limit is the same.
    """
    cases = [check_case(stated, "case") for stated in MIXED]
    for together, alone in zip(answer_cases(cases), [answer_case(case) for case in cases], strict=True):
        assert_alike(together.document(), alone.document())


def assert_alike(left: Any, right: Any, where: str = "") -> None:
    """Compare two documents: numbers to 1e-9, all else exactly; margins and residuals are what rounding leaves over."""
    if isinstance(left, dict):
        assert left.keys() == right.keys()
        for key in left:
            assert_alike(left[key], right[key], key)
    elif isinstance(left, list):
        assert len(left) == len(right)
        for a, b in zip(left, right, strict=True):
            assert_alike(a, b, where)
    elif isinstance(left, float):
        loose = 1e-6 if where in ("margin", "residual_m", "throttled_head_m") else 1e-9
        assert left == pytest.approx(right, rel=1e-9, abs=loose), where
    else:
        assert left == right, where


def test_answering_twice_gives_the_same_to_the_last_digit_and_changes_no_case() -> None:
    cases = [check_case(stated, "case") for stated in MIXED]
    before = [case_document(case) for case in cases]
    first = [answer.document() for answer in answer_cases(cases)]
    assert [answer.document() for answer in answer_cases(cases)] == first
    assert [case_document(case) for case in cases] == before


def test_the_document_of_an_answer_is_plain_json() -> None:
    for answer in answer_cases([check_case(stated, "case") for stated in MIXED]):
        text = json.dumps(answer.document(), allow_nan=False)
        assert json.loads(text) == answer.document()
        assert answer.document()["format"] == "berth-accord-answer/1"


def test_an_unknown_limit_is_not_decided_and_says_whom_to_ask() -> None:
    answer = answered(freed(closed_form(1)))
    undecided = [limit for limit in answer.limits if limit.state == "not decided"]
    assert {"ship-manifold-rating", "inert-gas", "npsh-P1", "arm-rating-1"} <= {limit.key for limit in undecided}
    for limit in undecided:
        assert limit.margin is None
        assert "Ask the" in limit.ask


def test_losses_that_are_not_stated_are_asked_about() -> None:
    stated = document(alike(1), shore=NARROW)
    del stated["berth"]["shore_line"][1]["loss_coefficient"]
    del stated["ship"]["common_line"]
    questions = answered(stated).questions
    assert any("run 2" in question and "Ask the terminal" in question for question in questions)
    assert not any("run 1" in question for question in questions)


def test_every_answer_carries_the_caution_that_local_rules_win() -> None:
    for stated in (MIXED[0], MIXED[-1], closed_form(2, speeds=500.0)):
        assert (
            "Follow local regulations and the terminal's own procedures; where they are stricter than these figures,"
            " they win." in answered(stated).cautions
        )


def test_a_stopped_pump_reads_nothing() -> None:
    answer = answered(document(alike(3), speeds=[1200.0, None, 1200.0]))
    stopped = answer.pumps[1]
    assert not stopped.running
    assert stopped.flow_m3_per_h == 0.0
    values = dataclasses.asdict(stopped)
    assert values["speed_rpm"] is None
    assert values["discharge_pressure_bar_gauge"] is None


def test_a_liquid_too_thick_for_the_standard_is_answered_with_a_caution() -> None:
    """4,500 mm²/s is allowed for a cargo and beyond the scope of ANSI/HI 9.6.7, whose correction is not asked for."""
    stated = put(document(alike(2), viscosity=4500.0), "ship.pumps.0.rated_flow_m3_per_h", 2000.0)
    answer = answered(stated)
    assert answer.outcome == "found"
    assert any("4,500 mm²/s" in caution and "can't be told" in caution for caution in answer.cautions)


def test_a_correction_asked_for_without_the_flow_of_best_efficiency_is_refused() -> None:
    stated = put(document(alike(1), viscosity=450.0), "operation.viscosity_correction", "ANSI/HI 9.6.7")
    with pytest.raises(InputError, match="needs the flow of best efficiency; state efficiency_percent"):
        answered(stated)
