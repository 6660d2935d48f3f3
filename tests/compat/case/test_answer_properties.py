"""What must hold for every case, whatever its figures: hypothesis draws the ships, cargoes and berths."""

from __future__ import annotations

import copy
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from compat.case.answer import Answer, answer_case, answer_cases
from compat.case.case_file import case_document, check_case
from tests.compat.case.test_answer import exceeded
from tests.compat.systems import Document, arm, document, pipe, pump

quick = settings(max_examples=40)
RATE_SLACK = 1e-6  # relative: rates are found to about 1e-10


@st.composite
def pipes(draw: Any, bores: tuple[int, int]) -> Document:
    """A run of pipe."""
    return pipe(
        draw(st.floats(1.0, 3000.0)), draw(st.integers(*bores)), draw(st.floats(0.0, 12.0)), draw(st.floats(0.0, 0.5))
    )


@st.composite
def pumps(draw: Any, key: str) -> Document:
    """A pump by points, at one or two tested speeds, or by coefficients."""
    shut_off, run_out = draw(st.floats(60.0, 200.0)), draw(st.floats(500.0, 4000.0))
    speed = draw(st.sampled_from([900.0, 1250.0, 1780.0]))
    fall = draw(st.floats(0.2, 0.7))
    if draw(st.booleans()):
        exponent = draw(st.floats(1.2, 3.0))
        drop = fall * shut_off / run_out**exponent
        stated = {"shut_off_head_m": shut_off, "drop_at_1_m3_per_h_m": drop, "exponent": exponent}
        curves: list[Document] = [{"speed_rpm": speed, "coefficients": stated}]
    else:
        steps = draw(st.lists(st.floats(0.05, 1.0), min_size=3, max_size=5))
        curves = [_points(shut_off, fall, run_out, steps, speed)]
        if draw(st.booleans()):
            weaker = draw(st.floats(0.95, 1.0))
            curves.append(_points(shut_off * 0.64 * weaker, fall, run_out * 0.8, steps, speed * 0.8))
    line = draw(st.lists(pipes((300, 700)), max_size=2))
    return pump(
        key, curves[0], curves=curves, suction_line=draw(st.lists(pipes((350, 800)), max_size=1)), discharge_line=line,
        least_speed_rpm=draw(st.floats(0.4, 0.8)) * speed, greatest_speed_rpm=speed,
        rated_flow_m3_per_h=draw(st.none() | st.floats(0.4, 1.1).map(lambda share: share * run_out)),
    )  # fmt: skip


def _points(shut_off: float, fall: float, run_out: float, steps: list[float], speed: float) -> Document:
    total, place, points = sum(steps), 0.0, [(0.0, shut_off)]
    for step in steps:
        place += step / total
        points.append((run_out * place, shut_off * (1.0 - fall * place**2)))
    return {"speed_rpm": speed, "points": [{"flow_m3_per_h": q, "head_m": h} for q, h in points]}


@st.composite
def cases(draw: Any, *, free: bool = True) -> Document:
    """A whole case; unlike pumps as often as alike ones, oils from gasoline to heavy fuel."""
    first = draw(pumps("P1"))
    count = draw(st.integers(1, 3))
    others = [
        draw(pumps(f"P{i + 2}")) if draw(st.booleans()) else {**copy.deepcopy(first), "key": f"P{i + 2}"}
        for i in range(count - 1)
    ]
    arms = [
        arm(draw(st.integers(1, 3)), draw(st.integers(150, 400)), draw(st.floats(5.0, 60.0)), draw(st.floats(0.0, 5.0)))
    ]
    if draw(st.booleans()):
        arms.append({**arm(1, draw(st.integers(150, 400)), 30.0, 1.0), "name": "hose", "velocity_limit_m_per_s": 12.0})
    shore = [
        {**draw(pipes((300, 900))), "name": f"run {i}", "end_elevation_m": draw(st.floats(-5.0, 30.0))}
        for i in range(draw(st.integers(0, 3)))
    ]
    all_pumps = [first, *others]
    stated = document(
        all_pumps,
        speeds=[p["greatest_speed_rpm"] * draw(st.floats(0.85, 1.0)) for p in all_pumps],
        levels=[draw(st.floats(3.0, 20.0)) for _ in all_pumps],
        gas=[draw(st.floats(0.0, 0.2)) for _ in all_pumps],
        arms=arms,
        shore=shore,
        tank=draw(st.floats(0.0, 50.0)),
        density=draw(st.floats(650.0, 1000.0)),
        viscosity=draw(st.sampled_from([0.5, 2.0, 12.0, 80.0, 300.0, 700.0, 2500.0])),
    )
    for state, p in zip(stated["operation"]["pumps"], all_pumps, strict=True):
        state["speed_rpm"] = min(max(state["speed_rpm"], p["least_speed_rpm"]), p["greatest_speed_rpm"])
    stated["berth"]["receiving_rate_m3_per_h"] = draw(st.none() | st.floats(500.0, 10_000.0))
    if free:
        shared = max(p["least_speed_rpm"] for p in all_pumps) <= min(p["greatest_speed_rpm"] for p in all_pumps)
        rules = ["one common fraction", "one common speed"] if shared else ["one common fraction"]
        stated["operation"]["speed"] = draw(st.sampled_from(rules))
        stated["agreed"]["manifold_pressure_bar_gauge"] = draw(st.floats(1.0, 15.0))
        for state in stated["operation"]["pumps"]:
            del state["speed_rpm"]
    return stated


