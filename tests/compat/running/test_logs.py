"""What is written about each request, and what never is."""

from __future__ import annotations

import io
import json
import logging
from collections.abc import Callable, Iterator
from logging.config import DictConfigurator  # type: ignore[attr-defined]
from typing import Any

import pytest
from django.conf import settings
from django.test import Client

from shared.models import Person

Lines = Callable[[], list[dict[str, Any]]]


@pytest.fixture
def lines() -> Iterator[Lines]:
    """Return what the site's own handler would have written so far."""
    written = io.StringIO()
    configured = DictConfigurator(settings.LOGGING)
    configured.configure()
    handler = logging.getLogger().handlers[-1]
    assert isinstance(handler, logging.StreamHandler)
    kept, root = handler.stream, logging.getLogger()
    level = root.level
    handler.stream = written
    root.setLevel(logging.INFO)
    yield lambda: [json.loads(line) for line in written.getvalue().splitlines()]
    handler.stream = kept
    root.setLevel(level)
    root.removeHandler(handler)


def test_an_answer_is_one_line_with_its_request_id(
    lines: Lines, client_of: Callable[..., Client], ship_officer: Person
) -> None:
    answer = client_of(ship_officer).get("/ships/?find=secret-cargo", headers={"X-Request-ID": "proxy-0001"})
    assert answer.headers["X-Request-ID"] == "proxy-0001"
    (line,) = [one for one in lines() if one["logger"] == "accord.requests"]
    assert (line["route"], line["status"], line["method"]) == ("/ships/", 200, "GET")
    assert (line["person"], line["request_id"]) == ("ship-officer", "proxy-0001")
    assert line["ms"] >= 0
    assert "secret-cargo" not in json.dumps(lines())


@pytest.mark.parametrize("given", ["", "short", "with space in it", "x" * 65, "line\\nbreak-0001", "<script>alert(1)"])
def test_an_id_that_could_confuse_the_log_is_replaced(given: str, client: Client, db: None) -> None:
    answer = client.get("/sign-in/", headers={"X-Request-ID": given})
    assert answer.headers["X-Request-ID"] != given
    assert len(answer.headers["X-Request-ID"]) == 32


def test_an_address_that_does_not_exist_is_not_written_down(lines: Lines, client: Client, db: None) -> None:
    client.get("/one-time-key-5f3b/")
    assert any(one["logger"] == "django.request" for one in lines())
    assert "5f3b" not in json.dumps(lines())


def test_no_secret_is_written_when_signing_in(lines: Lines, client: Client, ship_officer: Person) -> None:
    client.post("/sign-in/", {"username": "ship-officer", "password": "a-secret-nobody-reads"})
    assert lines()
    assert "a-secret-nobody-reads" not in json.dumps(lines())


def test_a_failure_names_the_number_that_finds_it(
    lines: Lines, monkeypatch: pytest.MonkeyPatch, client: Client, db: None
) -> None:
    def fail(_request: object) -> None:
        raise RuntimeError("no oil today")

    monkeypatch.setattr("compat.running.health._PARTS", (("part", lambda: fail(None)),))
    client.raise_request_exception = False
    answer = client.get("/health/ready/")
    assert answer.status_code == 500
    number = answer.headers["X-Request-ID"]
    assert number in answer.content.decode()
    (failure,) = [one for one in lines() if one["level"] == "ERROR"]
    assert failure["request_id"] == number
    assert "no oil today" in failure["exc_info"]
