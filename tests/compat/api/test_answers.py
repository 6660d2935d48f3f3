"""What a program may read and do, held against the acts and the command that do the same."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command

from compat.api.models import KeptAnswer
from compat.api.scopes import Scope
from compat.assessing.actions import worked_out
from compat.assessing.models import Assessment
from compat.case.case_file import check_case
from shared.models import Person, TrailRow
from tests.builders import berth_facts, cargo_facts, case_document, make_berth, make_terminal, make_vessel, ship_facts
from tests.compat.api.conftest import ProgramOf, problem_of
from tests.compat.stay.test_loading_file import loading_document
from tests.compat.stays import stay_document
from vessels.models import Vessel, VesselRevision

SETTING = {
    "title": "First look",
    "cargo": cargo_facts(),
    "keel_elevation_m": -9.5,
    "arms_connected": [2],
    "operation": case_document()["operation"],
    "agreed": {"manifold_pressure_bar_gauge": 8.0},
}


def test_a_case_file_gets_the_answer_of_the_command(program_of: ProgramOf, ship_reader: Person) -> None:
    told = program_of(ship_reader).post("/assessments/answer", case_document()).json()
    expected = json.loads(json.dumps(worked_out(check_case(case_document(), "case")).document()))
    assert {key: told[key] for key in expected} == expected
    assert told["steps"]
    assert not Assessment.objects.exists()


def test_a_stay_and_a_loading_get_the_answers_of_the_command(
    program_of: ProgramOf, ship_reader: Person, tmp_path: Path
) -> None:
    for path, document in (("stay", stay_document()), ("loading", loading_document())):
        file, printed = tmp_path / f"{path}.json", io.StringIO()
        file.write_text(json.dumps(document), encoding="utf-8")
        call_command("stay", str(file), json=True, stdout=printed)
        told = program_of(ship_reader).post(f"/assessments/{path}", document).json()
        assert told == json.loads(printed.getvalue())
    stay = program_of(ship_reader).post("/assessments/stay", stay_document()).json()
    assert {one["key"] for one in stay["variants"]} == {"arm-1", "pressure", "pumps-1"}


def broken_case() -> dict[str, Any]:
    document = case_document()
    document["berth"]["shore_line"][0]["bore_mm"] = 0
    return document


@pytest.mark.parametrize(
    ("raw", "sentence"),
    [
        (b"", "not whole JSON"),
        (b"[1]", "no JSON object"),
        (b"\xff\xfe", "not UTF-8"),
        (b'{"a": NaN}', "not a finite number"),
        (b'{"format"', "cut short"),
        (json.dumps(broken_case()).encode(), "bore_mm is 0 mm; allowed: 10 to 3,000 mm"),
    ],
)
def test_a_bad_case_file_gets_the_sentence_of_the_command(
    raw: bytes, sentence: str, program_of: ProgramOf, ship_reader: Person
) -> None:
    told = problem_of(program_of(ship_reader).post("/assessments/answer", raw=raw))
    assert told["status"] == 422
    assert any(sentence in text for text in told["sentences"]), told["sentences"]


def test_a_ship_is_added_read_and_revised(program_of: ProgramOf, ship_officer: Person) -> None:
    program = program_of(ship_officer)
    made = program.post("/ships", ship_facts(name="Vaila Sound"))
    assert made.status_code == 201
    path = f"/ships/{made.json()['id']}"
    read = program.get(path).json()
    assert (read["name"], read["revision"]["number"]) == ("Vaila Sound", 1)
    read["facts"]["name"] = "Vaila Voe"
    assert program.post(f"{path}/revisions?started_from=1", read["facts"]).json()["revision"] == 2
    late = problem_of(program.post(f"{path}/revisions?started_from=1", read["facts"] | {"name": "Vaila Ness"}))
    assert (late["status"], "after you started" in late["detail"]) == (409, True)
    assert program.get(f"{path}?revision=1").json()["facts"]["name"] == "Vaila Sound"
    assert [ship["name"] for ship in program.get("/ships?search=voe").json()["items"]] == ["Vaila Voe"]
    assert "by token scheduler" in TrailRow.objects.filter(act="ship added").get().person


def test_what_the_person_may_not_the_token_may_not(
    program_of: ProgramOf, ship_reader: Person, terminal_officer: Person, stranger: Person, ship_officer: Person
) -> None:
    assert ship_officer.organisation is not None
    vessel = make_vessel(ship_officer.organisation, ship_officer)
    assert problem_of(program_of(ship_reader).post("/ships", ship_facts(imo_number=None)))["status"] == 403
    assert problem_of(program_of(terminal_officer).post("/ships", ship_facts(imo_number=None)))["status"] == 403
    for person in (stranger, terminal_officer):
        assert problem_of(program_of(person).get(f"/ships/{vessel.public_id}"))["status"] == 404
    assert program_of(stranger).get("/ships").json() == {"items": [], "count": 0}
    assert Vessel.objects.count() == 1


def test_a_berth_is_added_revised_and_its_kept_line_is_not_told(
    program_of: ProgramOf, terminal_officer: Person, ship_officer: Person
) -> None:
    assert terminal_officer.organisation is not None
    terminal = make_terminal(terminal_officer.organisation)
    program = program_of(terminal_officer)
    made = program.post(f"/berths/terminals/{terminal.public_id}/berths", berth_facts(name="Outer berth"))
    assert made.status_code == 201, made.content
    path = f"/berths/{made.json()['id']}"
    own, other = program.get(path).json(), program_of(ship_officer).get(path).json()
    assert own["facts"]["shore_line"]
    assert (other["line_data_kept"], set(other["facts"]) <= {"name", "size"}) == (True, True)
    assert program_of(ship_officer).get("/berths").json()["count"] == 1
    revised = own["facts"] | {"name": "Outermost berth"}
    assert program.post(f"{path}/revisions?started_from=1", revised).json()["revision"] == 2
    refused = program_of(ship_officer).post(f"{path}/revisions?started_from=2", own["facts"])
    assert problem_of(refused)["status"] == 403


def test_an_assessment_is_stored_and_hides_the_line_that_is_kept(
    program_of: ProgramOf, ship_officer: Person, terminal_officer: Person
) -> None:
    assert ship_officer.organisation is not None
    assert terminal_officer.organisation is not None
    vessel = make_vessel(ship_officer.organisation, ship_officer)
    line = [{**run, "name": f"Hidden run {number}"} for number, run in enumerate(berth_facts()["shore_line"])]
    berth = make_berth(
        terminal_officer.organisation, terminal_officer, line_data_shared=False, name="Inner", shore_line=line
    )
    program = program_of(ship_officer)
    made = program.post(f"/assessments/ships/{vessel.public_id}/berths/{berth.public_id}", SETTING)
    assert made.status_code == 201, made.content
    read = program.get(f"/assessments/{made.json()['id']}")
    assert read.json()["answer"]["total_flow_m3_per_h"] > 0
    assert "Hidden run" not in read.content.decode()
    assert program.get("/assessments").json()["count"] == 1
    assert problem_of(program_of(terminal_officer).get(f"/assessments/{made.json()['id']}"))["status"] == 404


def test_the_same_key_acts_once_and_another_request_may_not_use_it(program_of: ProgramOf, ship_officer: Person) -> None:
    program = program_of(ship_officer)
    facts = ship_facts(imo_number=None, name="Vaila Sound")
    first = program.post("/ships", facts, key="k-1")
    again = program.post("/ships", facts, key="k-1")
    assert (first.status_code, again.status_code) == (201, 201)
    assert first.json() == again.json()
    assert VesselRevision.objects.count() == 1
    other = program.post("/ships", facts | {"name": "Another"}, key="k-1")
    assert "was used for another request" in problem_of(other)["detail"]
    assert problem_of(program.post("/ships", facts, key="x" * 101))["status"] == 400
    assert program.post("/ships", facts, key="k-2").status_code == 201
    assert VesselRevision.objects.count() == 2


def test_a_refused_act_leaves_its_key_free(program_of: ProgramOf, ship_officer: Person) -> None:
    program = program_of(ship_officer)
    assert program.post("/ships", {"name": ""}, key="k-1").status_code == 422
    assert not KeptAnswer.objects.exists()
    assert program.post("/ships", ship_facts(imo_number=None), key="k-1").status_code == 201


def test_lists_come_in_pages_with_their_count(program_of: ProgramOf, ship_officer: Person) -> None:
    assert ship_officer.organisation is not None
    for number in range(5):
        make_vessel(ship_officer.organisation, ship_officer, name=f"Vaila {number}", imo_number=None)
    found = program_of(ship_officer).get("/ships?limit=2&offset=4").json()
    assert (found["count"], [ship["name"] for ship in found["items"]]) == (5, ["Vaila 4"])
    assert problem_of(program_of(ship_officer).get("/ships?limit=none"))["status"] == 422


def test_the_trail_is_read_as_far_as_the_person_may(
    program_of: ProgramOf, ship_officer: Person, stranger: Person
) -> None:
    program = program_of(ship_officer, Scope.READ)
    rows = program.get("/trail?act=token made").json()["items"]
    assert [row["facts"]["name"] for row in rows] == ["scheduler"]
    assert all(row["organisation"] == "Corvane Shipping" for row in program_of(stranger).get("/trail").json()["items"])
