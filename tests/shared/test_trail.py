"""The trail: whole, in order, and unchangeable on both databases."""

from __future__ import annotations

import hashlib
import json
import threading
from collections.abc import Iterator
from datetime import datetime, timedelta, timezone

import pytest
from django.db import DatabaseError, connection, transaction

from shared import trail
from shared.canonical import CanonicalError
from shared.models import Person, TrailRow
from shared.trail import BEFORE_THE_FIRST, TrailError, record, rows_for, trail_head, verify_trail
from shared.trail_guard import lift_guard, set_guard
from tests.builders import NOW


def write(count: int, by: Person | None = None, subject: str = "vessel:a") -> list[TrailRow]:
    with transaction.atomic():
        return [
            record(act="vessel changed", by=by, now=NOW + timedelta(minutes=i), subject=subject, facts={"number": i})
            for i in range(count)
        ]


@pytest.fixture
def without_guard(db: None) -> Iterator[None]:
    lift_guard(connection)
    yield
    set_guard(connection)


@pytest.mark.django_db
def test_an_empty_trail_holds() -> None:
    assert verify_trail() is None
    assert trail_head() == (0, BEFORE_THE_FIRST)


def test_each_row_follows_from_the_one_before(ship_officer: Person) -> None:
    first, second = write(2, ship_officer)
    assert (first.position, first.previous_sha256) == (1, BEFORE_THE_FIRST)
    assert (second.position, second.previous_sha256) == (2, first.sha256)
    assert (second.person, second.organisation) == ("Ingrid Solheim (ship-officer)", "Halvard Tankers")
    assert trail_head() == (2, second.sha256)
    assert verify_trail() is None


@pytest.mark.django_db
def test_the_hash_can_be_worked_out_by_anyone() -> None:
    # For plain text without escapes, RFC 8785 and Python's sorted compact JSON are the same bytes.
    east = timezone(timedelta(hours=8))
    with transaction.atomic():
        record(
            act="accord opened",
            by=None,
            now=datetime(2031, 4, 14, 14, 30, 0, 250, tzinfo=east),
            subject="accord:1",
            facts={"b": 2, "a": None},
        )
    row = TrailRow.objects.get()
    words = {
        "format": "berth-accord-trail/1",
        "position": 1,
        "at": "2031-04-14T06:30:00.000250+00:00",
        "person": "Berth Accord",
        "organisation": "",
        "act": "accord opened",
        "subject": "accord:1",
        "facts": '{"a":null,"b":2}',
        "previous_sha256": "0" * 64,
    }
    data = json.dumps(words, sort_keys=True, separators=(",", ":")).encode()
    assert row.sha256 == hashlib.sha256(data).hexdigest()


@pytest.mark.django_db(transaction=True)
def test_an_act_outside_a_transaction_is_stopped() -> None:
    with pytest.raises(TrailError, match="not in a transaction"):
        record(act="vessel changed", by=None, now=NOW, subject="vessel:a")


@pytest.mark.django_db
def test_a_time_without_zone_is_stopped() -> None:
    with pytest.raises(TrailError, match="without its zone"), transaction.atomic():
        record(act="vessel changed", by=None, now=datetime(2031, 1, 1), subject="vessel:a")  # noqa: DTZ001


@pytest.mark.django_db
def test_a_float_among_the_facts_is_stopped() -> None:
    with pytest.raises(CanonicalError, match="float"), transaction.atomic():
        record(act="vessel changed", by=None, now=NOW, subject="vessel:a", facts={"flow": [1.5]})


@pytest.mark.django_db
def test_a_row_goes_with_its_act_when_that_fails() -> None:
    def act_that_fails() -> None:
        record(act="vessel changed", by=None, now=NOW, subject="vessel:a")
        raise LookupError

    write(1)
    with pytest.raises(LookupError), transaction.atomic():
        act_that_fails()
    assert trail_head()[0] == 1
    write(1)
    assert verify_trail() is None


@pytest.mark.django_db
@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE shared_trailrow SET act = 'something else' WHERE position = 2",
        "UPDATE shared_trailrow SET id = id + 100",
        "DELETE FROM shared_trailrow WHERE position = 3",
        "DELETE FROM shared_trailrow",
    ],
)
def test_the_database_itself_refuses_change_and_removal(statement: str) -> None:
    write(3)
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement)
    assert TrailRow.objects.count() == 3
    assert verify_trail() is None


