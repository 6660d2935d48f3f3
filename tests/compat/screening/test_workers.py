"""Screenings over workers at a broker: one is lost in the middle, the broker is away, there is none."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import redis
from django.core.management import CommandError, call_command
from pytest_django.fixtures import Settings

from compat.screening import background
from compat.screening.models import Screening
from shared import broker
from shared.jobs import JOBS, BrokerError, broker_answers, job

BASE = Path(__file__).resolve().parents[3]
_DATABASE_FOR_TESTS = 15
_TAKEN_OVER_AFTER_S = 2
_PATIENCE_S = 120


def _answers(port: int) -> bool:
    try:
        return bool(redis.Redis(port=port, socket_connect_timeout=1).ping())
    except redis.RedisError:
        return False


def _free_port() -> int:
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        return int(listener.getsockname()[1])


def _waited_for(what: Callable[[], Any]) -> Any:
    until = time.monotonic() + _PATIENCE_S
    while not (found := what()):
        assert time.monotonic() < until, "waited in vain"
        time.sleep(0.05)
    return found


@pytest.fixture
def redis_server(tmp_path: Path) -> Iterator[str]:
    """The address of a Redis server on this machine: one of our own, or that on the usual port; else skip."""
    program, port, own = shutil.which("redis-server"), 6379, None
    if program is not None:
        port = _free_port()
        command = [program, "--port", str(port), "--bind", "127.0.0.1", "--save", "", "--dir", str(tmp_path)]
        own = subprocess.Popen(command, stdout=subprocess.DEVNULL)
        _waited_for(lambda: _answers(port))
    elif not _answers(port):
        pytest.skip("no Redis server is installed, and none answers at 127.0.0.1:6379")
    with redis.Redis(port=port, db=_DATABASE_FOR_TESTS) as server:
        server.flushdb()
        yield f"redis://127.0.0.1:{port}/{_DATABASE_FOR_TESTS}"
        server.flushdb()
    if own is not None:
        own.terminate()
        own.wait()


@pytest.fixture
def installation(tmp_path: Path, redis_server: str) -> dict[str, str]:
    """The environment of an installation of its own, with a database in a file and a broker."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("BERTH_ACCORD_")}
    return {
        **kept,
        "DJANGO_SETTINGS_MODULE": "compat.settings",
        "BERTH_ACCORD_SECRET_KEY": "tests-only",
        "BERTH_ACCORD_DATA": str(tmp_path),
        "BERTH_ACCORD_BROKER": redis_server,
    }


@pytest.fixture
def worker(installation: dict[str, str]) -> Iterator[Callable[[], subprocess.Popen[bytes]]]:
    """Return a function that starts a worker in a process group of its own."""
    started: list[subprocess.Popen[bytes]] = []

    def run() -> subprocess.Popen[bytes]:
        command = [sys.executable, "manage.py", "work", "--taken-over-after", str(_TAKEN_OVER_AFTER_S)]
        started.append(subprocess.Popen(command, cwd=BASE, env=installation, start_new_session=True))
        return started[-1]

    yield run
    for one in started:
        if one.poll() is None:
            os.killpg(one.pid, signal.SIGKILL)
        one.wait()


