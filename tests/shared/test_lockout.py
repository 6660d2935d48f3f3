"""Wrong secrets close a door for a while: for the name, for the address, and for nobody else."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client, RequestFactory
from django.urls import reverse
from django.utils import timezone

from shared.factor_models import SignInAttempt
from shared.lockout import (
    LOCK_TIME,
    MOST_BY_ADDRESS,
    MOST_BY_NAME,
    LockedError,
    address_of,
    begin_attempt,
    locked_until,
)
from shared.models import Person, TrailRow
from tests.builders import NOW, SECRET

ClientOf = Callable[[Person | None], Client]
SIGN_IN = "/sign-in/"
LOCKED = "Too many wrong secrets or codes"


def attempts(
    count: int, name: str = "anna", address: str = "10.0.0.1", apart: timedelta = timedelta(seconds=1)
) -> None:
    SignInAttempt.objects.bulk_create(
        SignInAttempt(name=name, address=address, at=NOW - apart * place) for place in range(count)
    )


@pytest.mark.django_db
@pytest.mark.parametrize(("count", "locked"), [(MOST_BY_NAME - 1, False), (MOST_BY_NAME, True)])
def test_a_name_is_locked_after_so_many(count: int, locked: bool) -> None:
    attempts(count)
    until = locked_until(name=" Anna ", address="10.0.0.2", now=NOW)
    assert until == (NOW + LOCK_TIME if locked else None)
    assert locked_until(name="berit", address="10.0.0.2", now=NOW) is None


@pytest.mark.django_db
@pytest.mark.parametrize(("count", "locked"), [(MOST_BY_ADDRESS - 1, False), (MOST_BY_ADDRESS, True)])
def test_an_address_is_locked_after_more(count: int, locked: bool) -> None:
    for place in range(count):
        attempts(1, name=f"name {place}")
    assert (locked_until(name="anna", address="10.0.0.1", now=NOW) is not None) is locked
    assert locked_until(name="anna", address="10.0.0.2", now=NOW) is None
    assert locked_until(name="anna", address="", now=NOW) is None


@pytest.mark.django_db
def test_the_lock_opens_by_itself() -> None:
    attempts(MOST_BY_NAME)
    with pytest.raises(LockedError, match="try again after 06:45 UTC"):
        begin_attempt(name="anna", address="10.0.0.2", now=NOW)
    begin_attempt(name="anna", address="10.0.0.2", now=NOW + LOCK_TIME)


@pytest.mark.django_db
def test_slow_mistakes_lock_nothing() -> None:
    attempts(MOST_BY_NAME * 2, apart=LOCK_TIME / 2)
    assert locked_until(name="anna", address="10.0.0.1", now=NOW) is None


@pytest.mark.django_db
def test_old_attempts_are_forgotten() -> None:
    attempts(3, apart=timedelta(days=2))
    begin_attempt(name="berit", address="10.0.0.2", now=NOW)
    assert SignInAttempt.objects.count() == 2


def sign_in(client: Client, username: str, secret: str, address: str = "10.0.0.1") -> Any:
    return client.post(SIGN_IN, {"username": username, "password": secret}, REMOTE_ADDR=address)


def test_the_right_secret_is_not_even_looked_at_while_a_name_is_locked(
    ship_officer: Person, ship_reader: Person, client_of: ClientOf
) -> None:
    client = client_of(None)
    for _ in range(MOST_BY_NAME):
        assert "do not belong together" in sign_in(client, "ship-officer", "wrong").text
    assert LOCKED in sign_in(client, "SHIP-officer", SECRET, "10.0.0.9").text
    assert sign_in(client_of(None), "ship-reader", SECRET).status_code == 302
    row = TrailRow.objects.get(act="sign-in locked")
    assert (row.person, row.subject) == ("Berth Accord", ship_officer.subject)


def test_who_is_in_stays_in(ship_officer: Person, client_of: ClientOf) -> None:
    inside = client_of(ship_officer)
    for _ in range(MOST_BY_NAME):
        sign_in(client_of(None), "ship-officer", "wrong")
    assert inside.get(reverse("home")).status_code == 200


def test_the_right_secret_forgets_the_wrong_ones(ship_officer: Person, client_of: ClientOf) -> None:
    for _ in range(3):
        for _ in range(MOST_BY_NAME - 1):
            sign_in(client_of(None), "ship-officer", "wrong")
        assert sign_in(client_of(None), "ship-officer", SECRET).status_code == 302
    assert not SignInAttempt.objects.exists()
    assert not TrailRow.objects.filter(act="sign-in locked").exists()


def test_a_name_that_nobody_has_is_locked_alike(db: None, client_of: ClientOf) -> None:
    client = client_of(None)
    for _ in range(MOST_BY_NAME):
        sign_in(client, "nobody", "wrong")
    assert LOCKED in sign_in(client, "nobody", "wrong").text
    assert not TrailRow.objects.exists()


def test_the_present_secret_is_not_guessed_in_an_open_session(ship_officer: Person, client_of: ClientOf) -> None:
    client = client_of(ship_officer)
    sent = {"present": "wrong", "secret": "lee-shore-and-holding", "again": "lee-shore-and-holding"}
    for _ in range(MOST_BY_NAME):
        assert "present secret is not right" in client.post(reverse("own-secret"), sent).text
    assert LOCKED in client.post(reverse("own-secret"), {**sent, "present": SECRET}).text


@pytest.mark.parametrize(
    ("proxied", "forwarded", "address"),
    [
        (False, "10.9.9.9", "10.0.0.1"),
        (True, "10.9.9.9", "10.9.9.9"),
        (True, "forged, 10.9.9.9", "10.9.9.9"),
        (True, "", "10.0.0.1"),
    ],
)
def test_the_address_is_the_one_that_can_be_trusted(proxied: bool, forwarded: str, address: str, settings: Any) -> None:
    settings.SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if proxied else None
    request = RequestFactory().get("/", headers={"X-Forwarded-For": forwarded}, REMOTE_ADDR="10.0.0.1")
    assert address_of(request) == address


def test_an_attempt_is_counted_before_it_is_looked_at(ship_officer: Person) -> None:
    begin_attempt(name="ship-officer", address="10.0.0.1", now=timezone.now())
    assert SignInAttempt.objects.count() == 1
