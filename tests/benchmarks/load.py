"""Many people at work on one site: they read, move what-ifs and answer the checklist, and pause between as people do.

The demo scenario is loaded, more officers and accords are added through the same acts, and gunicorn serves as
``manage.py up`` does. On a SQLite file of its own unless BERTH_ACCORD_DATABASE names another.
Run from the project's folder: python -m tests.benchmarks.load [--people 50] [--seconds 300]
"""

from __future__ import annotations

import argparse
import os
import random
import secrets
import subprocess
import sys
import tempfile
import threading
import time
from collections import defaultdict
from dataclasses import dataclass, field
from datetime import timedelta
from decimal import Decimal
from http.client import HTTPConnection, HTTPException
from pathlib import Path
from urllib.parse import urlencode

import django

from tests.benchmarks.tables import show

PEOPLE_PER_ACCORD = 5
LEAST_PAUSE_S, MOST_PAUSE_S = 1.0, 5.0
KINDS = {"accord page": 4, "checklist page": 2, "assessment page": 1, "what-if": 4, "lists": 1, "answer": 3}
"""What people do, by how often they do it."""
MEMORY_EVERY_S = 10.0


@dataclass
class Seat:
    """One person's session, and what they work on."""

    session: str
    accord: str
    assessment: str
    what_if: list[tuple[str, str]]
    items: list[str]


@dataclass
class Told:
    """Times by kind in seconds, and what went wrong."""

    times: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    wrong: list[str] = field(default_factory=list)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def add(self, kind: str, seconds: float, status: int, address: str) -> None:
        """Note one answer."""
        with self.lock:
            self.times[kind].append(seconds)
            if status not in {200, 302}:
                self.wrong.append(f"{status} {address}")


