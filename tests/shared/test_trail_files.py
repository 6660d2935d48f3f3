"""The trail taken out: looked for, exported, and verified by a few lines of Python that know no more than the file."""

from __future__ import annotations

import csv
import hashlib
import io
import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import transaction
from django.test import Client
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from shared.models import Person, TrailRow
from shared.trail import facts_of, record
from shared.trail_chain import ChainRow, check_extract, quick_row_sha256, row_sha256
from shared.trail_files import TrailFileError, as_csv, as_lines, read_rows
from tests.builders import NOW

ClientOf = Callable[[Person | None], Client]


def act(by: Person, what: str, subject: str, days: int = 0, **facts: Any) -> None:
    with transaction.atomic():
        record(act=what, by=by, now=NOW + timedelta(days=days), subject=subject, facts=facts)


@pytest.fixture
def acts(ship_officer: Person, ship_admin: Person, terminal_officer: Person) -> None:
    act(ship_officer, "value proposed", "accord:1", 0, value="8 bar", remark='“Ærlig”, said "he"\n\ttwice')
    act(terminal_officer, "value accepted", "accord:1", 1)
    act(ship_admin, "ship added", "vessel:1", 2, name="Berit Halvard")
    act(ship_officer, "plan signed", "accord:1", 3)


def _text(answer: Any) -> str:
    return b"".join(answer.streaming_content).decode()


text = st.text(st.characters(exclude_categories=["Cs"]), max_size=40)


@given(text, text, text, text, text, st.integers(1, 2**53 - 1))
def test_the_quick_hash_is_the_canonical_one(
    person: str, organisation: str, what: str, subject: str, facts: str, position: int
) -> None:
    row = ChainRow(position, NOW, person, organisation, what, subject, facts, "0" * 64, "")
    assert quick_row_sha256(row) == row_sha256(row)


@pytest.mark.usefixtures("acts")
def test_an_exported_line_verifies_by_plain_python() -> None:
    """RFC 8785 for such lines is JSON with sorted keys and no blanks, as Python's standard library writes it."""
    previous = "0" * 64
    for line in "".join(as_lines(TrailRow.objects.all())).splitlines():
        words = json.loads(line)
        told = words.pop("sha256")
        data = json.dumps(words, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()
        assert hashlib.sha256(data).hexdigest() == told
        assert words["previous_sha256"] == previous
        previous = told
    assert previous == TrailRow.objects.latest("position").sha256


@pytest.mark.usefixtures("acts")
@pytest.mark.parametrize("write", [as_csv, as_lines])
def test_what_is_written_reads_back_the_same(write: Callable[..., Any], ship_officer: Person) -> None:
    ship_officer.full_name = "=cmd|' /C calc'!A0"
    act(ship_officer, "'quoted'", "vessel:2", 4, formula="@SUM(1)")
    rows = list(read_rows("".join(write(TrailRow.objects.all()))))
    assert [row.sha256 for row in rows] == list(TrailRow.objects.order_by("position").values_list("sha256", flat=True))
    assert check_extract(rows).broken is None


@pytest.mark.usefixtures("acts")
def test_no_cell_is_taken_for_a_formula(ship_officer: Person) -> None:
    ship_officer.full_name = "=1+1"
    act(ship_officer, "-2", "@vessel", 4)
    cells = [cell for row in csv.reader(io.StringIO("".join(as_csv(TrailRow.objects.all())))) for cell in row]
    assert not [cell for cell in cells if cell[:1] in "=+-@" and cell]


@pytest.mark.usefixtures("acts")
@pytest.mark.parametrize("column", ["at", "person", "organisation", "act", "subject", "facts", "previous_sha256"])
def test_a_changed_cell_is_seen(column: str) -> None:
    lines = [json.loads(line) for line in as_lines(TrailRow.objects.all())]
    lines[1][column] = "2031-04-15T06:30:00+00:00" if column == "at" else "changed"
    lines[1][column] = "2031-04-16T06:30:00+00:00" if column == "at" else lines[1][column]
    broken = check_extract(read_rows("\n".join(json.dumps(line) for line in lines))).broken
    assert broken is not None
    assert broken.position == 2


@pytest.mark.usefixtures("acts")
def test_rows_out_of_order_or_twice_are_seen() -> None:
    rows = list(read_rows("".join(as_lines(TrailRow.objects.all()))))
    for wrong in ([rows[1], rows[0]], [rows[0], rows[0]]):
        broken = check_extract(wrong).broken
        assert broken is not None
        assert "out of order" in broken.reason


@pytest.mark.usefixtures("acts")
def test_gaps_are_told_and_no_fault() -> None:
    rows = list(read_rows("".join(as_lines(TrailRow.objects.filter(position__in=[1, 4])))))
    found = check_extract(rows)
    assert (found.rows, found.first, found.last, found.gaps, found.broken) == (2, 1, 4, ((2, 3),), None)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("no json", "Line 1 is no JSON"),
        ("[]", "Line 1 is no row"),
        ('{"format": "other"}', "not in the format berth-accord-trail/1"),
        ('{"format": "berth-accord-trail/1"}', "has no position, at, person"),
        ("format,position\nberth-accord-trail/1,1\n", "Line 2 has no at, person"),
    ],
)
def test_what_is_no_export_is_refused(content: str, words: str) -> None:
    with pytest.raises(TrailFileError, match=words):
        list(read_rows(content))


