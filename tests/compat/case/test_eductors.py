"""Eductors beside cargo pumps, in closed form: what drives them leaves the pumps' flow, as the drive head has it.

Two pumps H = 150 - 1.2e-6 q² (at 1,000 rpm) meet 40 + 2.0e-6 Q² of the shore, q in m³/h of one pump, Q ashore.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy.optimize import brentq

from compat.case.answer import Answer, binding_of_each
from compat.case.case_file import check_case
from compat.case.diagram_document import diagram_document
from compat.case.least_power import ways_to_make
from compat.case.report import report
from tests.compat.case.test_answer import answered, exceeded, flow_at_pressure, freed, put, row
from tests.compat.systems import (
    DROP,
    RESISTANCE,
    SHUT_OFF_M,
    STATIC_M,
    Document,
    closed_form,
    document,
    pipe,
    points,
    pump,
)

CURVE = points([(0, 40), (100, 30), (200, 15)], 1000.0)  # m³/h stripped, head in m
DRIVE, DRIVE_HEAD = 350.0, 90.0
ATMOSPHERIC = {"tank_surface_elevation_m": 3.0, "tank_gas_pressure_bar_gauge": 0.0}


def eductor(**changes: Any) -> Document:
    """An eductor that 350 m³/h drive, without lines of its own."""
    stated: Document = {
        "kind": "eductor", "least_speed_rpm": 1000.0, "greatest_speed_rpm": 1000.0, "drive_liquid_m3_per_h": DRIVE,
        "suction_line": [], "discharge_line": [],
    }  # fmt: skip
    return pump("E1", CURVE, **{**stated, **changes})


def beside(stated: Document, **changes: Any) -> Document:
    """Return a document with the eductor running beside its pumps, from a tank whose surface is 3 m over the keel."""
    changed = put(stated, "ship.pumps", [*stated["ship"]["pumps"], eductor(**changes)])
    speed = {} if stated["operation"]["speed"] != "as stated" else {"speed_rpm": 1000.0}
    state = {"pump": "E1", "running": True, **ATMOSPHERIC, **speed}
    return put(changed, "operation.pumps", [*stated["operation"]["pumps"], state])


def rate(answer: Answer) -> float:
    """Return the rate ashore."""
    assert answer.total_flow_m3_per_h is not None
    return answer.total_flow_m3_per_h


def tank_head_m() -> float:
    """Return the surface that the eductor strips from, over the berth's zero: 3 m over a keel 9 m below it."""
    return 3.0 - 9.0


def test_a_constant_drive_liquid_is_taken_out_of_the_pumps_flow() -> None:
    """150 - k ((Q + 350)/2)² = 40 + R Q²."""
    answer = answered(beside(closed_form(2)))
    expected = brentq(
        lambda q: SHUT_OFF_M - DROP * ((q + DRIVE) / 2.0) ** 2 - STATIC_M - RESISTANCE * q**2, 0.0, 1e4, xtol=1e-9
    )
    assert rate(answer) == pytest.approx(expected, rel=1e-8)
    assert sum(reading.flow_m3_per_h for reading in answer.pumps) == pytest.approx(expected + DRIVE, rel=1e-8)
    assert answer.converged
    (one,) = answer.eductors
    assert one.drive_flow_m3_per_h == DRIVE
    assert one.stripped_flow_m3_per_h is None  # the height of its outlet is not stated
    assert any("drive head of No. E1 is not stated" in text for text in answer.cautions)
    assert rate(answer) < rate(answered(closed_form(2)))


def test_the_drive_liquid_goes_with_the_root_of_the_drive_head() -> None:
    """D = 350 sqrt((40 + R Q² - tank)/90) beside 150 - k ((Q + d)/2)² = 40 + R Q², and what it strips follows."""
    answer = answered(beside(closed_form(2), drive_head_m=DRIVE_HEAD, outlet_elevation_m=35.0))
    (one,) = answer.eductors
    total = rate(answer)
    head = STATIC_M + RESISTANCE * total**2 - tank_head_m()
    drive = DRIVE * math.sqrt(head / DRIVE_HEAD)
    assert one.drive_head_m == pytest.approx(head, rel=1e-6)
    assert one.drive_flow_m3_per_h == pytest.approx(drive, rel=1e-6)
    left = SHUT_OFF_M - DROP * ((total + drive) / 2.0) ** 2 - STATIC_M - RESISTANCE * total**2
    assert left == pytest.approx(0.0, abs=1e-5)
    ratio = math.sqrt(head / DRIVE_HEAD)
    lift = 35.0 - 3.0
    stripped = one.stripped_flow_m3_per_h
    assert stripped is not None
    curve_head = float(np.interp(stripped / ratio, [0, 100, 200], [40, 30, 15]))
    assert ratio**2 * curve_head == pytest.approx(lift, abs=1.0)  # the curve bends between its points
    assert not any("drive head" in text for text in answer.cautions)
    assert "Driven by the pumps, into a tank on board" in report(answer)


