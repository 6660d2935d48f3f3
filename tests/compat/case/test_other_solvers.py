"""Whole systems against EPANET 2.2 (through wntr) and against a second solution by plain brackets.

EPANET's friction is Swamee and Jain's approximation of Colebrook and, between Reynolds numbers 2,000 and 4,000, a
cubic of its own. So the tolerance against it is 0.5 % where flow is turbulent and 1e-4 where it is laminar; in the
transition both answers must lie between those of the two laws carried through it. The second solution uses
Colebrook itself (the `fluids` library), so there the tolerance is 1e-8.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from compat.case.answer import Answer, answer_case
from compat.case.case_file import CaseFile, check_case
from tests.compat import epanet
from tests.compat.case import by_brackets
from tests.compat.systems import SYSTEMS, System

SETTLED = [system for system in SYSTEMS if system.regime != "transition"]
TRANSITION = [system for system in SYSTEMS if system.regime == "transition"]
TOLERANCE = {"turbulent": 5e-3, "laminar and turbulent": 5e-3, "laminar": 1e-4}
SECOND_SOLUTION_TOLERANCE = 1e-8
SWAMEE_JAIN_SLACK = 5e-3


@cache
def solved(system: System) -> tuple[CaseFile, Answer, dict[str, float]]:
    """Return the case, our answer and the speeds of the running pumps."""
    case = check_case(system.document, system.name)
    answer = answer_case(case)
    assert answer.outcome == "found"
    assert answer.converged
    speeds = {reading.pump: reading.speed_rpm for reading in answer.pumps if reading.speed_rpm is not None}
    return case, answer, speeds


def flow(answer: Answer) -> float:
    """Return the total flow of an answer that has one, in m³/h."""
    assert answer.total_flow_m3_per_h is not None
    return answer.total_flow_m3_per_h


@pytest.mark.parametrize("system", SETTLED, ids=lambda system: system.name)
def test_flows_and_pressures_agree_with_epanet(system: System, tmp_path: Path) -> None:
    case, answer, speeds = solved(system)
    network = epanet.solve(case, speeds, tmp_path)
    tolerance = TOLERANCE[system.regime]
    assert network.total_flow_m3_per_h == pytest.approx(flow(answer), rel=tolerance)
    pumps = [reading for reading in answer.pumps if reading.running]
    greatest = max(reading.flow_m3_per_h for reading in pumps)
    highest = max(reading.discharge_pressure_bar_gauge or 0.0 for reading in pumps)
    for reading in pumps:
        key = reading.pump
        assert network.pump_flow_m3_per_h[key] == pytest.approx(reading.flow_m3_per_h, abs=tolerance * greatest)
        for theirs, ours in (
            (network.suction_bar_gauge[key], reading.suction_pressure_bar_gauge),
            (network.discharge_bar_gauge[key], reading.discharge_pressure_bar_gauge),
        ):
            if reading.flow_m3_per_h > 0:  # behind a shut valve EPANET sets no pressure
                assert theirs == pytest.approx(ours, abs=tolerance * highest)
    for arm in answer.arms:
        assert network.arm_flow_m3_per_h[arm.name] == pytest.approx(arm.flow_each_m3_per_h, rel=tolerance)
    ours_along = [point.pressure_bar_gauge for point in answer.profile]
    assert network.profile_bar_gauge == pytest.approx(ours_along, abs=tolerance * highest)
    for reading in answer.pumps:
        if not reading.running:
            assert reading.flow_m3_per_h == 0.0
            assert network.pump_flow_m3_per_h[reading.pump] == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize("system", SETTLED, ids=lambda system: system.name)
def test_flows_agree_with_a_second_solution_that_uses_colebrook_itself(system: System) -> None:
    case, answer, _ = solved(system)
    second = by_brackets.solve(case, by_brackets.turbulent_from(3000.0))
    assert regime(second.reynolds) == system.regime
    assert second.total_m3_per_s * 3600.0 == pytest.approx(flow(answer), rel=SECOND_SOLUTION_TOLERANCE)
    for reading in answer.pumps:
        if reading.running:
            expected = second.pump_m3_per_s[reading.pump] * 3600.0
            assert reading.flow_m3_per_h == pytest.approx(expected, abs=SECOND_SOLUTION_TOLERANCE * flow(answer))
    assert not any(reading.beyond_curve for reading in answer.pumps)


@pytest.mark.parametrize("system", TRANSITION, ids=lambda system: system.name)
def test_in_the_transition_flows_lie_between_the_two_laws(system: System, tmp_path: Path) -> None:
    case, answer, speeds = solved(system)
    rougher = by_brackets.solve(case, by_brackets.turbulent_from(2000.0))
    smoother = by_brackets.solve(case, by_brackets.turbulent_from(4000.0))
    assert regime(rougher.reynolds) == "transition"
    least, most = rougher.total_m3_per_s * 3600.0, smoother.total_m3_per_s * 3600.0
    assert most > least * 1.001  # a band worth the name, or the test would say nothing
    assert least <= flow(answer) <= most
    theirs = epanet.solve(case, speeds, tmp_path).total_flow_m3_per_h
    assert least * (1.0 - SWAMEE_JAIN_SLACK) <= theirs <= most * (1.0 + SWAMEE_JAIN_SLACK)


def test_a_pump_that_can_not_lift_its_valve_stands_in_all_three(tmp_path: Path) -> None:
    system = next(system for system in SYSTEMS if "shut out" in system.name)
    case, answer, speeds = solved(system)
    assert [reading.flow_m3_per_h == 0.0 for reading in answer.pumps] == [False, False, True]
    assert abs(epanet.solve(case, speeds, tmp_path).pump_flow_m3_per_h["P3"]) < 1e-3
    assert by_brackets.solve(case, by_brackets.turbulent_from(3000.0)).pump_m3_per_s["P3"] == 0.0
    assert any("P3 stands against its non-return valve" in sentence for sentence in answer.cautions)


def test_at_least_thirty_systems_are_compared() -> None:
    assert len(SETTLED) >= 30
    assert len({system.name for system in SYSTEMS}) == len(SYSTEMS)


def regime(reynolds: list[float]) -> str:
    """Name the regime of Reynolds numbers as the systems state it."""
    if any(2000.0 < number < 4000.0 for number in reynolds):
        return "transition"
    laminar = [number <= 2000.0 for number in reynolds]
    return "laminar" if all(laminar) else "laminar and turbulent" if any(laminar) else "turbulent"
