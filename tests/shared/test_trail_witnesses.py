"""Rows of the trail that are named elsewhere, and a clock that was set back."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection, transaction
from django.test import Client

from shared.models import Person, TrailRow
from shared.trail import ClockError, check_clock, clock_set_back, record, verify_trail
from shared.trail_guard import lift_guard, set_guard
from shared.trail_heads import keep_head
from tests.builders import NOW


@pytest.fixture
def without_guard(db: None) -> Iterator[None]:
    lift_guard(connection)
    yield
    set_guard(connection)


def write(by: Person, *, now: datetime = NOW) -> TrailRow:
    with transaction.atomic():
        return record(act="vessel changed", by=by, now=now, subject="vessel:a")


def test_rows_cut_off_the_end_are_missed_by_whoever_noted_them(
    ship_officer: Person, settings: Any, tmp_path: Path, without_guard: None
) -> None:
    settings.TRAIL_HEADS_FILE = tmp_path / "trail.heads"
    rows = [write(ship_officer) for _ in range(3)]
    settings.TRAIL_HEADS_FILE.write_text("".join(f"{row.position} {row.sha256}\n" for row in rows), encoding="ascii")
    assert verify_trail() is None
    TrailRow.objects.filter(pk=rows[-1].pk).delete()
    broken = verify_trail()
    assert broken is not None
    assert broken.position == rows[-1].position
    assert "which the file trail.heads names, is missing or another one" in broken.reason


@pytest.mark.django_db(transaction=True)
def test_the_head_is_noted_outside_the_database_after_the_commit(
    ship_officer: Person, settings: Any, tmp_path: Path
) -> None:
    settings.TRAIL_HEADS_FILE = tmp_path / "trail.heads"
    with transaction.atomic():
        row = record(act="plan in force", by=ship_officer, now=NOW, subject="accord:x")
        keep_head(row)
        assert not settings.TRAIL_HEADS_FILE.exists()
    assert settings.TRAIL_HEADS_FILE.read_text(encoding="ascii") == f"{row.position} {row.sha256}\n"


def test_a_clock_set_back_is_noticed_by_check_command_and_page(ship_officer: Person, client: Client) -> None:
    write(ship_officer)
    write(ship_officer, now=NOW - timedelta(seconds=59))  # acts that waited for each other
    assert clock_set_back() == []
    row = write(ship_officer, now=NOW - timedelta(hours=1))
    assert clock_set_back() == [(row.position, row.at, NOW - timedelta(seconds=59))]
    out = StringIO()
    call_command("verify_trail", stdout=out)
    assert f"Row {row.position} is dated 2031-04-14 05:30:00 UTC, before the row it follows" in out.getvalue()
    client.force_login(ship_officer)
    assert "the clock of this installation was set back" in client.get("/trail/?check=yes").text
    with pytest.raises(ClockError, match="clock says 2031-04-14 05:00 UTC"):
        check_clock(NOW - timedelta(hours=1, minutes=30))
    check_clock(NOW)
