"""Parts that other rooms add to the plan: frozen when it is settled, printed from the signed bytes alone."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from compat.accord import plan_parts
from compat.accord.plan_document import plan_bytes, plan_payload
from compat.accord.plan_file import read_plan
from compat.accord.plan_parts import Part, PartSource, documents_of
from compat.accord.plan_view import plan_view
from compat.accord.states import State
from compat.case.case_file import check_case
from shared.models import Person
from tests.builders import case_document
from tests.compat.accord.building import bring_to
from tests.compat.accord.plan_builders import plan_inputs

WORKED: list[bool] = []


def gather(source: PartSource) -> dict[str, Any]:
    WORKED.append(source.line_data_shared)
    return {"rate": source.answer["total_flow_m3_per_h"], "ship": source.case.ship.name}


def glance(document: dict[str, Any]) -> list[dict[str, str]]:
    return [{"label": "Told by a part", "figure": document["rate"], "beside": "here"}]


@pytest.fixture(autouse=True)
def one_part(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    part = Part("told", "accord/plan/mark.html", gather, lambda document: {"kind": document["ship"]}, glance)
    absent = Part("absent", "accord/plan/mark.html", lambda source: None, dict)
    monkeypatch.setattr(plan_parts, "PARTS", (absent, part))
    plan_parts._documents_text.cache_clear()
    WORKED.clear()
    yield
    plan_parts._documents_text.cache_clear()


def test_a_part_is_worked_out_once_for_a_case_and_its_floats_become_text() -> None:
    case = check_case(case_document(), "case")
    first = documents_of(case, line_data_shared=True)
    first["told"]["ship"] = "changed by a caller"
    again = documents_of(case, line_data_shared=True)
    assert set(again) == {"told"}
    assert again["told"]["ship"] == "Astrid Halvard"
    assert isinstance(again["told"]["rate"], str)
    assert WORKED == [True]
    documents_of(case, line_data_shared=False)
    assert WORKED == [True, False]


def test_a_part_stands_in_the_signed_bytes_and_is_printed_from_them() -> None:
    payload = plan_payload(plan_inputs(parts={"told": {"rate": "2900", "ship": "Astrid Halvard"}}))
    assert b'"parts":{"told":{"rate":"2900"' in plan_bytes(payload)
    view = plan_view(read_plan(plan_bytes(payload)))
    assert [entry["part"] for entry in view["parts"]] == [{"kind": "Astrid Halvard"}]
    assert view["glance"][-1]["figure"] == "2900"


def test_settling_freezes_the_parts(ship_officer: Person, terminal_officer: Person) -> None:
    accord = bring_to(State.SETTLED, ship_officer, terminal_officer)
    assert b'"parts":{"told":{' in bytes(accord.payload or b"")
    assert WORKED == [True]
