"""Writers of one SQLite file take turns, and nobody who fails or dies keeps the others waiting."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from django.db import DatabaseError, transaction
from django.db.utils import ConnectionHandler
from pytest_django.plugin import DjangoDbBlocker

from compat.settings import SQLITE_OPTIONS

Connect = Callable[[], Any]
HOLD = """
import sys, time
from django.conf import settings
settings.configure()
from django.db.utils import ConnectionHandler
wrapper = ConnectionHandler({"default": {"ENGINE": "shared.sqlite_in_turn", "NAME": sys.argv[1]}})["default"]
wrapper.set_autocommit(False, force_begin_transaction_with_broken_autocommit=True)
print("holds", flush=True)
time.sleep(60)
"""


@pytest.fixture(autouse=True)
def own_databases(django_db_blocker: DjangoDbBlocker) -> Iterator[None]:
    """Let these tests open files of their own; they leave the database of the others alone."""
    with django_db_blocker.unblock():
        yield


@pytest.fixture
def connect(tmp_path: Path) -> Iterator[Connect]:
    """Return a factory of connections to one file with one counter; each thread makes its own."""
    opened = []
    path = str(tmp_path / "turns.sqlite3")

    def connected() -> Any:
        settings = {"ENGINE": "shared.sqlite_in_turn", "NAME": path, "OPTIONS": SQLITE_OPTIONS}
        wrapper = ConnectionHandler({"default": settings})["default"]
        wrapper.inc_thread_sharing()  # closed by the test's own thread in the end
        opened.append(wrapper)
        return wrapper

    with connected().cursor() as cursor:
        cursor.execute("CREATE TABLE counter (value integer NOT NULL)")
        cursor.execute("INSERT INTO counter VALUES (0)")
    yield connected
    for wrapper in opened:
        wrapper.close()


def add_one(wrapper: Any) -> None:
    """Read, wait a little, write back: what loses counts unless writers take turns."""
    wrapper.set_autocommit(False, force_begin_transaction_with_broken_autocommit=True)
    with wrapper.cursor() as cursor:
        cursor.execute("SELECT value FROM counter")
        (value,) = cursor.fetchone()
        time.sleep(0.001)
        cursor.execute("UPDATE counter SET value = %s", [value + 1])
    wrapper.commit()
    wrapper.set_autocommit(True)


def counted(connect: Connect) -> int:
    with connect().cursor() as cursor:
        cursor.execute("SELECT value FROM counter")
        return int(cursor.fetchone()[0])


def test_no_count_is_lost_and_nobody_waits_for_ever(connect: Connect) -> None:
    longest: list[float] = []

    def work() -> None:
        wrapper = connect()
        for _ in range(20):
            began = time.monotonic()
            add_one(wrapper)
            longest.append(time.monotonic() - began)
        wrapper.close()

    threads = [threading.Thread(target=work) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert counted(connect) == 160
    assert len(longest) == 160


@pytest.mark.parametrize("end", ["rollback", "close"])
def test_who_gives_up_gives_the_turn_up(end: str, connect: Connect) -> None:
    first, second = connect(), connect()
    first.set_autocommit(False, force_begin_transaction_with_broken_autocommit=True)
    assert first._turn is not None
    getattr(first, end)()
    assert first._turn is None
    add_one(second)
    assert counted(connect) == 1


def test_a_failed_act_gives_the_turn_up(connect: Connect, monkeypatch: pytest.MonkeyPatch) -> None:
    wrapper, other = connect(), connect()
    monkeypatch.setattr(transaction, "get_connection", lambda using=None: wrapper)
    with pytest.raises(DatabaseError), transaction.atomic(), wrapper.cursor() as cursor:
        cursor.execute("SELECT nothing FROM nowhere")
    assert wrapper._turn is None
    add_one(other)
    assert counted(connect) == 1


def test_who_is_killed_gives_the_turn_up(connect: Connect, tmp_path: Path) -> None:
    command = [sys.executable, "-c", HOLD, str(tmp_path / "turns.sqlite3")]
    holder = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=Path(__file__).parents[2])
    assert holder.stdout is not None
    assert holder.stdout.readline().strip() == "holds"
    done = threading.Event()

    def work() -> None:
        add_one(connect())
        done.set()

    waiting = threading.Thread(target=work)
    waiting.start()
    assert not done.wait(0.3)
    os.kill(holder.pid, signal.SIGKILL)
    assert done.wait(20)
    waiting.join()
    holder.communicate()
    assert counted(connect) == 1


def test_a_database_in_memory_has_no_line() -> None:
    settings = {"ENGINE": "shared.sqlite_in_turn", "NAME": ":memory:", "OPTIONS": SQLITE_OPTIONS}
    wrapper = ConnectionHandler({"default": settings})["default"]
    wrapper.set_autocommit(False, force_begin_transaction_with_broken_autocommit=True)
    assert wrapper._turn is None
    wrapper.rollback()
    wrapper.close()
