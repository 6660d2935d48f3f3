"""The highest flow within the pumps' own limits: Newton's method against brackets, each kind of limit, and slopes."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from compat.calc import pump_limits
from compat.calc.operating_point import speed_for_flow
from compat.calc.pump_limits import flow_within_pump_limits, pump_excess
from compat.case.case_arrays import CaseArrays, arrays_of
from compat.case.case_file import check_case
from tests.builders import case_document, pump_facts, ship_facts
from vessels.calc.power import shaft_power_slopes, shaft_power_w
from vessels.calc.pump import pump_head
from vessels.calc.suction import suction_margin_m, suction_margin_slopes

Document = dict[str, Any]


def _pump(key: str, **changes: Any) -> Document:
    stated = pump_facts(key, **changes)
    for point, efficiency in zip(stated["curves"][0]["points"], (20.0, 62.0, 80.0, 83.0, 80.0), strict=True):
        point["efficiency_percent"] = efficiency
    return stated


def _case(pressure: float = 14.0, vapour: float = 40.0, **changes: Any) -> Document:
    case = case_document(ship=ship_facts(pumps=[_pump("P1", **changes), _pump("P2", head_kept_percent=97.0)]))
    case["agreed"] = {"manifold_pressure_bar_gauge": pressure}
    case["cargo"]["vapour_pressure_kpa_abs"] = vapour
    for state in case["operation"]["pumps"]:
        state["tank_surface_elevation_m"] = 4.0
    return case


CASES = {
    "rated flow": _case(rated_flow_m3_per_h=900.0),
    "suction": _case(vapour=90.0),
    "driver power": _case(driver_power_limit_kw=250.0),
    "rated flow, throttled at the least speed": _case(rated_flow_m3_per_h=300.0, least_speed_rpm=1480.0),
    "suction at any flow": _case(vapour=125.0),
}


def _built(*cases: Document) -> CaseArrays:
    return arrays_of([check_case(case, "case") for case in cases])


def _within(built: CaseArrays) -> Any:
    flow = np.full(built.system.density_kg_per_m3.shape, 2600.0 / 3600.0)
    before = speed_for_flow(built.system, built.rule, flow)
    return before, flow_within_pump_limits(built.system, built.rule, built.limits, before.point, before.setting)


@pytest.mark.parametrize("named", CASES)
def test_newton_finds_what_brackets_find(named: str, monkeypatch: pytest.MonkeyPatch) -> None:
    built = _built(CASES[named])
    before, found = _within(built)

    def gives_up(*args: Any) -> Any:
        flow, near, done = original(*args)
        return flow, near, np.zeros_like(done)

    original = pump_limits._by_newton
    monkeypatch.setattr(pump_limits, "_by_newton", gives_up)
    _, searched = _within(built)
    np.testing.assert_allclose(found.point.flow_m3_per_s, searched.point.flow_m3_per_s, rtol=1e-7, atol=1e-9)
    assert pump_excess(built.system, built.limits, before.point.pump_flow_m3_per_s, before.point.speed_rpm)[0] > 0
    assert found.point.flow_m3_per_s[0] < before.point.flow_m3_per_s[0]


@pytest.mark.parametrize("named", [name for name in CASES if name != "suction at any flow"])
def test_the_worst_pump_is_right_at_its_limit(named: str) -> None:
    built = _built(CASES[named])
    point = _within(built)[1].point
    excess = pump_excess(built.system, built.limits, point.pump_flow_m3_per_s, point.speed_rpm)
    assert excess[0] == pytest.approx(0.0, abs=1e-8)
    assert (point.throttled_head_m[0] > 0) == ("throttled" in named)


def test_a_pump_short_of_suction_even_at_rest_gives_nothing() -> None:
    assert _within(_built(CASES["suction at any flow"]))[1].point.flow_m3_per_s[0] == pytest.approx(0.0, abs=1e-9)


def test_cases_in_one_array_come_out_as_each_alone() -> None:
    together = _within(_built(*CASES.values()))[1].point
    for place, case in enumerate(CASES.values()):
        alone = _within(_built(case))[1].point
        assert together.flow_m3_per_s[place] == pytest.approx(alone.flow_m3_per_s[0], rel=1e-8, abs=1e-9)


def test_slopes_are_those_of_small_differences() -> None:
    built = _built(CASES["driver power"])
    system, limits = built.system, built.limits
    flow, speed = np.full((1, 2), 0.31), np.full((1, 2), 1370.0)

    def watts(flow: np.ndarray, speed: np.ndarray) -> np.ndarray:
        head = pump_head(system.pumps.curves, flow, speed)[0]
        return shaft_power_w(limits.power, flow, head, speed, system.density_kg_per_m3[:, None])

    def margin(flow: np.ndarray, speed: np.ndarray) -> np.ndarray:
        return suction_margin_m(system.pumps, limits.suction, flow, speed)

    head = pump_head(system.pumps.curves, flow, speed)
    power = shaft_power_slopes(limits.power, flow, head, speed, system.density_kg_per_m3[:, None])
    suction = suction_margin_slopes(system.pumps, limits.suction, flow, speed)
    for function, (by_flow, by_speed) in ((watts, power), (margin, suction)):
        dq, dn = 1e-6, 1e-3
        np.testing.assert_allclose(by_flow, (function(flow + dq, speed) - function(flow - dq, speed)) / 2 / dq, 1e-5)
        np.testing.assert_allclose(by_speed, (function(flow, speed + dn) - function(flow, speed - dn)) / 2 / dn, 1e-5)
