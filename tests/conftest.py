"""The fixed cast of every test, a fixed time, and no network but this machine's own."""

from __future__ import annotations

import os
import shutil
import socket
from collections.abc import Callable, Iterator
from datetime import datetime
from typing import Any

import pytest
from django.db import connection
from django.test import Client, TransactionTestCase
from hypothesis import HealthCheck, settings
from playwright.sync_api import Browser, ConsoleMessage, Page, sync_playwright
from pytest_django.live_server_helper import LiveServer
from pytest_django.plugin import DjangoDbBlocker

from shared.models import Person
from shared.roles import Kind, Role
from shared.trail_guard import lift_guard, set_guard
from tests.builders import NOW, make_organisation, make_person, small_pdf, small_pdf_to_sign

# How long one example takes depends on what else the machine does; a slow one is no defect.
settings.register_profile("project", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("project")

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


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[None]:
    """Let the test database be dropped although a thread of the live server has not yet hung up on it."""
    yield
    if connection.vendor == "postgresql":
        with django_db_blocker.unblock(), connection.cursor() as cursor:
            cursor.execute(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
                " WHERE datname = current_database() AND pid <> pg_backend_pid()"
            )


@pytest.fixture(autouse=True, scope="session")
def secrets_stretched_quickly() -> Iterator[None]:
    """Seal signing keys with little memory: how hard a secret is to guess is not under test."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("shared.key_sealing.ARGON_MEMORY_KIB", 64)
        yield


@pytest.fixture(autouse=True)
def plans_drawn_quickly(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Sign a small page instead of the whole plan, except in tests that ask for ``whole_plans``."""
    if "whole_plans" not in request.fixturenames:
        monkeypatch.setattr("compat.accord.signing.pdf_to_sign", lambda file: small_pdf_to_sign())
        monkeypatch.setattr("compat.record.closing.pdf_to_sign", lambda file: small_pdf_to_sign())
        monkeypatch.setattr("compat.accord.signing_bytes.signature_picture", lambda pdf, signed: small_pdf())


@pytest.fixture(autouse=True)
def clock_not_compared(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let pages sign by the clock on the wall after acts at NOW, except in tests that ask for ``clock_compared``."""
    if "clock_compared" not in request.fixturenames:
        monkeypatch.setattr("compat.accord.signing.check_clock", lambda now: None)
        monkeypatch.setattr("compat.record.closing.check_clock", lambda now: None)
        monkeypatch.setattr("compat.record.watching.check_clock", lambda now: None)


@pytest.fixture
def clock_compared() -> None:
    """Compare the clock with the trail before signing, as it is outside tests."""


@pytest.fixture
def whole_plans() -> None:
    """Draw plans whole, as they are outside tests."""


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


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """A real browser without a window; tests that ask for it are skipped where Chromium is not installed."""
    program = os.environ.get("BERTH_ACCORD_CHROMIUM") or shutil.which("chromium") or shutil.which("google-chrome")
    if program is None:
        pytest.skip("Chromium is not installed")
    quiet = ["--disable-background-networking", "--disable-component-update", "--disable-sync", "--no-first-run"]
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, chromium_sandbox=False, args=quiet)
        yield browser
        browser.close()


@pytest.fixture
def page_of(
    chromium: Browser, live_server: LiveServer, client_of: Callable[[Person | None], Client]
) -> Iterator[Callable[..., Page]]:
    """Return a factory of browser pages, signed in as a person or as nobody; each has the width asked for.

    A page that logs an error or throws one fails the test; where the link drops, a request that failed is none.
    """
    contexts, wrong = [], list[str]()

    def page(
        person: Person | None = None, *, width: int = 1280, link_drops: bool = False, scripts: bool = True
    ) -> Page:
        context = chromium.new_context(
            base_url=live_server.url,
            viewport={"width": width, "height": 900},
            reduced_motion="reduce",
            java_script_enabled=scripts,
        )
        contexts.append(context)
        session = client_of(person).cookies.get("sessionid")
        if session:
            context.add_cookies([{"name": "sessionid", "value": session.value, "url": live_server.url}])
        opened = context.new_page()
        opened.on("pageerror", lambda error: wrong.append(str(error)))

        def logged(message: ConsoleMessage) -> None:
            lost = message.text.startswith(("Failed to load resource: net::", "htmx:sendError", "htmx:afterRequest"))
            if message.type == "error" and not (link_drops and lost):
                wrong.append(message.text)

        opened.on("console", logged)
        return opened

    yield page
    for context in contexts:
        context.close()
    assert not wrong
