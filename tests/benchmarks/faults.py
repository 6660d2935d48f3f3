"""The site and its workers killed without warning (kill -9) while they sign, import and screen, many times over.

After each time the site is started again and looked at: what was answered is there, what is not there is not there at
all, and the same act succeeds when it is done again. At the end every plan, every signature and the trail are proved.
The demo scenario is loaded, and gunicorn serves. On a SQLite file of its own, so that each kill takes the database too;
where BERTH_ACCORD_DATABASE names a server, the database outlives the site.
Run from the project's folder: python -m tests.benchmarks.faults [--times 200]
"""

from __future__ import annotations

import argparse
import os
import random
import secrets
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from http.client import HTTPConnection, HTTPException
from typing import Any
from urllib.parse import urlencode

import django

from tests.benchmarks.tables import show

SHIPS_IN_A_FILE = 8
FLEET, COAST, PAIRS_IN_A_PIECE = 30, 20, 10
PORT = 8771
GIVES_UP_S = 60.0


def main() -> None:
    """Prepare, kill, look, print; leave with 1 where anything is wrong."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--times", type=int, default=200)
    parser.add_argument("--worker", type=int, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.worker is not None:
        _be_a_worker(asked.worker)
        return
    with tempfile.TemporaryDirectory() as folder:
        os.environ.setdefault("BERTH_ACCORD_DATABASE", f"sqlite:///{folder}/faults.sqlite3")
        os.environ["BERTH_ACCORD_DATA"] = folder
        os.environ["BERTH_ACCORD_SECRET_KEY"] = "only-for-this-measurement-and-no-other-use-of-it-0123456789"
        rounds = Rounds(_prepare())
        for number in range(asked.times):
            (rounds.sign, rounds.take_file, rounds.screen)[number % 3]()
            if number % 20 == 19:
                sys.stderr.write(f"{number + 1} times, {len(rounds.wrong)} wrong\n")
        rounds.prove()
        show(f"Killed {asked.times} times", [(name, str(count)) for name, count in sorted(rounds.seen.items())])
        for line in rounds.wrong:
            sys.stdout.write(f"  WRONG: {line}\n")
        if rounds.wrong:
            raise SystemExit(1)


@dataclass
class Cast:
    """Who acts, and what they act on."""

    ship: Any
    terminal: Any
    assessment: Any
    screening: Callable[[], Any]


class Site:
    """gunicorn as ``manage.py up`` starts it, in a group of processes that dies at once."""

    def __init__(self) -> None:
        command = [sys.executable, "-m", "gunicorn", "--config", "python:compat.server", "--bind", f"127.0.0.1:{PORT}"]
        self.process = subprocess.Popen(
            command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True
        )
        _wait_until_ready()

    def kill(self) -> None:
        """Kill all of its processes at once."""
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()


@dataclass
class Rounds:
    """One kind of fault after the other; each notes how it went and what was wrong."""

    cast: Cast
    seen: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)
    chance: random.Random = field(default_factory=lambda: random.Random(9))  # noqa: S311 - when is no secret
    longest: dict[str, float] = field(default_factory=dict)
    accord: Any = None
    files: int = 0

    def sign(self) -> None:
        """Kill the site while one side signs; the second side's signature issues the plan."""
        from compat.accord.models import Accord  # noqa: PLC0415 (Django is ready only now)
        from compat.accord.states import State  # noqa: PLC0415

        if self.accord is None or self.accord.state == State.IN_FORCE:
            self.accord = _settle(self.cast)
        person = self.cast.ship if self.accord.state == State.SETTLED else self.cast.terminal
        before = self.accord.state
        form = _signature(person, self.accord)
        answered = self._killed_during("sign", person, f"/accords/{self.accord.public_id}/sign/", form)
        accord = Accord.objects.get(pk=self.accord.pk)
        done = accord.state != before
        self._note("signature", answered=answered == 302, done=done)
        self._whole(accord)
        if not done:
            self._again(person, f"/accords/{accord.public_id}/sign/", form)
        self.accord = Accord.objects.get(pk=accord.pk)
        if self.accord.state == before:
            self.wrong.append(f"signing {accord} again did not succeed")
        self._whole(self.accord)

    def take_file(self) -> None:
        """Kill the site while a questionnaire of several ships is saved."""
        from shared.models import TrailRow  # noqa: PLC0415
        from vessels.models import Vessel, VesselRevision  # noqa: PLC0415

        self.files += 1
        form = _file_shown(self.cast.ship, self.files)
        name = f"Faulty {self.files} "
        answered = self._killed_during("import", self.cast.ship, "/ships/questionnaire/", form)
        kept = Vessel.objects.filter(name__startswith=name)
        done = kept.count() == SHIPS_IN_A_FILE
        self._note("import", answered=answered == 302, done=done)
        if not done:
            if kept.exists():
                self.wrong.append(f"{kept.count()} of {SHIPS_IN_A_FILE} ships were saved")
            self._again(self.cast.ship, "/ships/questionnaire/", form)
        subjects = [f"vessel:{vessel.public_id}" for vessel in kept.all()]
        rows = TrailRow.objects.filter(subject__in=subjects, act="ship added").count()
        revisions = VesselRevision.objects.filter(vessel__in=kept.all()).count()
        if not len(subjects) == rows == revisions == SHIPS_IN_A_FILE:
            self.wrong.append(f"{len(subjects)} ships, {revisions} revisions, {rows} rows of the trail")

    def screen(self) -> None:
        """Kill a worker in the midst of a screening, and let another one finish it."""
        from compat.screening.models import Screening  # noqa: PLC0415

        made = self.cast.screening()
        longest = self.longest.get("screening")
        start = time.monotonic()
        worker = _worker(made.pk)
        if longest is None:
            worker.wait()
            self.longest["screening"] = time.monotonic() - start
        else:
            time.sleep(self.chance.uniform(0.0, longest))
            worker.kill()
            worker.wait()
        found = Screening.objects.get(pk=made.pk)
        self._note("screening", answered=False, done=found.done == found.total)
        if found.done < found.total:
            _worker(made.pk).wait()
        self._screened(made.pk)

    def prove(self) -> None:
        """Prove every plan, every signature and the trail."""
        from compat.running.proving import everything_wrong  # noqa: PLC0415
        from shared.models import TrailRow  # noqa: PLC0415

        last = TrailRow.objects.latest("position")
        self.wrong += list(everything_wrong(rows=last.position, head=last.sha256))
        self.seen["rows of the trail, proved"] = last.position

    def _killed_during(self, kind: str, person: Any, address: str, form: list[tuple[str, str]]) -> int:
        """Send a form and kill the site at some moment of its answer; return the status, 0 where none came."""
        site, told = Site(), list[int]()
        asking = threading.Thread(target=lambda: told.append(_send(person, address, form)))
        start = time.monotonic()
        asking.start()
        if kind not in self.longest:  # the first of a kind goes through, to learn how long it takes
            asking.join()
            self.longest[kind] = time.monotonic() - start
        else:
            time.sleep(self.chance.uniform(0.0, 1.1 * self.longest[kind]))
        site.kill()
        asking.join()
        return told[0]

    def _again(self, person: Any, address: str, form: list[tuple[str, str]]) -> None:
        site = Site()
        status = _send(person, address, form)
        site.kill()
        if status != 302:
            self.wrong.append(f"{address} again was answered {status}")

    def _note(self, what: str, *, answered: bool, done: bool) -> None:
        self.seen[f"{what}: {'done' if done else 'not done at all'}"] += 1
        if answered and not done:
            self.wrong.append(f"a {what} was answered as done and is gone")

    def _whole(self, accord: Any) -> None:
        """Compare state, signatures, plan and trail of one accord with each other."""
        from compat.accord.models import Plan  # noqa: PLC0415
        from compat.accord.states import State  # noqa: PLC0415
        from shared.models import TrailRow  # noqa: PLC0415
        from shared.trail import verify_trail  # noqa: PLC0415

        signed = {State.SETTLED: 0, State.SIGNED_BY_SHIP: 1, State.IN_FORCE: 2}[State(accord.state)]
        rows = TrailRow.objects.filter(subject=accord.subject)
        told = {
            "signatures": accord.signatures.filter(void_at=None).count(),
            "rows of signatures": rows.filter(act="plan signed").count(),
            "plans": 2 * Plan.objects.filter(accord=accord).count(),
            "rows of plans": 2 * rows.filter(act="plan in force").count(),
        }
        expected = dict(zip(told, (signed, signed, *(2 * [2 * (signed == 2)])), strict=True))
        if told != expected:
            self.wrong.append(f"{accord} is {accord.state} with {told}")
        if broken := verify_trail():
            self.wrong.append(f"the trail does not hold: {broken.reason}")

    def _screened(self, key: int) -> None:
        from compat.screening.models import Screening  # noqa: PLC0415

        made = Screening.objects.get(pk=key)
        ends = list(made.pieces.order_by("start").values_list("start", "stop"))
        whole = [stop for _, stop in ends[:-1]] == [start for start, _ in ends[1:]] and ends[0][0] == 0
        if not (whole and ends[-1][1] == made.total == made.done and made.state == "done"):
            self.wrong.append(f"screening {key} is {made.state} with {made.done} of {made.total} pairs")


