"""Several people act on one accord in the same moment: one wins, the others are told, nothing is half done."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import pytest
from django.db import connection

from compat.accord import actions
from compat.accord.models import Accord, ProposalStatus, ValueProposal
from compat.accord.moving import MeanwhileError
from compat.accord.states import State
from shared.calc.errors import AccordError
from shared.models import Person, TrailRow
from shared.trail import verify_trail
from tests.builders import NOW
from tests.compat.accord.building import PRESSURE, bring_to, open_accord

PROJECT = Path(__file__).resolve().parents[3]
AT_ONCE = 50
PROCESSES = 2
"""As many as share the accepts in one SQLite file; each has threads with connections of their own."""
START = """
import django
django.setup()
from decimal import Decimal
from django.contrib.auth import get_user_model
from compat.accord import actions
from compat.accord.models import Accord, ValueProposal
from shared.calc.errors import AccordError
from shared.models import TrailRow
from shared.roles import Kind
from shared.trail import verify_trail
from tests.builders import NOW, make_organisation, make_person
from tests.compat.accord.building import PRESSURE, open_accord
"""
SCENE = f"""{START}
ship = make_person(make_organisation(Kind.SHIP, "Halvard Tankers"), username="ship")
terminal = make_person(make_organisation(Kind.TERMINAL, "Sandvik Terminals"), username="terminal")
accord = open_accord(ship, terminal)
actions.propose_value(by=ship, now=NOW, accord=accord, key=PRESSURE, value=Decimal(8), seen=None)
"""
ACCEPT = f"""{START}
import sys
from django.db import connection
from tests.compat.accord.test_acts_at_once import at_once
terminal = get_user_model().objects.get(username="terminal")
proposals = [ValueProposal.objects.select_related("accord").get() for _ in range({AT_ONCE // PROCESSES})]
connection.close()
def accept(proposal):
    return lambda: actions.accept_value(by=terminal, now=NOW, proposal=proposal)
print("ready", flush=True)
sys.stdin.readline()
for error in at_once(*map(accept, proposals)):
    print("accepted" if error is None else error)
"""
COUNT = f"""{START}
print(ValueProposal.objects.get().status, TrailRow.objects.filter(act="value accepted").count(), verify_trail())
"""


@pytest.mark.slow
def test_one_of_many_accepts_wins_in_one_sqlite_file(tmp_path: Path) -> None:
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "compat.settings",
        "BERTH_ACCORD_SECRET_KEY": "for-this-test-only",
        "BERTH_ACCORD_DATA": str(tmp_path),
        "BERTH_ACCORD_DATABASE": f"sqlite:///{tmp_path / 'accord.sqlite3'}",
    }

    def start(*arguments: str) -> subprocess.Popen[str]:
        return subprocess.Popen(
            [sys.executable, *arguments],
            cwd=PROJECT,
            env=environment,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )

    def end(process: subprocess.Popen[str], said: str = "") -> str:
        output, _ = process.communicate(said, timeout=120)
        assert process.returncode == 0, output
        return output.strip()

    end(start("manage.py", "migrate", "--verbosity", "0"))
    end(start("-c", SCENE))
    people = [start("-c", ACCEPT) for _ in range(PROCESSES)]
    for person in people:
        assert person.stdout is not None
        assert person.stdout.readline() == "ready\n"
    for person in people:
        assert person.stdin is not None
        person.stdin.write("now\n")
        person.stdin.flush()
    said = [sentence for person in people for sentence in end(person).splitlines()]
    assert len(said) == AT_ONCE
    assert said.count("accepted") == 1, said
    others = [sentence for sentence in said if sentence != "accepted"]
    assert all("Someone else acted first: 8 bar gauge was accepted" in sentence for sentence in others), said
    assert end(start("-c", COUNT)) == "accepted 1 None"


@pytest.mark.django_db
def test_what_accepting_means_is_worked_out_before_anything_is_locked(
    ship_officer: Person, terminal_officer: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    accord = open_accord(ship_officer, terminal_officer)
    proposal = actions.propose_value(by=ship_officer, now=NOW, accord=accord, key=PRESSURE, value=Decimal(8), seen=None)
    asked: list[str] = []
    monkeypatch.setattr("compat.accord.bargaining.refusals", lambda *_: asked.append("worked out") or [])
    monkeypatch.setattr("compat.accord.bargaining.locked", lambda one: asked.append("locked") or one)
    actions.accept_value(by=terminal_officer, now=NOW, proposal=proposal)
    assert asked == ["worked out", "locked", "worked out"]
    del asked[:]
    with pytest.raises(MeanwhileError, match="Someone else acted first"):
        actions.accept_value(by=terminal_officer, now=NOW, proposal=proposal)
    assert asked == ["locked"]


def at_once(*acts: Callable[[], object]) -> list[AccordError | None]:
    """Run acts in threads of their own, each with a connection of its own, and return how each ended."""
    ended: list[AccordError | None] = [None] * len(acts)
    barrier = threading.Barrier(len(acts))

    def run(number: int) -> None:
        barrier.wait()
        try:
            acts[number]()
        except AccordError as error:
            ended[number] = error
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=[number]) for number in range(len(acts))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return ended


needs_rows_locked = pytest.mark.skipif(
    connection.vendor == "sqlite", reason="SQLite's writers take turns; the test above holds them against one file"
)


@needs_rows_locked
@pytest.mark.django_db(transaction=True)
def test_one_of_many_accepts_wins(ship_officer: Person, terminal_officer: Person) -> None:
    accord = open_accord(ship_officer, terminal_officer)
    actions.propose_value(by=ship_officer, now=NOW, accord=accord, key=PRESSURE, value=Decimal(8), seen=None)

    def accept() -> None:
        actions.accept_value(by=terminal_officer, now=NOW, proposal=ValueProposal.objects.get())

    ended = at_once(*[accept] * AT_ONCE)
    assert ended.count(None) == 1
    told = [str(error) for error in ended if isinstance(error, MeanwhileError)]
    assert len(told) == AT_ONCE - 1
    assert all("Someone else acted first: 8 bar gauge was accepted" in sentence for sentence in told)
    assert ValueProposal.objects.get().status == ProposalStatus.ACCEPTED
    assert TrailRow.objects.filter(act="value accepted").count() == 1
    assert verify_trail() is None


@needs_rows_locked
@pytest.mark.django_db(transaction=True)
def test_both_sides_put_a_value_on_the_table_at_once(ship_officer: Person, terminal_officer: Person) -> None:
    accord = open_accord(ship_officer, terminal_officer)

    def propose(by: Person, value: int) -> Callable[[], object]:
        return lambda: actions.propose_value(
            by=by, now=NOW, accord=accord, key=PRESSURE, value=Decimal(value), seen=None
        )

    ended = at_once(propose(ship_officer, 8), propose(terminal_officer, 7))
    assert sorted(type(error).__name__ for error in ended) == ["MeanwhileError", "NoneType"]
    assert ValueProposal.objects.count() == 1


@needs_rows_locked
@pytest.mark.django_db(transaction=True)
def test_a_signature_and_a_taking_back_at_once(ship_officer: Person, terminal_officer: Person) -> None:
    accord = bring_to(State.SIGNED_BY_SHIP, ship_officer, terminal_officer)
    ended = at_once(
        lambda: actions.sign(
            by=terminal_officer,
            now=NOW,
            accord=Accord.objects.get(pk=accord.pk),
            secret="slack-water-at-dusk",
            title="Loading Master",
            seen_sha256=accord.payload_sha256,
        ),
        lambda: actions.take_back(by=ship_officer, now=NOW, accord=accord, reason="Less pressure."),
    )
    accord.refresh_from_db()
    assert ended.count(None) == 1
    in_force = ended[0] is None
    assert accord.state == (State.IN_FORCE if in_force else State.ON_TABLE)
    assert accord.signatures.filter(void_at=None).count() == (2 if in_force else 0)