def main() -> None:
    """Prepare, serve, let the people work, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--people", type=int, default=50)
    parser.add_argument("--seconds", type=float, default=300.0)
    parser.add_argument("--port", type=int, default=8765)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        os.environ.setdefault("BERTH_ACCORD_DATABASE", f"sqlite:///{folder}/load.sqlite3")
        os.environ["BERTH_ACCORD_DATA"] = folder
        os.environ["BERTH_ACCORD_SECRET_KEY"] = "only-for-this-measurement-and-no-other-use-of-it-0123456789"
        os.environ["DJANGO_SETTINGS_MODULE"] = "compat.settings"
        django.setup()
        seats = _prepare(asked.people)
        command = [sys.executable, "manage.py", "up", "--no-demo", "--port", str(asked.port)]
        server = subprocess.Popen(command, stdout=subprocess.DEVNULL)
        try:
            wait_for(asked.port)
            told, memory = _work(seats, asked.port, asked.seconds, server.pid)
        finally:
            server.terminate()
            server.wait()
    _report(told, memory, asked.people, asked.seconds)


def _prepare(people: int) -> list[Seat]:
    from django.conf import settings  # noqa: PLC0415 (Django is ready only now)
    from django.core.management import call_command  # noqa: PLC0415
    from django.utils import timezone  # noqa: PLC0415

    from compat import demo  # noqa: PLC0415
    from compat.management.commands.up import gather_static_files, prepare_keys  # noqa: PLC0415
    from shared.models import Person  # noqa: PLC0415

    prepare_keys()
    call_command("migrate", verbosity=0)
    gather_static_files()
    demo.load(now=timezone.now())
    settings.EMAIL_BACKEND = "django.core.mail.backends.dummy.EmailBackend"
    parties = [Person.objects.get(username="anselm.krog"), Person.objects.get(username="lars.hamre")]
    return [seat for number in range(0, people, PEOPLE_PER_ACCORD) for seat in _table(parties, number, people)]


def _table(parties: list, first: int, people: int) -> list[Seat]:  # type: ignore[type-arg]
    """Open one accord, and seat people of both sides at it."""
    from django.utils import timezone  # noqa: PLC0415

    from compat.accord import actions  # noqa: PLC0415
    from compat.accord.checklist import items_before_signing  # noqa: PLC0415
    from compat.accord.checklist.item import Side  # noqa: PLC0415
    from compat.assessing.models import Assessment  # noqa: PLC0415
    from compat.demo.transfers import CRUDE_TO_SEA_ISLAND  # noqa: PLC0415
    from tests.compat.accord.building import CONDITIONS  # noqa: PLC0415

    assessment = Assessment.objects.get(title=CRUDE_TO_SEA_ISLAND.title)
    now = timezone.now()
    accord = actions.open_accord(
        by=parties[0],
        now=now,
        vessel_revision=assessment.vessel_revision,
        berth_revision=assessment.berth_revision,
        case=assessment.case_file(),
        conditions=CONDITIONS,
        place="Skarra Sound, Sea island",
        planned_start=now + timedelta(hours=30),
        proposals={"manifold_pressure_bar_gauge": Decimal("7.5")},
    )
    items = items_before_signing(accord.transfer_conditions())
    seats = []
    for number in range(first, min(first + PEOPLE_PER_ACCORD, people)):
        side = Side.SHIP if number % 2 == 0 else Side.TERMINAL
        own = [item.key for item in items if side in item.answered_by and not item.asked]
        seats.append(_seat(parties[number % 2].organisation, number, accord, assessment, own))
    return seats


def _seat(organisation: object, number: int, accord: object, assessment: object, items: list[str]) -> Seat:
    from django.test import Client  # noqa: PLC0415
    from django.urls import reverse  # noqa: PLC0415

    from shared.roles import Role  # noqa: PLC0415
    from tests.builders import make_person  # noqa: PLC0415
    from tests.pages import sent_by  # noqa: PLC0415

    person = make_person(organisation, Role.OFFICER, username=f"worker-{number}", full_name=f"Worker {number}")  # type: ignore[arg-type]
    client = Client(headers={"host": "localhost"})
    client.force_login(person)
    of_assessment = reverse("assessment", args=[assessment.public_id])  # type: ignore[attr-defined]
    is_ship = number % 2 == 0
    what_if = sent_by(client.get(of_assessment), "what-if") if is_ship else []  # type: ignore[arg-type]
    of_accord = reverse("accord", args=[accord.public_id])  # type: ignore[attr-defined]
    return Seat(client.cookies["sessionid"].value, of_accord, of_assessment, what_if, items)


def wait_for(port: int) -> None:
    """Wait until the site on ``port`` is ready."""
    for _ in range(300):
        try:
            connection = HTTPConnection("localhost", port, timeout=5)
            connection.request("GET", "/health/ready/")
            if connection.getresponse().status == 200:
                return
        except (OSError, HTTPException):
            pass
        time.sleep(0.2)
    raise SystemExit("The site did not come up.")


def _work(seats: list[Seat], port: int, seconds: float, server: int) -> tuple[Told, list[float]]:
    told, until = Told(), time.monotonic() + seconds
    threads = [threading.Thread(target=_person, args=(seat, port, until, told)) for seat in seats]
    for thread in threads:
        thread.start()
    memory = []
    while time.monotonic() < until:
        memory.append(_memory_mb(server))
        time.sleep(min(MEMORY_EVERY_S, max(until - time.monotonic(), 0.1)))
    for thread in threads:
        thread.join()
    return told, memory


def _person(seat: Seat, port: int, until: float, told: Told) -> None:
    choice = random.Random(seat.session)  # noqa: S311 - who does what when is no secret
    kinds = [kind for kind in KINDS if seat.what_if or kind not in {"what-if", "assessment page"}]
    weights = [KINDS[kind] for kind in kinds]
    connection = HTTPConnection("localhost", port, timeout=60)
    time.sleep(choice.uniform(0.0, MOST_PAUSE_S))
    while time.monotonic() < until:
        try:
            _act(choice.choices(kinds, weights)[0], seat, connection, choice, told)
        except (OSError, HTTPException) as error:
            told.add("lost", 0.0, 0, repr(error))
            connection.close()
        time.sleep(choice.uniform(LEAST_PAUSE_S, MOST_PAUSE_S))


def _act(kind: str, seat: Seat, connection: HTTPConnection, choice: random.Random, told: Told) -> None:
    addresses = {
        "accord page": seat.accord,
        "checklist page": f"{seat.accord}checklist/",
        "assessment page": seat.assessment,
        "lists": choice.choice(["/accords/", "/assessments/", "/", "/trail/"]),
    }
    if kind in addresses:
        _ask(kind, seat, connection, told, "GET", addresses[kind])
    elif kind == "what-if":
        moved = {"pressure": f"{choice.uniform(5.0, 9.0):.2f}", "pressure_unit": "bar"}
        query = urlencode([(name, moved.get(name, value)) for name, value in seat.what_if])
        _ask(kind, seat, connection, told, "GET", f"{seat.assessment}?{query}", scripted=True)
    else:
        _answer(seat, connection, choice, told)


def _answer(seat: Seat, connection: HTTPConnection, choice: random.Random, told: Told) -> None:
    """Open an item's form and send it, as a browser without scripts does."""
    from tests.pages import form_sent  # noqa: PLC0415

    address = f"{seat.accord}checklist/{choice.choice(seat.items)}/"
    page = _ask("answer: its form", seat, connection, told, "GET", address)
    sent = [(name, value) for name, value in form_sent(page, "item-form") if name not in {"answer", "remark"}]
    _ask("answer", seat, connection, told, "POST", address, [*sent, ("answer", "yes")])