def test_the_riser_of_an_eductor_carries_its_drive_liquid_too() -> None:
    """Fittings alone: K v²/2g at 350 m³/h and what is stripped, instead of at what is stripped."""
    bare = answered(beside(closed_form(2), outlet_elevation_m=20.0)).eductors[0].stripped_flow_m3_per_h
    riser = [pipe(0.0, 200.0, 3.0)]
    long = answered(beside(closed_form(2), outlet_elevation_m=20.0, discharge_line=riser)).eductors[0]
    assert bare is not None
    assert long.stripped_flow_m3_per_h is not None
    velocity = (long.stripped_flow_m3_per_h + DRIVE) / 3600.0 / (math.pi * 0.2**2 / 4.0)
    asked = 17.0 + 3.0 * velocity**2 / (2.0 * 9.80665)
    no_riser = answered(beside(closed_form(2), outlet_elevation_m=3.0 + asked)).eductors[0].stripped_flow_m3_per_h
    assert long.stripped_flow_m3_per_h == pytest.approx(no_riser, rel=1e-6)
    assert long.stripped_flow_m3_per_h < bare


def test_under_an_agreed_pressure_the_rate_ashore_stays_and_the_pumps_turn_faster() -> None:
    plain = answered(freed(closed_form(2), 6.0))
    answer = answered(beside(freed(closed_form(2), 6.0), drive_head_m=DRIVE_HEAD))
    assert rate(answer) == pytest.approx(rate(plain), rel=1e-8)
    assert rate(answer) == pytest.approx(flow_at_pressure(6.0), rel=1e-8)
    assert answer.binding == "agreed-manifold-pressure"
    assert answer.pumps[0].speed_rpm > plain.pumps[0].speed_rpm  # type: ignore[operator]
    assert not exceeded(answer)


def test_a_cap_on_the_rate_is_one_on_what_goes_ashore() -> None:
    answer = answered(beside(put(freed(closed_form(2), 9.0), "agreed.highest_rate_m3_per_h", 3000.0)))
    assert rate(answer) == pytest.approx(3000.0, rel=1e-8)
    assert answer.binding == "agreed-highest-rate"
    assert sum(reading.flow_m3_per_h for reading in answer.pumps) == pytest.approx(3000.0 + DRIVE, rel=1e-8)
    assert row(answer, "agreed-highest-rate").value == pytest.approx(3000.0, rel=1e-8)


def test_where_all_flow_drives_the_eductor_nothing_goes_ashore_and_it_is_said() -> None:
    answer = answered(beside(put(closed_form(1), "operation.pumps.0.speed_rpm", 520.0), drive_liquid_m3_per_h=5000.0))
    assert answer.outcome == "no operating point"
    assert answer.reason.startswith("All that the pumps give drives the eductors")


def test_a_sampled_case_and_the_diagram_count_the_drive_too() -> None:
    stated = beside(freed(closed_form(2), 20.0), drive_head_m=DRIVE_HEAD)
    case, answer = check_case(stated, "case"), answered(stated)
    flows, _ = binding_of_each([case])
    assert flows[0] == pytest.approx(rate(answer), rel=1e-9)
    drawn = diagram_document(case, answer.document())
    assert drawn is not None
    assert float(drawn["point"]["flow_m3_per_h"][0]) == pytest.approx(rate(answer), abs=0.06)
    pressure = float(drawn["point"]["pressure_bar_gauge"][0])
    assert pressure == pytest.approx(answer.manifold_pressure_bar_gauge, abs=2e-3)
    full = drawn["pumps"][0]
    met = np.interp(rate(answer), full["flow_m3_per_h"], full["pressure_bar_gauge"])
    assert met == pytest.approx(answer.manifold_pressure_bar_gauge, abs=0.02)


def test_other_pumps_for_the_same_rate_keep_the_eductor_running() -> None:
    stated = beside(freed(closed_form(3), 6.0), drive_head_m=DRIVE_HEAD)
    for one in stated["ship"]["pumps"][:3]:
        rows = [
            {"flow_m3_per_h": q, "head_m": SHUT_OFF_M - DROP * q**2, "efficiency_percent": 75.0}
            for q in range(0, 8001, 400)
        ]
        one["curves"] = [{"speed_rpm": 1000.0, "points": rows}]
    case = check_case(stated, "case")
    ways = ways_to_make(case, answered(stated)).ways
    assert ways
    for way in ways:
        assert "E1" not in way.pumps
        assert way.rate_m3_per_h == pytest.approx(rate(answered(stated)), rel=1e-6)


def test_an_unknown_drive_liquid_is_asked_for_and_not_guessed() -> None:
    answer = answered(beside(closed_form(2), drive_liquid_m3_per_h=None))
    assert any(
        "The liquid that drives No. E1 is not known and not taken off the rate" in text for text in answer.cautions
    )
    assert answer.eductors[0].drive_flow_m3_per_h is None


def test_an_eductor_alone_is_driven_from_elsewhere_and_works_on_its_curve() -> None:
    curve = points([(0, 70), (150, 45), (300, 20)], 1000.0)
    alone = pump(
        "E1", curve, kind="eductor", drive_liquid_m3_per_h=350.0, least_speed_rpm=1000.0, greatest_speed_rpm=1000.0
    )
    answer = answered(document([alone], speeds=1000.0, tank=40.0))
    (reading,) = answer.pumps
    assert reading.head_m == pytest.approx(70.0 - reading.flow_m3_per_h / 6.0, rel=1e-8)
    assert answer.eductors == ()
    assert any("No pump runs that drives No. E1" in text for text in answer.cautions)
