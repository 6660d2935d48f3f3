"""Shores with several receiving tanks or a booster pump against EPANET 2.2 (through wntr): flows and pressures.

Tolerances as in ``test_other_solvers``: 0.5 % where flow is turbulent, 1e-4 where it is laminar.
"""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import pytest

from compat.case.answer import answer_case
from compat.case.case_file import check_case
from tests.compat import epanet
from tests.compat.case.test_answer import put
from tests.compat.systems import UNLIKE, UNLIKE_ARMS, Document, alike, document, pipe

TURBULENT, LAMINAR = 5e-3, 1e-4
HILL = [(0.0, 70.0), (1500.0, 62.0), (3000.0, 45.0), (5000.0, 12.0)]


def branch(name: str, level: float, run: tuple[float, float, float], gas: float = 0.0) -> Document:
    """A receiving tank at the end of a pipe of its own: length m, bore mm, K."""
    length, bore, k = run
    return pipe(length, bore, k, 0.1, name=name, surface_elevation_m=level, gas_pressure_bar_gauge=gas)


def into(stated: Document, *tanks: Document) -> Document:
    """Return a document that ends in several tanks."""
    return put(stated, "berth.shore_end", {"tanks": list(tanks)})


def boosted(stated: Document, segment: str, pairs: list[tuple[float, float]] | None = None) -> Document:
    """Return a document with a booster before a segment."""
    points = [{"flow_m3_per_h": q, "head_m": h} for q, h in pairs or HILL]
    return put(stated, "berth.booster", {"name": "Hill pump", "feeds_segment": segment, "points": points})


def thick(**more: Any) -> Document:
    """Two alike pumps with an oil that stays laminar everywhere."""
    return document(alike(2), density=965.0, viscosity=2500.0, **more)


NEAR, FAR, SMALL = (150.0, 400.0, 3.0), (900.0, 400.0, 3.0), (300.0, 250.0, 4.0)
SHORES: list[tuple[str, float, Document]] = [
    ("two alike tanks", TURBULENT, into(document(alike(2)), branch("A", 16.0, NEAR), branch("B", 16.0, NEAR))),
    (
        "level tanks behind unlike pipes",
        TURBULENT,
        into(document(alike(3)), branch("A", 16.0, NEAR), branch("B", 16.0, FAR), branch("C", 16.0, SMALL)),
    ),
    ("tanks of unlike level", TURBULENT, into(document(alike(2)), branch("A", 18.0, NEAR), branch("B", 11.0, FAR))),
    (
        "a high tank that runs back",
        TURBULENT,
        into(document(alike(1), speeds=900.0), branch("High", 55.0, NEAR), branch("Low", 6.0, NEAR)),
    ),
    (
        "gas on one of the tanks",
        TURBULENT,
        into(document(alike(2)), branch("A", 14.0, NEAR), branch("B", 14.0, NEAR, gas=0.8)),
    ),
    (
        "unlike pumps and arms into tanks",
        TURBULENT,
        into(document(UNLIKE, arms=UNLIKE_ARMS), branch("A", 17.0, FAR), branch("B", 15.0, NEAR)),
    ),
    (
        "tanks right behind the arms",
        TURBULENT,
        into(document(alike(2), shore=[], tank=0.0), branch("A", 16.0, FAR), branch("B", 14.0, NEAR)),
    ),
    ("laminar, tanks", LAMINAR, into(thick(), branch("A", 16.0, NEAR), branch("B", 12.0, FAR))),
    ("booster on the first run", TURBULENT, boosted(document(alike(2)), "jetty")),
    ("booster before the ridge", TURBULENT, boosted(document(alike(2), tank=60.0), "ridge")),
    ("booster before the tank farm", TURBULENT, boosted(document(UNLIKE, tank=50.0), "tank farm")),
    ("laminar, booster", LAMINAR, boosted(thick(), "ridge")),
    (
        "booster and several tanks",
        TURBULENT,
        boosted(into(document(alike(2)), branch("A", 40.0, NEAR), branch("B", 33.0, FAR)), "tank farm"),
    ),
]


@pytest.mark.parametrize(("tolerance", "stated"), [entry[1:] for entry in SHORES], ids=[entry[0] for entry in SHORES])
def test_flows_and_pressures_agree_with_epanet(tolerance: float, stated: Document, tmp_path: Path) -> None:
    case = check_case(stated, "case")
    answer = answer_case(case)
    assert answer.outcome == "found"
    assert answer.converged
    speeds = {reading.pump: reading.speed_rpm for reading in answer.pumps if reading.speed_rpm is not None}
    network = epanet.solve(case, speeds, tmp_path)
    total = answer.total_flow_m3_per_h
    assert total is not None
    assert network.total_flow_m3_per_h == pytest.approx(total, rel=tolerance)
    for arm in answer.arms:
        assert network.arm_flow_m3_per_h[arm.name] == pytest.approx(arm.flow_each_m3_per_h, rel=tolerance)
    for tank in answer.tanks:
        assert network.tank_flow_m3_per_h[tank.name] == pytest.approx(tank.flow_m3_per_h, abs=tolerance * total)
    highest = max(reading.discharge_pressure_bar_gauge or 0.0 for reading in answer.pumps)
    along = [point.pressure_bar_gauge for point in answer.profile]
    assert network.profile_bar_gauge == pytest.approx(along, abs=tolerance * highest)


def test_the_flow_into_the_tanks_is_the_flow_of_the_pumps() -> None:
    for _, _, stated in SHORES:
        answer = answer_case(check_case(stated, "case"))
        if answer.tanks:
            assert sum(tank.flow_m3_per_h for tank in answer.tanks) == pytest.approx(answer.total_flow_m3_per_h)


def test_a_tank_that_runs_back_is_named_and_one_that_does_not_is_not() -> None:
    stated = next(stated for name, _, stated in SHORES if "runs back" in name)
    answer = answer_case(check_case(stated, "case"))
    flows = {tank.name: tank.flow_m3_per_h for tank in answer.tanks}
    assert flows["High"] < 0.0 < flows["Low"]
    assert flows["Low"] > (answer.total_flow_m3_per_h or 0.0)
    backwards = [text for text in answer.cautions if "runs out of" in text]
    assert backwards == ["Liquid runs out of High into the others: shut its valve until the levels are nearer."]
    levelled = copy.deepcopy(stated)
    levelled["berth"]["shore_end"]["tanks"][0]["surface_elevation_m"] = 6.0
    assert not any("runs out of" in text for text in answer_case(check_case(levelled, "case")).cautions)


def test_alike_tanks_share_alike_and_a_wider_pipe_takes_more() -> None:
    stated = into(document(alike(2)), branch("A", 16.0, NEAR), branch("B", 16.0, NEAR), branch("C", 16.0, SMALL))
    first, second, small = answer_case(check_case(stated, "case")).tanks
    assert first.flow_m3_per_h == pytest.approx(second.flow_m3_per_h, rel=1e-9)
    assert 0.0 < small.flow_m3_per_h < first.flow_m3_per_h
