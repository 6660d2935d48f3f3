"""Case and answer as files: what is downloaded, what the command makes of it, and what may not leave."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from compat.assessing.actions import make_assessment, worked_out
from compat.assessing.models import Assessment
from compat.case.answer import answer_case
from compat.case.case_file import AgreedFacts, OperationFacts, check_case
from compat.case.report import report
from shared.cargo_facts import CargoFacts
from shared.models import Person
from terminals.models import Berth
from tests.builders import cargo_facts, case_document
from tests.compat.assessing.conftest import OPERATION, ClientOf, make_setting
from vessels.models import Vessel

HIDDEN = ["Hidden run", "489", "590", "2400", "850"]  # names, bores and lengths of the line that is kept


@pytest.fixture
def client(client_of: ClientOf, ship_officer: Person) -> Client:
    return client_of(ship_officer)


def stated_speeds(*speeds_rpm: float) -> OperationFacts:
    states = [{**state, "speed_rpm": speed} for state, speed in zip(OPERATION["pumps"], speeds_rpm, strict=True)]
    return OperationFacts.model_validate({"speed": "as stated", "pumps": states})


@pytest.mark.parametrize(
    "changes",
    [
        pytest.param({}, id="one free speed"),
        pytest.param({"operation": stated_speeds(1234.5, 1177.7)}, id="stated speeds"),
        pytest.param({"arms_connected": (1,), "keel_elevation_m": -8.4321}, id="one arm"),
        pytest.param({"agreed": AgreedFacts(manifold_pressure_bar_gauge=0.7 / 3)}, id="no operating point"),
        pytest.param(
            {
                "cargo": CargoFacts.model_validate(cargo_facts(kinematic_viscosity_mm2_per_s=100 / 3)),
                "agreed": AgreedFacts(manifold_pressure_bar_gauge=7.84532, highest_rate_m3_per_h=1999.9),
            },
            id="numbers without end",
        ),
    ],
)
def test_a_downloaded_case_gives_the_command_the_same_answer_to_the_last_digit(
    changes: dict[str, Any],
    client: Client,
    ship_officer: Person,
    vessel: Vessel,
    berth: Berth,
    now: datetime,
    tmp_path: Path,
) -> None:
    """Stored in the database, sent as a file, read and answered by manage.py assess: text and JSON alike."""
    made = make_assessment(
        by=ship_officer, now=now, vessel=vessel, berth=berth, setting=make_setting(title="Round trip", **changes)
    )
    file = tmp_path / "case.json"
    file.write_bytes(client.get(reverse("assessment-case", args=[made.public_id])).content)
    downloaded = json.loads(client.get(reverse("assessment-answer", args=[made.public_id])).content)
    printed = json.loads(assessed(file, "--json"))
    assert {key: printed[key] for key in downloaded} == downloaded
    assert printed["pumps"], "the comparison is not of nothing"
    on_site = report(worked_out(check_case(made.case, "Round trip")))
    assert set(on_site.splitlines()) <= set(assessed(file).splitlines())


def assessed(file: Path, *options: str) -> str:
    """Return what manage.py assess prints."""
    printed = StringIO()
    try:
        call_command("assess", str(file), "--surge", *options, stdout=printed)
    except SystemExit as left:
        assert left.code == 3, "only “no operating point” may end otherwise"  # noqa: PT017
    return printed.getvalue()


def test_a_kept_line_does_not_leave_in_a_case_file(client: Client, kept_assessment: Assessment) -> None:
    """The link is not offered, and the address says why not."""
    page = client.get(reverse("assessment", args=[kept_assessment.public_id]))
    assert reverse("assessment-case", args=[kept_assessment.public_id]) not in page.text
    answer = client.get(reverse("assessment-case", args=[kept_assessment.public_id]))
    assert answer.status_code == 403
    assert "Sandvik Terminals keeps the data of this berth" in answer.text
    profile = client.get(reverse("assessment-profile", args=[kept_assessment.public_id]))
    assert profile.status_code == 403


@pytest.mark.parametrize("moved", [False, True])
def test_a_kept_line_shows_nowhere(client: Client, kept_assessment: Assessment, moved: bool) -> None:
    """Neither on the page, nor while something is moved, nor in the answer file, nor in the list."""
    sent = {"pressure": "6", "arm_0": "2", "pump_0_running": "on", "pump_1_running": "on"} if moved else {}
    address = reverse("assessment", args=[kept_assessment.public_id])
    texts = [
        client.get(address, sent).text,
        client.get(address, sent, HTTP_HX_REQUEST="true").text,
        client.get(reverse("assessment-answer", args=[kept_assessment.public_id])).text,
        client.get(reverse("assessment-steps", args=[kept_assessment.public_id]), sent).text,
        client.get(reverse("assessment-list")).text,
    ]
    for text in texts:
        assert display_free(text).isdisjoint(HIDDEN)
        assert "Hidden run" not in text
    assert kept_assessment.answer["profile"], "there is something to keep"


def display_free(text: str) -> set[str]:
    """Return the words of a page without thousands separators."""
    return set(text.replace(",", "").replace("<", " ").replace(">", " ").split())


def test_the_terminals_own_people_would_see_their_line(terminal_officer: Person, kept_berth: Berth) -> None:
    """The rule is about who looks, not about the berth alone."""
    from terminals.queries import sees_line_data  # noqa: PLC0415 (beside the one line that needs it)

    assert sees_line_data(terminal_officer, kept_berth)


@pytest.fixture
def upload(client: Client) -> Callable[[bytes], HttpResponse]:
    def send(content: bytes, name: str = "case.json") -> HttpResponse:
        answer = client.post(reverse("assessment-case-file"), {"file": SimpleUploadedFile(name, content)})
        assert isinstance(answer, HttpResponse)
        return answer

    return send


def test_a_case_file_is_answered_without_being_stored(upload: Callable[[bytes], HttpResponse]) -> None:
    """The page has the answer of the engine, both pictures, and leaves no row behind."""
    page = upload(json.dumps(case_document()).encode())
    rate = answer_case(check_case(case_document(), "case")).total_flow_m3_per_h or 0.0
    assert f"{rate:,.0f}\u00a0m³/h" in page.text
    assert page.text.count("data:image/svg+xml;base64,") == 2
    assert not Assessment.objects.exists()


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"", "The submitted file is empty."),
        (b"\x00\xff\xfe rubbish", "case.json is not UTF-8 text"),
        (b"[1, 2]", "case.json holds no JSON object"),
        (b'{"format": "berth-accord-case/1", "ship"', "Was it cut short?"),
        (b"{}", "case.json: ship is missing; state it."),
        (b"x" * 2_000_001, "case.json holds 2,000,001 bytes; allowed: up to 2,000,000."),
    ],
)
def test_a_file_that_is_no_case_gives_its_reasons(
    upload: Callable[[bytes], HttpResponse], content: bytes, sentence: str
) -> None:
    page = upload(content)
    assert page.status_code == 200
    assert sentence in page.text


def test_every_problem_of_a_case_file_is_listed(upload: Callable[[bytes], HttpResponse]) -> None:
    document = case_document(keel_elevation_m="deep")
    document["cargo"]["density_kg_per_m3"] = 0.845
    text = upload(json.dumps(document).encode()).text
    assert "keel_elevation_m is &#x27;deep&#x27;, which is not a number" in text
    assert "cargo.density_kg_per_m3 is 0.845 kg/m³; allowed: 500 to 1,200 kg/m³." in text