@pytest.mark.django_db
def test_the_models_own_ways_are_refused_too() -> None:
    row = write(1)[0]
    row.act = "something else"
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        row.save()
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        row.delete()


@pytest.mark.django_db
@pytest.mark.parametrize("position", [0, 2, 4])
def test_a_row_out_of_order_is_refused(position: int) -> None:
    row = write(2)[1]
    row.pk, row.position, row.sha256 = None, position, "f" * 64
    with pytest.raises(DatabaseError), transaction.atomic():
        row.save(force_insert=True)


@pytest.mark.django_db
@pytest.mark.skipif(connection.vendor != "sqlite", reason="only SQLite has INSERT OR REPLACE")
def test_a_replacing_insert_is_refused() -> None:
    write(2)
    columns = "id, position, at, person, organisation, act, subject, facts, previous_sha256, sha256"
    replace = f"INSERT OR REPLACE INTO shared_trailrow ({columns}) SELECT {columns} FROM shared_trailrow"  # noqa: S608
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(f"{replace} WHERE position = 1")


@pytest.mark.django_db
@pytest.mark.skipif(connection.vendor != "postgresql", reason="only PostgreSQL has TRUNCATE")
def test_emptying_the_table_is_refused() -> None:
    write(2)
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("TRUNCATE shared_trailrow")


@pytest.mark.usefixtures("without_guard")
@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("act", "something else"),
        ("person", "Somebody Else (other)"),
        ("organisation", "Another Company"),
        ("subject", "vessel:b"),
        ("facts", '{"number":7}'),
        ("at", NOW - timedelta(days=1)),
        ("sha256", "a" * 64),
    ],
)
def test_a_change_that_the_triggers_could_not_stop_is_found(column: str, value: object) -> None:
    write(5)
    TrailRow.objects.filter(position=3).update(**{column: value})
    broken = verify_trail()
    assert broken is not None
    assert broken.position == 3
    assert "row 3 was changed" in broken.reason


@pytest.mark.usefixtures("without_guard")
def test_a_change_with_its_hash_worked_out_again_is_found_at_the_next_row() -> None:
    write(4)
    row = TrailRow.objects.get(position=2)
    row.act = "something else"
    row.sha256 = trail.row_sha256(row)
    row.save()
    broken = verify_trail()
    assert broken is not None
    assert broken.position == 3


@pytest.mark.usefixtures("without_guard")
@pytest.mark.parametrize("position", [1, 3])
def test_a_missing_row_is_found(position: int) -> None:
    write(4)
    TrailRow.objects.filter(position=position).delete()
    broken = verify_trail()
    assert broken is not None
    assert (broken.position, "is missing" in broken.reason) == (position, True)


def test_a_person_reads_the_acts_of_their_organisation_and_what_a_room_shows_them(
    ship_officer: Person, ship_reader: Person, auditor: Person, stranger: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(trail, "_more_subjects", [])
    write(2, ship_officer, "vessel:a")
    write(1, ship_officer, "accord:1")
    trail.show_subjects(lambda person: ["accord:1"] if person == auditor else [])

    def positions(person: Person) -> list[int]:
        return [row.position for row in rows_for(person)]

    assert positions(ship_officer) == positions(ship_reader) == [3, 2, 1]
    assert positions(auditor) == [3]
    assert positions(stranger) == []


def test_a_person_reads_what_was_done_to_them_and_their_organisation(
    installation_admin: Person, ship_officer: Person, stranger: Person
) -> None:
    assert ship_officer.organisation is not None
    write(1, installation_admin, ship_officer.organisation.subject)
    write(1, installation_admin, ship_officer.subject)
    assert rows_for(ship_officer).count() == 2
    assert not rows_for(stranger).exists()


def test_who_runs_the_installation_reads_everything(installation_admin: Person, ship_officer: Person) -> None:
    write(2, ship_officer)
    assert rows_for(installation_admin).count() == 2


@pytest.mark.skipif(connection.vendor != "postgresql", reason="an in-memory SQLite database has one writer")
@pytest.mark.django_db(transaction=True)
def test_writers_at_the_same_moment_take_turns() -> None:
    start = threading.Barrier(6)

    def writer() -> None:
        start.wait()
        for _ in range(10):
            write(1)
        connection.close()

    threads = [threading.Thread(target=writer) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert trail_head()[0] == 60
    assert verify_trail() is None