def answers(*documents: Document) -> list[Answer]:
    """Answer documents side by side."""
    return answer_cases([check_case(stated, "case") for stated in documents])


def rate(answer: Answer) -> float:
    """Rate in m³/h; no operating point is a rate of none."""
    return answer.total_flow_m3_per_h or 0.0


@quick
@given(cases())
def test_every_answer_converges_or_gives_a_reason_and_keeps_every_limit(stated: Document) -> None:
    (answer,) = answers(stated)
    assert (answer.outcome == "found") == (answer.reason == "")
    if answer.outcome == "no operating point":
        assert answer.total_flow_m3_per_h is None
        return
    assert answer.converged
    assert answer.residual_m < 1e-5
    assert not exceeded(answer)
    assert answer.binding is not None
    binding = next(limit for limit in answer.limits if limit.key == answer.binding)
    assert binding.state == "binding"
    if answer.outcome == "throttling needed":
        assert answer.throttled_head_m > 0


@quick
@given(cases(free=False))
def test_at_stated_speeds_mass_balances_and_every_running_pump_is_at_the_common_head(stated: Document) -> None:
    (answer,) = answers(stated)
    if answer.outcome == "no operating point":
        assert answer.reason
        return
    assert answer.converged
    total = rate(answer)
    assert sum(reading.flow_m3_per_h for reading in answer.pumps) == pytest.approx(total, rel=1e-8)
    assert sum(a.count * a.flow_each_m3_per_h for a in answer.arms) == pytest.approx(total, rel=1e-8)
    assert all(reading.flow_m3_per_h >= 0 for reading in answer.pumps)
    heads = [point.head_m for point in answer.profile]
    assert heads == sorted(heads, reverse=True)


@quick
@given(cases(), st.floats(0.0, 5.0))
def test_more_agreed_pressure_never_lowers_the_rate(stated: Document, more: float) -> None:
    eased = copy.deepcopy(stated)
    eased["agreed"]["manifold_pressure_bar_gauge"] += more
    before, after = answers(stated, eased)
    assert rate(after) >= rate(before) * (1.0 - RATE_SLACK)


@quick
@given(st.booleans().flatmap(lambda free: cases(free=free)), st.floats(0.0, 25.0))
def test_a_higher_shore_tank_never_raises_the_rate(stated: Document, more: float) -> None:
    # Rated flows apart: where pumps draw from unlike levels, more head brings their flows closer to each other,
    # so that the first of them may reach its rated flow at a slightly greater total.
    for facts in stated["ship"]["pumps"]:
        facts["rated_flow_m3_per_h"] = None
    raised = copy.deepcopy(stated)
    raised["berth"]["shore_end"]["tank"]["surface_elevation_m"] += more
    before, after = answers(stated, raised)
    assert rate(after) <= rate(before) * (1.0 + RATE_SLACK) + 1e-6


@quick
@given(cases(free=False), st.data())
def test_an_added_pump_at_its_speed_never_lowers_the_rate(stated: Document, data: st.DataObject) -> None:
    more = copy.deepcopy(stated)
    added = data.draw(pumps("P9"))
    more["ship"]["pumps"].append(added)
    state = {**stated["operation"]["pumps"][0], "pump": "P9", "speed_rpm": added["greatest_speed_rpm"]}
    more["operation"]["pumps"].append(state)
    before, after = answers(stated, more)
    assert rate(after) >= rate(before) * (1.0 - RATE_SLACK)