def _prepare() -> Cast:
    os.environ["DJANGO_SETTINGS_MODULE"] = "compat.settings"
    os.environ["BERTH_ACCORD_LOG_LEVEL"] = "CRITICAL"
    django.setup()
    from django.conf import settings  # noqa: PLC0415
    from django.core.management import call_command  # noqa: PLC0415
    from django.utils import timezone  # noqa: PLC0415

    from compat import demo  # noqa: PLC0415
    from compat.assessing.models import Assessment  # noqa: PLC0415
    from compat.demo.transfers import KEROSENE_TO_BERTH_2  # noqa: PLC0415
    from compat.management.commands.up import gather_static_files, prepare_keys  # noqa: PLC0415
    from compat.screening import actions  # noqa: PLC0415
    from shared.models import Person  # noqa: PLC0415
    from tests.benchmarks.fleet import coast, fleet, terms  # noqa: PLC0415
    from tests.builders import make_berth, make_vessel  # noqa: PLC0415

    settings.EMAIL_BACKEND = "django.core.mail.backends.dummy.EmailBackend"
    os.environ["BERTH_ACCORD_MAIL_HOST"] = ""
    prepare_keys()
    call_command("migrate", verbosity=0)
    gather_static_files()
    settings.SCREENING_RUNS = "at once"
    demo.load(now=timezone.now())
    actions.launch = lambda _: None  # type: ignore[attr-defined]  # workers of this script work it out
    ship, terminal = Person.objects.get(username="teodor.lund"), Person.objects.get(username="rosa.delmar")
    ships = [make_vessel(ship.organisation, ship, **_stated(one)) for one in fleet(FLEET)]  # type: ignore[arg-type]
    berths = [make_berth(terminal.organisation, terminal, **_stated(one)) for one in coast(COAST)]  # type: ignore[arg-type]

    def screening() -> Any:
        given = {"title": "Faults", "terms": terms(), "vessels": ships, "berths": berths}
        return actions.start_screening(by=ship, now=timezone.now(), **given)  # type: ignore[arg-type]

    assessment = Assessment.objects.get(title=KEROSENE_TO_BERTH_2.title)
    return Cast(ship, terminal, assessment, screening)


