"""Several grades at the same time on pages: assessments of one ship together, and a file of grades."""

from __future__ import annotations

import json
from datetime import datetime
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from compat.assessing.actions import make_assessment
from compat.assessing.models import Assessment
from compat.case.grades import answer_grades, check_grades
from shared.models import Person
from terminals.models import Berth
from tests.builders import berth_facts, make_berth
from tests.compat.assessing.conftest import ClientOf, make_setting
from tests.compat.case.test_answer import freed, put
from tests.compat.case.test_grades import HEAVY, LIGHT, grades
from tests.compat.case.test_sampling import SEVERAL
from tests.compat.systems import Document, alike, document
from vessels.models import Vessel


@pytest.fixture
def other(ship_officer: Person, terminal_officer: Person, vessel: Vessel, now: datetime) -> Assessment:
    """The same ship at a second berth of the terminal, with a line of its own."""
    assert terminal_officer.organisation is not None
    line = [{**run, "bore_mm": run["bore_mm"] + 10} for run in berth_facts()["shore_line"]]
    berth = make_berth(terminal_officer.organisation, terminal_officer, name="Second berth", shore_line=line)
    setting = make_setting(title="Second grade")
    return make_assessment(by=ship_officer, now=now, vessel=vessel, berth=berth, setting=setting)


def page_of(client: Client, row: Assessment, *others: Assessment, **sent: str) -> Any:
    address = reverse("assessment-together", args=[row.public_id])
    return client.get(address, {"with": [str(one.public_id) for one in others], **sent})


@pytest.mark.parametrize("name", ["assessment-together", "assessment-together-file"])
def test_a_stranger_learns_nothing(client_of: ClientOf, stranger: Person, assessment: Assessment, name: str) -> None:
    assert client_of(stranger).get(reverse(name, args=[assessment.public_id])).status_code == 404


def test_two_assessments_share_out_the_pumps_and_answer_as_the_command_does(
    client_of: ClientOf, ship_reader: Person, assessment: Assessment, other: Assessment, tmp_path: Path
) -> None:
    client = client_of(ship_reader)
    answer = page_of(client, assessment, other, pump_P1="1", pump_P2="2")
    first, second = answer.context["grades"]
    assert [pump["running"] for pump in first["answer"]["pumps"]] == [True, False]
    assert [pump["running"] for pump in second["answer"]["pumps"]] == [False, True]
    rates = [grade["answer"]["total_flow_m3_per_h"] for grade in (first, second)]
    assert answer.context["found"].total_flow_m3_per_h == pytest.approx(sum(rates), rel=1e-12)
    for rate in (*rates, sum(rates)):
        assert f"{rate:,.0f}\u00a0m³/h" in answer.text
    assert answer.text.count('id="gauges-head-') == 2
    file = tmp_path / "grades.json"
    file.write_bytes(client.get(answer.context["file_address"]).content)
    printed = StringIO()
    call_command("assess", str(file), "--json", stdout=printed)
    assert json.loads(printed.getvalue())["total_flow_m3_per_h"] == answer.context["found"].total_flow_m3_per_h


def test_a_grade_without_a_pump_is_told(
    client_of: ClientOf, ship_reader: Person, assessment: Assessment, other: Assessment
) -> None:
    """Both run every pump, and the first has them all until somebody says which serve the second."""
    answer = page_of(client_of(ship_reader), assessment, other)
    assert "“Second grade” has no pump; choose one for it in the table below." in answer.text
    assert "found" not in answer.context


def test_nothing_ticked_is_told(
    client_of: ClientOf, ship_reader: Person, assessment: Assessment, other: Assessment
) -> None:
    answer = page_of(client_of(ship_reader), assessment, go="1")
    assert "No other assessment is ticked" in answer.text
    assert "Second grade" in answer.text
    assert other.title in answer.text


def test_two_grades_through_one_line_are_told_not_to_hold_together(
    client_of: ClientOf, ship_officer: Person, assessment: Assessment, vessel: Vessel, berth: Berth, now: datetime
) -> None:
    same = make_assessment(
        by=ship_officer, now=now, vessel=vessel, berth=berth, setting=make_setting(title="Same berth")
    )
    answer = page_of(client_of(ship_officer), assessment, same, pump_P1="1", pump_P2="2")
    assert "are stated through the same shore line" in answer.text


def test_a_kept_line_stays_with_its_terminal(
    client_of: ClientOf, ship_officer: Person, assessment: Assessment, kept_assessment: Assessment
) -> None:
    client = client_of(ship_officer)
    sent = {"pump_P1": "1", "pump_P2": "2"}
    answer = page_of(client, assessment, kept_assessment, **sent)
    assert answer.context["found"].total_flow_m3_per_h > 0
    assert "Hidden run" not in answer.text
    assert answer.context["file_address"] == ""
    address = reverse("assessment-together-file", args=[assessment.public_id])
    assert client.get(address, {"with": str(kept_assessment.public_id), **sent}).status_code == 403


def uploaded(client: Client, stated: Document) -> Any:
    file = SimpleUploadedFile("night.json", json.dumps(stated).encode())
    return client.post(reverse("assessment-case-file"), {"file": file})


def test_a_file_of_grades_is_answered_without_being_stored(client_of: ClientOf, ship_reader: Person) -> None:
    stated = grades(HEAVY, LIGHT, inert_gas_delivery_m3_per_h=2500.0)
    page = uploaded(client_of(ship_reader), stated)
    found = answer_grades(check_grades(stated, "night.json"))
    assert f"{found.total_flow_m3_per_h:,.0f}\u00a0m³/h" in page.text
    assert "every grade is slowed in proportion" in page.text
    assert not Assessment.objects.exists()


def test_a_file_of_grades_that_does_not_fit_gives_its_reasons(client_of: ClientOf, ship_reader: Person) -> None:
    page = uploaded(client_of(ship_reader), grades(HEAVY, HEAVY))
    assert "runs in two grades; a pump serves one grade at a time" in page.text


def test_a_case_file_with_tolerances_shows_how_sure_it_is_and_what_a_step_buys(
    client_of: ClientOf, ship_reader: Person
) -> None:
    stated = put(freed(document(alike(2)), 8.0), "tolerances", list(SEVERAL))
    page = uploaded(client_of(ship_reader), stated)
    assert "Each limit's chance of setting the rate" in page.text
    assert "What one step would buy" in page.text
    assert page.context["spread"].samples == 2048


def test_a_case_file_whose_tolerance_does_not_fit_gives_its_reason(client_of: ClientOf, ship_reader: Person) -> None:
    stated = put(freed(document(alike(2)), 8.0), "tolerances", [{"key": "cargo.colour", "plus_minus": 1.0}])
    page = uploaded(client_of(ship_reader), stated)
    assert "cargo.colour is not a number that this case states" in page.text
