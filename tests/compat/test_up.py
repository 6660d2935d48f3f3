"""``manage.py up`` as a person runs it: in a process of its own, from an empty folder."""

from __future__ import annotations

import os
import re
import signal
import socket
import stat
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from compat import demo

PROJECT = Path(__file__).resolve().parents[2]
SECONDS = 300.0  # on a machine that does much else, loading the demo scenario takes minutes
COUNT = "from shared.models import Person, TrailRow; print(Person.objects.count(), TrailRow.objects.count())"


def environment_for(data: Path) -> dict[str, str]:
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("BERTH_ACCORD_", "DJANGO_"))}
    return {**kept, "BERTH_ACCORD_DATA": str(data), "PYTHONUNBUFFERED": "1"}


class Site:
    """A running ``manage.py up`` and what it has said so far."""

    def __init__(self, data: Path, *options: str) -> None:
        self.said = ""
        self.process = subprocess.Popen(
            [sys.executable, "manage.py", "up", *options],
            cwd=PROJECT,
            env=environment_for(data),
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            start_new_session=True,
        )
        self._listener = threading.Thread(target=self._listen, daemon=True)
        self._listener.start()

    def _listen(self) -> None:
        assert self.process.stdout is not None
        with self.process.stdout as lines:
            for line in lines:
                self.said += line

    def address(self) -> str:
        """Wait until the site answers and return its address."""
        until = time.monotonic() + SECONDS
        while time.monotonic() < until and self.process.poll() is None:
            found = re.search(r"http://localhost:\d+/", self.said)
            if found and answers(found[0]):
                return found[0]
            time.sleep(0.1)
        raise AssertionError(f"the site does not answer; it said: {self.said}")

    def stop(self) -> int:
        """Press Ctrl-C and wait for the end."""
        if self.process.poll() is None:
            os.killpg(self.process.pid, signal.SIGINT)
        code = self.process.wait(30)
        self._listener.join(10)
        return code


@contextmanager
def site(data: Path, *options: str) -> Iterator[Site]:
    running = Site(data, *options)
    try:
        yield running
    finally:
        running.stop()


def answers(address: str) -> bool:
    try:
        return text_at(f"{address}sign-in/") != ""
    except urllib.error.URLError:
        return False


def text_at(address: str) -> str:
    with urllib.request.urlopen(address, timeout=20) as answer:  # noqa: S310 (always the site on loopback)
        return str(answer.read().decode("utf-8"))


def rows_in(data: Path) -> str:
    command = [sys.executable, "manage.py", "shell", "--verbosity", "0", "-c", COUNT]
    done = subprocess.run(
        command, cwd=PROJECT, env=environment_for(data), capture_output=True, text=True, check=True, timeout=SECONDS
    )
    return done.stdout.strip()


def free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


@pytest.mark.slow
def test_from_nothing_to_a_site_and_again_without_losing_anything(tmp_path: Path) -> None:
    data, port = tmp_path / "data", str(free_port())
    with site(data, "--port", port) as first:
        address = first.address()
        assert "Sign in" in text_at(f"{address}sign-in/")
        assert "--paper" in text_at(f"{address}static/accord.css")
        assert first.stop() == 0
    assert "Traceback" not in first.said
    assert f"each with the secret {demo.SECRET} unless" in first.said
    assert all(f"  {entry.username} " in first.said for entry in demo.LOG_INS)
    assert first.said.endswith("Berth Accord has stopped; all data is kept.\n")
    kept = {name: (data / name).read_bytes() for name in ("secret.key", "signing.pem")}
    for name in kept:
        assert stat.S_IMODE((data / name).stat().st_mode) == 0o600
    assert stat.S_IMODE(data.stat().st_mode) == 0o700
    rows = rows_in(data)
    assert rows.split()[0] == str(len(demo.LOG_INS))
    with site(data, "--port", port) as second:
        second.address()
    assert "the demo scenario" not in second.said
    assert "Demo log-ins" in second.said
    assert rows_in(data) == rows
    assert {name: (data / name).read_bytes() for name in kept} == kept


@pytest.mark.slow
def test_a_taken_port_is_said_and_the_next_free_one_used(tmp_path: Path) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        taken = other.getsockname()[1]
        with site(tmp_path / "data", "--port", str(taken), "--no-demo") as running:
            address = running.address()
    port = int(address.rstrip("/").rsplit(":", 1)[1])
    assert taken < port <= taken + 50
    assert f"Port {taken} on 127.0.0.1 is taken, so the site is on port {port}." in running.said
    assert "Nobody can sign in yet; make the first administrator with: manage.py createsuperuser" in running.said
    assert rows_in(tmp_path / "data") == "0 0"


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        (["--port", "0"], "invalid port value: '0'"),
        (["--port", "web"], "invalid port value: 'web'"),
        (["--host", "203.0.113.9"], "Can't listen on 203.0.113.9"),  # RFC 5737: an address that nobody has
    ],
)
def test_an_address_that_can_not_be_had_is_one_sentence(options: list[str], sentence: str, tmp_path: Path) -> None:
    running = Site(tmp_path / "data", *options)
    assert running.process.wait(SECONDS) in {1, 2}
    running.stop()
    assert sentence in running.said
    assert "Traceback" not in running.said
