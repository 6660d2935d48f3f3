"""Several grades at once: a case for each, and the inert gas that they share."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest

from compat.case.answer import answer_case
from compat.case.case_file import CaseError, check_case
from compat.case.grades import GradesAnswer, answer_grades, check_grades
from compat.case.grades_report import grades_report
from tests.compat.case.test_answer import freed, put, row
from tests.compat.case.test_case_file import assess
from tests.compat.systems import Document, alike, closed_form, document


def grade(stated: Document, *running: str) -> Document:
    """Return a case in which these pumps run and the others stand."""
    changed = copy.deepcopy(stated)
    for state in changed["operation"]["pumps"]:
        state["running"] = state["pump"] in running
    return changed


def grades(*cases: Document, **more: Any) -> Document:
    """A document of several grades."""
    return {"format": "berth-accord-grades/1", "title": "Two grades", "grades": list(cases), **more}


HEAVY = grade(put(freed(document(alike(4), density=930.0, viscosity=90.0), 7.0), "title", "Heavy"), "P1", "P2")
LIGHT = grade(put(freed(document(alike(4), density=760.0, viscosity=0.8), 5.0), "title", "Light"), "P3")


def answered(stated: Document) -> GradesAnswer:
    """Answer a document of several grades."""
    return answer_grades(check_grades(stated, "night.json"))


def refused(stated: Document) -> list[str]:
    """Return the sentences with which a document is refused."""
    with pytest.raises(CaseError) as found:
        check_grades(stated, "night.json")
    return found.value.problems


def alone(stated: Document) -> float:
    """Return the rate of one grade answered by itself."""
    rate = answer_case(check_case(stated, "case")).total_flow_m3_per_h
    assert rate is not None
    return rate


def rates(found: GradesAnswer) -> list[float]:
    """Return the rate of each grade."""
    return [answer.total_flow_m3_per_h or 0.0 for answer in found.answers]


def test_with_gas_enough_each_grade_is_answered_as_if_alone() -> None:
    found = answered(grades(HEAVY, LIGHT, inert_gas_delivery_m3_per_h=60_000.0))
    assert rates(found) == pytest.approx([alone(HEAVY), alone(LIGHT)], rel=1e-9)
    assert found.total_flow_m3_per_h == pytest.approx(alone(HEAVY) + alone(LIGHT), rel=1e-9)
    assert found.allowed_by_inert_gas_m3_per_h == pytest.approx(48_000.0)
    assert found.note == ""


def test_where_gas_falls_short_all_grades_slow_in_proportion() -> None:
    """1.25 times the rates together (SOLAS II-2/4.5.5, FSS Code ch. 15, from memory): 5,000 m³/h of gas allow 4,000."""
    found = answered(grades(HEAVY, LIGHT, inert_gas_delivery_m3_per_h=5000.0))
    share = 4000.0 / (alone(HEAVY) + alone(LIGHT))
    assert share < 1.0
    assert rates(found) == pytest.approx([alone(HEAVY) * share, alone(LIGHT) * share], rel=1e-6)
    assert found.total_flow_m3_per_h == pytest.approx(4000.0, rel=1e-6)
    assert found.note == "Inert gas allows 4,000 m³/h together; every grade is slowed in proportion."
    assert [answer.binding for answer in found.answers] == ["agreed-highest-rate", "agreed-highest-rate"]


def test_the_gas_that_the_ship_states_counts_for_all_her_grades_together() -> None:
    """Each grade alone is within it, both together are not."""
    cases = [put(case, "ship.inert_gas_delivery_m3_per_h", 5000.0) for case in (HEAVY, LIGHT)]
    found = answered(grades(*cases))
    assert all(row(answer, "inert-gas").state == "kept" for answer in found.answers)
    assert found.allowed_by_inert_gas_m3_per_h == pytest.approx(4000.0)
    assert found.total_flow_m3_per_h == pytest.approx(4000.0, rel=1e-6)
    least = answered(grades(*cases, inert_gas_delivery_m3_per_h=60_000.0))
    assert least.allowed_by_inert_gas_m3_per_h == pytest.approx(4000.0)


def test_gas_that_nobody_states_is_asked_for() -> None:
    found = answered(grades(HEAVY, LIGHT))
    assert found.allowed_by_inert_gas_m3_per_h is None
    assert found.note == "Ask the ship for the delivery of her inert gas plant."
    assert rates(found) == pytest.approx([alone(HEAVY), alone(LIGHT)], rel=1e-9)


def test_stated_speeds_are_not_changed_and_the_note_says_to_lower_them() -> None:
    stated = grade(document(alike(4)), "P1", "P2")
    found = answered(grades(stated, LIGHT, inert_gas_delivery_m3_per_h=5000.0))
    assert rates(found) == pytest.approx([alone(stated), alone(LIGHT)], rel=1e-9)
    assert found.note == "Inert gas allows 4,000 m³/h together; lower the stated speeds."


def test_a_pump_serves_one_grade_at_a_time() -> None:
    assert refused(grades(HEAVY, grade(LIGHT, "P2", "P3"))) == [
        "night.json: pump P2 runs in two grades; a pump serves one grade at a time."
    ]


def test_grades_are_of_one_ship_and_more_than_one() -> None:
    other = put(LIGHT, "ship.name", "Tindra")
    assert refused(grades(HEAVY, other)) == [
        "night.json: grades name several ships, Marlis, Tindra; they are to be of one ship."
    ]
    assert refused(grades(HEAVY)) == ["night.json: grades has 1 entries; give at least 2."]


def test_a_mistake_in_one_grade_names_it() -> None:
    assert refused(grades(HEAVY, put(LIGHT, "berth.arms.0.bore_mm", 0))) == [
        "night.json: grades[1].berth.arms[0].bore_mm is 0 mm; allowed: 10 to 3,000 mm."
    ]


def test_the_document_of_the_answer_is_plain_json_and_the_report_tells_each_grade() -> None:
    found = answered(grades(HEAVY, LIGHT, inert_gas_delivery_m3_per_h=5000.0))
    document_ = found.document()
    assert json.loads(json.dumps(document_, allow_nan=False)) == document_
    assert [part["title"] for part in document_["grades"]] == ["Heavy", "Light"]
    text = grades_report(found)
    assert text.startswith(
        "All grades together     4,000.0 m³/h\nAllowed by inert gas    4,000.0 m³/h\nInert gas allows"
    )
    assert "\nHeavy\n=====" in text
    assert "\nLight\n=====" in text


def test_the_command_answers_several_grades_with_status_0(tmp_path: Path) -> None:
    stated = grades(HEAVY, LIGHT, inert_gas_delivery_m3_per_h=5000.0)
    done = assess(tmp_path, json.dumps(stated), "--json")
    assert (done.returncode, done.stderr) == (0, "")
    assert json.loads(done.stdout) == answered(stated).document()
    assert assess(tmp_path, json.dumps(stated)).stdout == grades_report(answered(stated))


def test_the_command_refuses_with_status_2_and_tells_of_no_operating_point_with_3(tmp_path: Path) -> None:
    twice = assess(tmp_path, json.dumps(grades(HEAVY, HEAVY)))
    assert (twice.returncode, twice.stdout) == (2, "")
    assert twice.stderr.strip() == ("night.json: pump P1, P2 runs in two grades; a pump serves one grade at a time.")
    still = assess(tmp_path, json.dumps(grades(LIGHT, grade(freed(closed_form(2), 2.0), "P1"))))
    assert still.returncode == 3
    assert "agree a higher pressure or a lower shore tank" in still.stdout
