"""How long a plan takes to be issued, and 50 accepts of one value that arrive in the same moment.

The demo scenario is loaded into an SQLite file of its own. Each accord that waits for signatures is settled anew with
nothing remembered, then signed by both sides, whole PDF included. Then gunicorn serves as ``manage.py up`` does, and 50
officers of the terminal accept one value of the ship at once, each with a session of their own.
Run from the project's folder: python -m tests.benchmarks.issuing
"""

from __future__ import annotations

import os
import secrets
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable
from dataclasses import dataclass
from http.client import HTTPConnection
from time import perf_counter
from typing import Any
from urllib.parse import urlencode

import django

from tests.benchmarks.load import wait_for
from tests.benchmarks.tables import show

AT_ONCE = 50
WON, LOST = " is agreed.", "Someone else acted first"


@dataclass
class Accept:
    """One officer's accept: their session, what came of it, and the cookie that carries what the next page tells."""

    session: str
    address: str
    page: str
    seconds: float = 0.0
    told: str = ""
    message: str = ""


def main() -> None:
    """Prepare, measure, print."""
    with tempfile.TemporaryDirectory() as folder:
        os.environ["BERTH_ACCORD_DATABASE"] = f"sqlite:///{folder}/issuing.sqlite3"
        os.environ["BERTH_ACCORD_DATA"] = folder
        os.environ["BERTH_ACCORD_SECRET_KEY"] = "only-for-this-measurement-and-no-other-use-of-it-0123456789"
        os.environ["DJANGO_SETTINGS_MODULE"] = "compat.settings"
        django.setup()
        _prepare()
        for title, figures in _issued():
            show(title, figures)
        _at_once(8767)


def _prepare() -> None:
    from django.conf import settings  # noqa: PLC0415 (Django is ready only now)
    from django.core.management import call_command  # noqa: PLC0415
    from django.utils import timezone  # noqa: PLC0415

    from compat import demo  # noqa: PLC0415
    from compat.management.commands.up import prepare_keys  # noqa: PLC0415

    prepare_keys()
    call_command("migrate", verbosity=0)
    settings.EMAIL_BACKEND = "django.core.mail.backends.dummy.EmailBackend"
    demo.load(now=timezone.now())


def _issued() -> list[tuple[str, list[tuple[str, str]]]]:
    from compat.accord.models import Accord  # noqa: PLC0415
    from compat.accord.states import FROZEN_STATES  # noqa: PLC0415

    waiting = Accord.objects.filter(state__in=[str(state) for state in FROZEN_STATES])
    return [(f"{accord.title}: elapsed", _issue(accord)) for accord in waiting]


def _issue(accord: Any) -> list[tuple[str, str]]:
    from django.utils import timezone  # noqa: PLC0415

    from compat.accord import actions, engine  # noqa: PLC0415
    from compat.accord.models import Plan  # noqa: PLC0415
    from compat.demo import SECRET  # noqa: PLC0415
    from shared.models import Person  # noqa: PLC0415
    from shared.roles import Role  # noqa: PLC0415

    ship, terminal = (
        Person.objects.filter(organisation=party, role=Role.OFFICER, is_active=True).get()
        for party in (accord.ship_party, accord.terminal_party)
    )

    def sign(by: Person) -> None:
        accord.refresh_from_db()
        actions.sign(
            by=by,
            now=timezone.now(),
            accord=accord,
            secret=SECRET,
            title=by.title,
            seen_sha256=accord.payload_sha256,
            consents=True,
        )

    actions.take_back(by=terminal, now=timezone.now(), accord=accord, reason="To be measured.")
    for kept in (engine._within, engine._answered, engine._times):
        kept.cache_clear()
    return [
        ("settled, nothing remembered", _took(lambda: actions.settle(by=ship, now=timezone.now(), accord=accord))),
        ("first signature, with the PDF drawn", _took(lambda: sign(ship))),
        ("second signature, the plan is issued", _took(lambda: sign(terminal))),
        ("size of the PDF in kB", f"{len(bytes(Plan.objects.get(accord=accord).pdf or b'')) / 1000:.0f}"),
    ]


def _took(act: Callable[[], object]) -> str:
    start = perf_counter()
    act()
    return f"{perf_counter() - start:.2f} s"


def _at_once(port: int) -> None:
    command = [sys.executable, "manage.py", "up", "--no-demo", "--port", str(port)]
    accepts = _accepts()
    server = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    try:
        wait_for(port)
        barrier = threading.Barrier(AT_ONCE)
        threads = [threading.Thread(target=_accept, args=(one, port, barrier)) for one in accepts]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        for one in accepts:
            text = _asked(one, port, "GET", one.page)
            one.told = next((told for told in (LOST, WON) if told in text), "nothing")
    finally:
        server.terminate()
        server.wait()
    times = sorted(one.seconds for one in accepts)
    figures = [(f"told “{told}”", str(sum(one.told == told for one in accepts))) for told in (WON, LOST, "nothing")]
    figures += [("first and last answer", f"{times[0] * 1e3:.0f} and {times[-1] * 1e3:.0f} ms")]
    show(f"{AT_ONCE} accepts of one value at once", figures)


def _accepts() -> list[Accept]:
    """Seat 50 officers of one terminal before one value that lies open for it."""
    from django.test import Client  # noqa: PLC0415
    from django.urls import reverse  # noqa: PLC0415

    from compat.accord.models import Accord  # noqa: PLC0415
    from compat.accord.states import State  # noqa: PLC0415
    from shared.roles import Role  # noqa: PLC0415
    from tests.builders import make_person  # noqa: PLC0415

    accord = Accord.objects.filter(state=State.ON_TABLE, proposals__status="open", proposals__side="ship").first()
    if accord is None:
        raise SystemExit("No value of the ship lies open in the demo scenario.")
    proposal = accord.proposals.filter(status="open", side="ship").first()
    page = reverse("accord", args=[accord.public_id])
    made = []
    for number in range(AT_ONCE):
        name = f"officer-{number}"
        officer = make_person(accord.terminal_party, Role.OFFICER, username=name, full_name=f"Officer {number}")
        client = Client(headers={"host": "localhost"})
        client.force_login(officer)
        address = reverse("accord-accept", args=[accord.public_id, proposal.pk])
        made.append(Accept(client.cookies["sessionid"].value, address, page))
    return made


def _accept(one: Accept, port: int, barrier: threading.Barrier) -> None:
    barrier.wait()
    start = perf_counter()
    _asked(one, port, "POST", one.address)
    one.seconds = perf_counter() - start


def _asked(one: Accept, port: int, method: str, address: str) -> str:
    token = secrets.token_hex(16)
    headers = {"Cookie": f"sessionid={one.session}; csrftoken={token}", "X-CSRFToken": token}
    if method == "POST":
        headers["Content-Type"] = "application/x-www-form-urlencoded"
    if one.message:
        headers["Cookie"] += f"; {one.message}"
    connection = HTTPConnection("localhost", port, timeout=120)
    connection.request(method, address, urlencode({"sending": token}) if method == "POST" else None, headers)
    answer = connection.getresponse()
    given = [line.split(";", 1)[0] for line in answer.headers.get_all("Set-Cookie", [])]
    one.message = next((cookie for cookie in given if cookie.startswith("messages=")), "")
    return answer.read().decode(errors="replace")


if __name__ == "__main__":
    main()