def _ask(
    kind: str,
    seat: Seat,
    connection: HTTPConnection,
    told: Told,
    method: str,
    address: str,
    sent: list[tuple[str, str]] | None = None,
    *,
    scripted: bool = False,
) -> str:
    token = secrets.token_hex(16)
    headers = {"Cookie": f"sessionid={seat.session}; csrftoken={token}"}
    if scripted:
        headers["HX-Request"] = "true"
    if sent is not None:
        headers |= {"Content-Type": "application/x-www-form-urlencoded", "X-CSRFToken": token}
    start = time.perf_counter()
    connection.request(method, address, urlencode(sent) if sent is not None else None, headers)
    answer = connection.getresponse()
    body = answer.read()
    told.add(kind, time.perf_counter() - start, answer.status, f"{method} {address}")
    return body.decode(errors="replace")


def _memory_mb(server: int) -> float:
    """Return what the server's processes hold of their own, in MB."""
    total, parents = 0.0, {server}
    for status in sorted(Path("/proc").glob("[0-9]*/status"), key=lambda path: int(path.parent.name)):
        try:
            lines = dict(line.split(":", 1) for line in status.read_text().splitlines() if ":" in line)
        except OSError:
            continue
        if int(status.parent.name) in parents or int(lines["PPid"]) in parents:
            parents.add(int(status.parent.name))
            total += float(lines.get("RssAnon", "0 kB").split()[0]) / 1000.0
    return total


def _report(told: Told, memory: list[float], people: int, seconds: float) -> None:
    rows = [("answers", str(sum(map(len, told.times.values())))), ("answers that were errors", str(len(told.wrong)))]
    everything = [one for times in told.times.values() for one in times]
    for name, times in [("all", everything), *sorted(told.times.items())]:
        ordered = sorted(times)
        half, most = ordered[len(ordered) // 2], ordered[min(int(0.95 * len(ordered)), len(ordered) - 1)]
        rows.append((f"{name}: p50, p95 in ms of {len(ordered)}", f"{half * 1e3:.0f}, {most * 1e3:.0f}"))
    rows.append(("server's memory in MB, first and last", f"{memory[0]:.0f}, {memory[-1]:.0f}"))
    show(f"{people} people at work for {seconds:.0f} s", rows)
    for line in told.wrong[:10]:
        sys.stdout.write(f"  {line}\n")


if __name__ == "__main__":
    main()
