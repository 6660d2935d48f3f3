"""The fixed cast of every test, a fixed time, and no network but this machine's own."""

from __future__ import annotations

import socket
from collections.abc import Callable, Iterator
from datetime import datetime
from typing import Any

import pytest
from django.db import connection
from django.test import Client, TransactionTestCase

from shared.models import Person
from shared.roles import Kind, Role
from shared.trail_guard import lift_guard, set_guard
from tests.builders import NOW, make_organisation, make_person

_LOOPBACK = ("127.", "::1", "localhost")


@pytest.fixture(autouse=True, scope="session")
def no_network() -> Iterator[None]:
    """Refuse every connection that leaves this machine."""
    connect, connect_ex = socket.socket.connect, socket.socket.connect_ex

    def check(sock: socket.socket, address: Any) -> None:
        if sock.family != socket.AF_UNIX and not str(address[0]).startswith(_LOOPBACK):
            raise RuntimeError(f"A test tried to reach {address[0]}; tests stay on this machine.")

    def guarded(sock: socket.socket, address: Any) -> None:
        check(sock, address)
        connect(sock, address)

    def guarded_ex(sock: socket.socket, address: Any) -> int:
        check(sock, address)
        return connect_ex(sock, address)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(socket.socket, "connect", guarded)
        patch.setattr(socket.socket, "connect_ex", guarded_ex)
        yield


@pytest.fixture(autouse=True, scope="session")
def trail_can_be_emptied_between_tests() -> Iterator[None]:
    """Lift the trail's triggers while a transactional test empties its database, and at no other time."""
    empty = TransactionTestCase._fixture_teardown  # type: ignore[attr-defined]

    def empty_without_guard(case: TransactionTestCase) -> None:
        lift_guard(connection)
        try:
            empty(case)
        finally:
            set_guard(connection)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(TransactionTestCase, "_fixture_teardown", empty_without_guard)
        yield


@pytest.fixture
def now() -> datetime:
    """The time at which every test's acts happen."""
    return NOW


def _cast(kind: Kind, organisation: str, role: Role, username: str, full_name: str, title: str) -> Person:
    return make_person(make_organisation(kind, organisation), role, username=username, full_name=full_name, title=title)


@pytest.fixture
def ship_officer(db: None) -> Person:
    """Officer of the ship operator."""
    return _cast(Kind.SHIP, "Halvard Tankers", Role.OFFICER, "ship-officer", "Ingrid Solheim", "Chief Officer")


@pytest.fixture
def ship_reader(db: None) -> Person:
    """Reader of the ship operator."""
    return _cast(Kind.SHIP, "Halvard Tankers", Role.READER, "ship-reader", "Piotr Lange", "Operations Trainee")


@pytest.fixture
def ship_admin(db: None) -> Person:
    """Administrator of the ship operator."""
    return _cast(Kind.SHIP, "Halvard Tankers", Role.ADMINISTRATOR, "ship-admin", "Maud Okafor", "Fleet Manager")


@pytest.fixture
def terminal_officer(db: None) -> Person:
    """Officer of the terminal operator."""
    return _cast(Kind.TERMINAL, "Sandvik Terminals", Role.OFFICER, "terminal-officer", "Tomas Reyes", "Loading Master")


@pytest.fixture
def terminal_reader(db: None) -> Person:
    """Reader of the terminal operator."""
    return _cast(Kind.TERMINAL, "Sandvik Terminals", Role.READER, "terminal-reader", "Lena Brandt", "Jetty Clerk")


@pytest.fixture
def terminal_admin(db: None) -> Person:
    """Administrator of the terminal operator."""
    return _cast(
        Kind.TERMINAL, "Sandvik Terminals", Role.ADMINISTRATOR, "terminal-admin", "Joan Mercer", "Terminal Manager"
    )


@pytest.fixture
def auditor(db: None) -> Person:
    """Officer of an auditing organisation."""
    return _cast(Kind.AUDIT, "Northlight Audit", Role.OFFICER, "auditor", "Samuel Adeyemi", "Auditor")


@pytest.fixture
def stranger(db: None) -> Person:
    """Officer of another ship operator."""
    return _cast(Kind.SHIP, "Corvane Shipping", Role.OFFICER, "stranger", "Elif Aydin", "Chief Officer")


@pytest.fixture
def other_terminal_officer(db: None) -> Person:
    """Officer of another terminal operator."""
    return _cast(
        Kind.TERMINAL, "Breakwater Storage", Role.OFFICER, "other-terminal", "Nils Ferrant", "Shift Supervisor"
    )


@pytest.fixture
def installation_admin(db: None) -> Person:
    """Who looks after the installation; belongs to no organisation."""
    return make_person(None, Role.READER, username="keeper", full_name="Ruth Calder", is_superuser=True)


@pytest.fixture
def client_of() -> Callable[[Person | None], Client]:
    """Return a factory of browsers, signed in as a person or as nobody."""

    def browser(person: Person | None = None) -> Client:
        client = Client()
        if person:
            client.force_login(person)
        return client

    return browser