def _stated(facts: Any) -> dict[str, Any]:
    stated: dict[str, Any] = facts.model_dump(mode="json", exclude_none=True)
    return stated


def _settle(cast: Cast) -> Any:
    """Settle one more accord by its own acts, by the clock on the wall."""
    from django.utils import timezone  # noqa: PLC0415

    from compat.accord.models import Accord  # noqa: PLC0415
    from compat.demo import accords  # noqa: PLC0415
    from compat.demo.clock import Clock  # noqa: PLC0415

    class Wall(Clock):
        def tick(self, *, seconds: float = 0) -> Any:
            return timezone.now()

    accords.settled(accords.Table(cast.ship, cast.terminal, Wall(timezone.now())), cast.assessment)
    return Accord.objects.latest("pk")


def _signature(person: Any, accord: Any) -> list[tuple[str, str]]:
    from compat import demo  # noqa: PLC0415

    sent = {"title": person.title, "secret": demo.SECRET, "consents": "on", "seen_sha256": accord.payload_sha256}
    return list(sent.items())


def _file_shown(person: Any, number: int) -> list[tuple[str, str]]:
    """Send a questionnaire of ships and return what its preview asks to confirm."""
    from django.core.files.uploadedfile import SimpleUploadedFile  # noqa: PLC0415

    from shared.sheet_files import xlsx_bytes  # noqa: PLC0415
    from shared.sheets.writing import tables_of  # noqa: PLC0415
    from tests.builders import ship_facts  # noqa: PLC0415
    from vessels.facts import ShipFacts  # noqa: PLC0415
    from vessels.sheet_views import ship_layout  # noqa: PLC0415

    ships = [ship_facts(name=f"Faulty {number} {place}", imo_number=None) for place in range(SHIPS_IN_A_FILE)]
    data = xlsx_bytes(tables_of(ship_layout(), [ShipFacts.model_validate(one) for one in ships]))
    preview = _client(person).post("/ships/questionnaire/", {"file": SimpleUploadedFile("ships.xlsx", data)})
    return [(name, str(value)) for name, value in preview.context["form"].initial.items()]