@pytest.mark.slow
def test_a_worker_that_is_lost_in_the_middle_loses_nothing_and_nothing_is_counted_twice(
    installation: dict[str, str], redis_server: str, worker: Callable[[], subprocess.Popen[bytes]]
) -> None:
    def screening(what: str) -> list[str]:
        command = [sys.executable, "-m", "tests.compat.screening.on_workers", what]
        done = subprocess.run(command, cwd=BASE, env=installation, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr
        return done.stdout.split()

    # The first piece is there at once; the others wait for workers, of whom there are none yet.
    assert screening("start") == ["running", "50", "1"]
    lost, other = worker(), worker()
    with redis.from_url(redis_server) as server:
        waiting = server.llen("screenings")
        assert waiting == 39

        def both_hold_a_piece() -> bool:
            """Stop both and look; each takes one piece at a time, so two that are held are one of each."""
            if not 5 < server.llen("screenings") < 30:
                return False
            for one in (lost, other):
                os.killpg(one.pid, signal.SIGSTOP)
            if server.hlen("unacked") == 2:
                return True
            for one in (lost, other):
                os.killpg(one.pid, signal.SIGCONT)
            return False

        _waited_for(both_hold_a_piece)
        os.killpg(lost.pid, signal.SIGKILL)
        os.killpg(other.pid, signal.SIGCONT)
        _waited_for(lambda: screening("look")[0] == "done")
    assert screening("look") == ["done", "2000", "40"]
    assert screening("compare") == ["equal"]


@pytest.fixture
def started_processes(monkeypatch: pytest.MonkeyPatch, settings: Settings) -> list[list[str]]:
    """Screenings run in the background; the commands of processes that would be started."""
    found: list[list[str]] = []
    settings.SCREENING_RUNS = "a process"
    monkeypatch.setattr(background, "pieces", lambda total, berths: iter([(0, 1), (1, 3), (3, 4)]))
    monkeypatch.setattr(background.subprocess, "Popen", lambda command, **_: found.append(command))
    return found


@pytest.fixture
def broker_at(settings: Settings) -> Iterator[Callable[[str], None]]:
    """Return a function that names a broker."""

    def name(address: str) -> None:
        settings.BROKER = address
        broker.app.cache_clear()

    yield name
    broker.app.cache_clear()


Start = Callable[..., Screening]


@pytest.mark.django_db
def test_every_missing_piece_is_handed_to_the_broker(
    start: Start, started_processes: list[list[str]], settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    sent: list[tuple[Any, ...]] = []
    settings.BROKER = "redis://127.0.0.1:1/0"
    monkeypatch.setattr(background, "send", lambda *given: sent.append(given))
    made = start()
    background.launch(made.pk)
    assert sent == [("screening piece", made.pk, 1, 3), ("screening piece", made.pk, 3, 4)]
    assert not started_processes
    for _, *given in (*reversed(sent), *sent):  # in any order, and twice
        background.work_on(*given)
    made.refresh_from_db()
    assert (made.state, made.done, made.pieces.count()) == ("done", 4, 3)


@pytest.mark.django_db
def test_a_broker_that_is_away_stops_nothing(
    start: Start, started_processes: list[list[str]], broker_at: Callable[[str], None]
) -> None:
    broker_at(f"redis://127.0.0.1:{_free_port()}/0")
    made = start()
    background.launch(made.pk)
    assert [command[-2:] for command in started_processes] == [["run_screening", str(made.pk)]]
    assert not broker_answers()
    with pytest.raises(BrokerError, match="did not take “screening piece”"):
        broker.send("screening piece", [made.pk, 0, 1])


@pytest.mark.django_db
@pytest.mark.parametrize("state", ["cancelled", "done", "failed", "waiting"])
def test_a_piece_of_a_screening_that_does_not_run_is_left(start: Start, state: str) -> None:
    made = start()
    Screening.objects.filter(pk=made.pk).update(state=state)
    background.work_on(made.pk, 0, 4)
    assert not made.pieces.exists()
    background.work_on(made.pk + 1, 0, 4)


def test_a_broker_that_answers_is_told(redis_server: str, broker_at: Callable[[str], None]) -> None:
    broker_at(redis_server)
    assert broker_answers()


def test_without_a_broker_celery_is_not_even_loaded() -> None:
    program = (
        "import django, sys; django.setup(); import compat.urls; from shared.jobs import broker_answers;"
        " assert broker_answers(); print('celery' in sys.modules)"
    )
    env = {**os.environ, "DJANGO_SETTINGS_MODULE": "tests.settings"}
    done = subprocess.run(
        [sys.executable, "-c", program], cwd=BASE, env=env, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "False"
    with pytest.raises(CommandError, match="set BERTH_ACCORD_BROKER, such as redis://"):
        call_command("work")


def test_an_address_of_something_else_is_refused() -> None:
    env = {**os.environ, "DJANGO_SETTINGS_MODULE": "compat.settings", "BERTH_ACCORD_BROKER": "amqp://somewhere"}
    done = subprocess.run(
        [sys.executable, "manage.py", "check"], cwd=BASE, env=env, capture_output=True, text=True, check=False
    )
    assert done.returncode != 0
    assert "write redis://host:6379/0" in done.stderr


def test_two_jobs_of_one_name_are_refused() -> None:
    broker.app.cache_clear()
    broker.app()
    with pytest.raises(ValueError, match="There is a job 'screening piece' already"):
        job("screening piece", queue="elsewhere")(print)
    assert JOBS["screening piece"].queue == "screenings"
    broker.app.cache_clear()