@pytest.mark.usefixtures("acts")
def test_the_command_checks_an_export(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "trail.csv"
    path.write_text("".join(as_csv(TrailRow.objects.all())), encoding="utf-8", newline="")
    call_command("verify_trail", file=path)
    assert "Every row holds: 4 rows, from 1 to 4" in capsys.readouterr().out
    path.write_text("".join(as_lines(TrailRow.objects.exclude(position=2))), encoding="utf-8")
    call_command("verify_trail", file=path)
    assert "1 rows between them were left out, in 1 gaps" in capsys.readouterr().out
    path.write_text(path.read_text(encoding="utf-8").replace("plan signed", "plan forged"), encoding="utf-8")
    with pytest.raises(CommandError, match="row 4 was changed"):
        call_command("verify_trail", file=path)
    with pytest.raises(CommandError, match="can't be read"):
        call_command("verify_trail", file=tmp_path / "none")


@pytest.mark.usefixtures("acts")
@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ({"person": "ingrid"}, ["plan signed", "value proposed"]),
        ({"person": "halvard maud"}, ["ship added"]),
        ({"act": "signed"}, ["plan signed"]),
        ({"subject": "vessel"}, ["ship added"]),
        ({"search": "8 bar"}, ["value proposed"]),
        ({"since": "2031-04-16"}, ["plan signed", "ship added"]),
        ({"until": "2031-04-14"}, ["value proposed"]),
        ({"since": "2031-04-15", "until": "2031-04-16"}, ["ship added"]),
        ({"since": "2031-04-15", "person": "ingrid", "act": "value"}, []),
    ],
)
def test_the_trail_is_looked_through(
    asked: dict[str, str], found: list[str], ship_reader: Person, client_of: ClientOf
) -> None:
    client = client_of(ship_reader)
    page = client.get(reverse("trail"), asked)
    assert [row.act for row, _ in page.context["rows"]] == found
    exported = [json.loads(line)["act"] for line in _text(client.get(reverse("trail-lines"), asked)).splitlines()]
    assert exported == found[::-1]


@pytest.mark.usefixtures("acts")
def test_a_search_that_can_not_be_read_finds_nothing_and_says_why(ship_reader: Person, client_of: ClientOf) -> None:
    client = client_of(ship_reader)
    page = client.get(reverse("trail"), {"since": "2031-04-16", "until": "2031-04-15"}).text
    assert "The last day, 2031-04-15, is before the first, 2031-04-16." in page
    assert "ship added" not in page.lower()
    assert client.get(reverse("trail-csv"), {"since": "never"}).status_code == 302


@pytest.mark.usefixtures("acts")
def test_the_next_page_asks_the_same(ship_officer: Person, ship_reader: Person, client_of: ClientOf) -> None:
    for number in range(60):
        act(ship_officer, "vessel changed", "vessel:7", number=number)
    page = client_of(ship_reader).get(reverse("trail"), {"act": "vessel", "person": "ingrid"}).text
    assert "Page 1 of 2, 60 in all" in page
    assert 'href="?person=ingrid&amp;act=vessel&amp;page=2"' in page


@pytest.mark.usefixtures("acts")
@pytest.mark.parametrize(
    ("who", "seen"),
    [("ship_reader", 3), ("terminal_officer", 1), ("stranger", 0), ("auditor", 0), ("installation_admin", 4)],
)
def test_an_export_holds_what_its_reader_may_read_and_is_noted(
    who: str, seen: int, client_of: ClientOf, request: pytest.FixtureRequest
) -> None:
    person = request.getfixturevalue(who)
    for page, head in (("trail-lines", 0), ("trail-csv", 1)):
        before = TrailRow.objects.count()
        lines = _text(client_of(person).get(reverse(page), {"since": "2031-01-01"})).splitlines()
        assert len([line for line in lines if line]) == seen + head
        row = TrailRow.objects.latest("position")
        assert (row.position, row.act, row.subject) == (before + 1, "trail exported", person.subject)
        assert facts_of(row)["rows"] == seen


def test_times_are_written_as_they_were_hashed(ship_officer: Person) -> None:
    with transaction.atomic():
        east = datetime(2031, 4, 14, 6, 30, 0, 250, tzinfo=UTC)
        record(act="vessel changed", by=ship_officer, now=east, subject="vessel:1")
    assert '"at": "2031-04-14T06:30:00.000250+00:00"' in "".join(as_lines(TrailRow.objects.all()))