def _client(person: Any) -> Any:
    from django.test import Client  # noqa: PLC0415
    from django.test.utils import setup_test_environment  # noqa: PLC0415

    if not hasattr(django.test.utils._TestState, "saved_data"):  # pages tell their context only in test surroundings
        setup_test_environment()
    client = Client(headers={"host": "localhost"})
    client.force_login(person)
    return client


_sessions: dict[int, str] = {}


def _send(person: Any, address: str, form: list[tuple[str, str]]) -> int:
    """Post a form as a browser does; return the status, 0 where no answer came."""
    if person.pk not in _sessions:
        _sessions[person.pk] = _client(person).cookies["sessionid"].value
    token = secrets.token_hex(16)
    headers = {
        "Cookie": f"sessionid={_sessions[person.pk]}; csrftoken={token}",
        "X-CSRFToken": token,
        "Content-Type": "application/x-www-form-urlencoded",
    }
    connection = HTTPConnection("127.0.0.1", PORT, timeout=GIVES_UP_S)
    try:
        connection.request("POST", address, urlencode(form), headers)
        return connection.getresponse().status
    except (OSError, HTTPException):
        return 0
    finally:
        connection.close()


def _wait_until_ready() -> None:
    until = time.monotonic() + GIVES_UP_S
    while time.monotonic() < until:
        connection = HTTPConnection("127.0.0.1", PORT, timeout=5)
        try:
            connection.request("GET", "/health/ready/")
            if connection.getresponse().status == 200:
                return
        except (OSError, HTTPException):
            time.sleep(0.05)
        finally:
            connection.close()
    raise SystemExit("The site did not come up.")


def _worker(key: int) -> subprocess.Popen[bytes]:
    return subprocess.Popen([sys.executable, "-m", "tests.benchmarks.faults", "--worker", str(key)])


def _be_a_worker(key: int) -> None:
    """Work a screening out in many small pieces, so that a kill falls between and into them."""
    os.environ["DJANGO_SETTINGS_MODULE"] = "compat.settings"
    django.setup()
    from compat.screening import pieces  # noqa: PLC0415
    from compat.screening.background import work  # noqa: PLC0415

    pieces._FIRST = pieces._MOST = PAIRS_IN_A_PIECE  # type: ignore[attr-defined]
    work(key)


if __name__ == "__main__":
    main()
