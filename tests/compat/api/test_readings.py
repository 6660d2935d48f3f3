"""Readings that another program sends, held against the act of the page."""

from __future__ import annotations

import pytest

from compat.api.scopes import Scope
from compat.record.models import TransferRecord
from compat.record.readings import MANIFOLD
from shared.models import Person
from tests.compat.api.conftest import ProgramOf, problem_of
from tests.compat.record.keeping import case_of, flowing, on_plan

pytestmark = pytest.mark.django_db
AT = "2031-04-14T15:30Z"


@pytest.fixture
def record(ship_officer: Person, terminal_officer: Person) -> TransferRecord:
    return flowing(ship_officer, terminal_officer)


def path(record: TransferRecord) -> str:
    return f"/accords/{record.accord.public_id}/record/readings"


def test_a_reading_is_kept_once_and_comes_back_with_its_comparison(
    record: TransferRecord, ship_officer: Person, program_of: ProgramOf
) -> None:
    program = program_of(ship_officer)
    values = {key: float(value) for key, value in on_plan(case_of(record)).items()}
    sent = {"at": AT, "values": values, "confirmed": True}
    first = program.post(path(record), sent, key="reading-1")
    again = program.post(path(record), sent, key="reading-1")
    assert first.status_code == 201, first.content
    assert again.json() == first.json()
    (kept,) = program.get(path(record)).json()
    assert kept["id"] == first.json()["id"]
    assert kept["values"][MANIFOLD] == str(values[MANIFOLD])
    assert kept["comparison"]["drifted"] is False


@pytest.mark.parametrize(
    ("sent", "sentence"),
    [
        ({"values": {MANIFOLD: 6}}, "at is missing"),
        ({"at": "2031-04-14T15:30", "values": {MANIFOLD: 6}}, "write date, time and zone"),
        ({"at": AT, "values": {}}, "values is empty"),
        ({"at": AT, "values": {"wind": 6}, "confirmed": True}, "is not read by the ship here"),
        ({"at": AT, "values": {MANIFOLD: 61}, "confirmed": True}, "allowed: -1 to 60 bar"),
    ],
)
def test_a_bad_reading_gets_a_sentence(
    sent: dict[str, object], sentence: str, record: TransferRecord, ship_officer: Person, program_of: ProgramOf
) -> None:
    told = problem_of(program_of(ship_officer).post(path(record), sent))
    assert told["status"] == 422
    assert sentence in told["detail"]


def test_what_is_doubtful_is_refused_with_its_question(
    record: TransferRecord, ship_officer: Person, program_of: ProgramOf
) -> None:
    sent = {"at": "2031-04-14T15:30Z", "values": {MANIFOLD: 6}}
    told = problem_of(program_of(ship_officer).post(path(record), sent))
    assert "Is it right?" in told["detail"]  # the fixed time of the tests lies far from the time of the request


def test_strangers_readers_and_other_scopes_write_nothing(
    record: TransferRecord, stranger: Person, ship_reader: Person, ship_officer: Person, program_of: ProgramOf
) -> None:
    sent = {"at": AT, "values": {MANIFOLD: 6}, "confirmed": True}
    assert program_of(stranger).post(path(record), sent).status_code == 404
    assert program_of(ship_reader).post(path(record), sent).status_code == 403
    assert program_of(ship_officer, Scope.READ).post(path(record), sent).status_code == 403
    assert not record.readings.exists()
