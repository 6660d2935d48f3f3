"""Tokens: who makes and ends them, what they let pass, what is stored."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
from django.core.cache import cache
from django.test import Client
from django.utils import timezone
from pytest_django.fixtures import Settings

from compat.api.actions import LONGEST_DAYS, MOST_TOKENS, make_token, revoke_token, tokens_seen_by
from compat.api.models import Token
from compat.api.scopes import Scope
from shared.actions import deactivate_person
from shared.calc.errors import InputError
from shared.models import Person, TrailRow
from shared.permissions import NotAllowedError
from tests.compat.api.conftest import Program, ProgramOf, problem_of

ClientOf = Callable[[Person | None], Client]


def test_a_token_acts_for_its_person_and_its_words_are_not_stored(ship_officer: Person, now: datetime) -> None:
    token, words = make_token(by=ship_officer, now=now, name=" scheduler ", scopes=[Scope.READ], days=30)
    assert words.startswith("accord_")
    assert words not in str(Token.objects.values().get())
    told = Program(words).get("/me").json()
    assert (told["person"], told["organisation"], told["scopes"]) == ("ship-officer", "Halvard Tankers", ["read"])
    row = TrailRow.objects.get(act="token made")
    assert row.subject == f"token:{token.public_id}"
    assert words not in row.facts


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"name": "  "}, "0 characters; allowed: 1 to 60"),
        ({"scopes": []}, "No use is ticked"),
        ({"days": 0}, f"A token of 0 days; allowed: 1 to {LONGEST_DAYS} days"),
        ({"days": LONGEST_DAYS + 1}, f"allowed: 1 to {LONGEST_DAYS} days"),
    ],
)
def test_a_token_that_can_not_be_is_one_sentence(
    changes: dict[str, object], sentence: str, ship_officer: Person, now: datetime
) -> None:
    values: dict[str, object] = {"name": "scheduler", "scopes": [Scope.READ], "days": 30} | changes
    with pytest.raises(InputError, match=sentence):
        make_token(by=ship_officer, now=now, **values)  # type: ignore[arg-type]
    assert not Token.objects.exists()


def test_a_person_has_only_so_many_that_work(ship_officer: Person, now: datetime) -> None:
    for number in range(MOST_TOKENS):
        make_token(by=ship_officer, now=now, name=f"program {number}", scopes=[Scope.READ], days=1)
    with pytest.raises(InputError, match="revoke one"):
        make_token(by=ship_officer, now=now, name="one more", scopes=[Scope.READ], days=1)
    later = now + timedelta(days=2)
    assert make_token(by=ship_officer, now=later, name="one more", scopes=[Scope.READ], days=1)


def test_somebody_without_an_organisation_makes_none(installation_admin: Person, now: datetime) -> None:
    with pytest.raises(NotAllowedError):
        make_token(by=installation_admin, now=now, name="all", scopes=[Scope.READ], days=1)


def test_who_ends_a_token(
    ship_officer: Person, ship_admin: Person, ship_reader: Person, stranger: Person, now: datetime
) -> None:
    # The cast's people of one kind belong to organisations of one name each.
    token, words = make_token(by=ship_officer, now=now, name="scheduler", scopes=[Scope.READ], days=30)
    for person in (ship_reader, stranger):
        assert token not in tokens_seen_by(person)
        with pytest.raises(NotAllowedError):
            revoke_token(by=person, now=now, token=token)
    assert Program(words).get("/me").status_code == 200
    assert token in tokens_seen_by(ship_admin)
    revoke_token(by=ship_admin, now=now, token=token)
    assert Program(words).get("/me").status_code == 401
    with pytest.raises(InputError, match="already"):
        revoke_token(by=ship_officer, now=now, token=token)


def test_only_a_working_token_of_somebody_with_access_passes(
    ship_officer: Person, ship_admin: Person, now: datetime, client: Client
) -> None:
    assert problem_of(client.get("/api/v1/me"))["status"] == 401
    assert Program("accord_guess").get("/me").headers["WWW-Authenticate"].startswith("Bearer")
    _, short = make_token(
        by=ship_officer, now=timezone.now() - timedelta(days=2), name="old", scopes=[Scope.READ], days=1
    )
    assert Program(short).get("/me").status_code == 401
    _, words = make_token(by=ship_officer, now=now, name="scheduler", scopes=[Scope.READ], days=30)
    deactivate_person(by=ship_admin, now=now, person=ship_officer)
    assert Program(words).get("/me").status_code == 401


def test_a_session_is_no_token(client_of: ClientOf, ship_officer: Person) -> None:
    assert client_of(ship_officer).get("/api/v1/me").status_code == 401


def test_a_token_without_the_scope_is_told_which(program_of: ProgramOf, ship_officer: Person) -> None:
    told = problem_of(program_of(ship_officer, Scope.READ).post("/ships", {}))
    assert (told["status"], "scope ships" in told["detail"]) == (403, True)


def test_asking_too_often_is_told_with_the_time_to_wait(
    program_of: ProgramOf, ship_officer: Person, settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    cache.clear()
    from compat.api.site import api  # noqa: PLC0415 (its throttle is changed here)

    (throttle,) = api.throttle
    monkeypatch.setattr(throttle, "num_requests", 3)
    program = program_of(ship_officer)
    assert [program.get("/me").status_code for _ in range(4)] == [200, 200, 200, 429]
    answer = program.get("/me")
    assert int(answer.headers["Retry-After"]) >= 1
    assert "ask again in" in problem_of(answer)["detail"]
    cache.clear()


def test_the_page_shows_the_words_once(client_of: ClientOf, ship_officer: Person, ship_reader: Person) -> None:
    browser = client_of(ship_officer)
    assert "No token has been made yet" in browser.get("/tokens/").content.decode()
    sent = {"name": "scheduler", "scopes": ["read", "ships"], "days": "30"}
    first = browser.post("/tokens/", sent).content.decode()
    assert "Copy the token now" in first
    assert "accord_" in first
    again = browser.get("/tokens/")
    assert "accord_" not in again.content.decode()
    assert "no-store" in again.headers["Cache-Control"]
    token = Token.objects.get()
    assert client_of(ship_reader).post(f"/tokens/{token.public_id}/revoke/").status_code == 404
    assert browser.post(f"/tokens/{token.public_id}/revoke/").status_code == 302
    assert "revoked" in browser.get("/tokens/").content.decode()


def test_the_page_keeps_what_was_typed(client_of: ClientOf, ship_officer: Person) -> None:
    page = client_of(ship_officer).post("/tokens/", {"name": "my scheduler", "days": "900"}).content.decode()
    assert "my scheduler" in page
    assert "366" in page


def test_strangers_sign_in_first(client: Client, db: None, client_of: ClientOf, installation_admin: Person) -> None:
    assert client.get("/tokens/").status_code == 302
    assert client_of(installation_admin).get("/tokens/").status_code == 403