@quick
@given(cases())
def test_one_more_pump_of_the_same_kind_never_lowers_the_achievable_rate(stated: Document) -> None:
    assume(all(p["least_speed_rpm"] < 0.6 * p["greatest_speed_rpm"] for p in stated["ship"]["pumps"]))
    more = copy.deepcopy(stated)
    more["ship"]["pumps"].append({**copy.deepcopy(stated["ship"]["pumps"][0]), "key": "P9"})
    more["operation"]["pumps"].append({**stated["operation"]["pumps"][0], "pump": "P9"})
    before, after = answers(stated, more)
    assert rate(after) >= rate(before) * (1.0 - RATE_SLACK)


@quick
@given(cases(free=False), st.floats(0.7, 1.25))
def test_a_heavier_liquid_under_pressures_raised_alike_moves_the_same(stated: Document, factor: float) -> None:
    """Heads, not pressures, move liquid: with every stated pressure scaled as the density, flows and heads stay."""
    density = stated["cargo"]["density_kg_per_m3"]
    assume(500.0 <= density * factor <= 1200.0)
    heavier = copy.deepcopy(stated)
    heavier["cargo"]["density_kg_per_m3"] = density * factor
    for state in heavier["operation"]["pumps"]:
        state["tank_gas_pressure_bar_gauge"] *= factor
    before, after = answers(stated, heavier)
    assert rate(after) == pytest.approx(rate(before), rel=1e-8, abs=1e-4)
    for left, right in zip(before.profile, after.profile, strict=True):
        assert right.head_m == pytest.approx(left.head_m, rel=1e-8, abs=1e-6)
        assert right.pressure_bar_gauge == pytest.approx(factor * left.pressure_bar_gauge, rel=1e-7, abs=1e-6)


@quick
@given(cases(free=False), st.floats(0.6, 1.15))
def test_in_another_unit_of_length_the_answer_is_the_same(stated: Document, scale: float) -> None:
    """A unit of 1/scale m, and of time so that g keeps its number: flow scales by 2.5, viscosity by 1.5, head by 1."""
    other = in_another_length(stated, scale)
    try:
        check_case(other, "case")
    except Exception:  # noqa: BLE001 - outside the believed ranges there is nothing to compare
        assume(False)
    before, after = answers(stated, other)
    assert rate(after) == pytest.approx(rate(before) * scale**2.5, rel=1e-7, abs=1e-4)
    for left, right in zip(before.pumps, after.pumps, strict=True):
        assert right.flow_m3_per_h == pytest.approx(left.flow_m3_per_h * scale**2.5, rel=1e-6, abs=1e-3)
    for start, end in zip(before.profile, after.profile, strict=True):
        assert end.head_m == pytest.approx(start.head_m * scale, rel=1e-7, abs=1e-6)


LENGTHS = ("length_m", "bore_mm", "roughness_mm", "head_m", "shut_off_head_m", "elevation_m", "surface_elevation_m")


def in_another_length(value: Any, scale: float, key: str = "") -> Any:
    """Return a document in which every length, flow, viscosity, head and pressure is scaled alike."""
    if isinstance(value, dict):
        return {name: in_another_length(item, scale, name) for name, item in value.items()} | _coefficients(
            value, scale
        )
    if isinstance(value, list):
        return [in_another_length(item, scale, key) for item in value]
    if not isinstance(value, float | int) or isinstance(value, bool):
        return value
    if key.endswith(LENGTHS) or key.endswith("pressure_bar_gauge"):
        return value * scale
    if key.endswith("m3_per_h"):
        return value * scale**2.5
    return value * scale**1.5 if key.startswith("kinematic_viscosity") else value


def _coefficients(value: Document, scale: float) -> Document:
    if "drop_at_1_m3_per_h_m" not in value:
        return {}
    return {"drop_at_1_m3_per_h_m": value["drop_at_1_m3_per_h_m"] * scale ** (1.0 - 2.5 * value["exponent"])}


@quick
@given(cases())
def test_a_case_reads_back_to_the_same_answer(stated: Document) -> None:
    case = check_case(stated, "case")
    again = check_case(case_document(case), "case")
    assert again == case
    assert answer_case(again).document() == answer_case(case).document()
