"""Acts on terminals and berths: who may, what is written, what is refused."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

import pytest

from shared.calc.errors import InputError
from shared.models import Person, TrailRow
from shared.permissions import NotAllowedError
from shared.revisions import ChangedMeanwhileError, NothingChangedError
from shared.trail import facts_of, verify_trail
from terminals import actions
from terminals.facts import BerthFacts
from terminals.models import Berth, Terminal
from tests.builders import berth_facts, make_berth

FACTS = BerthFacts.model_validate(berth_facts())
OTHER_FACTS = BerthFacts.model_validate(berth_facts(name="West berth"))
OUTSIDERS = ["terminal_reader", "other_terminal_officer", "ship_officer", "ship_admin", "auditor", "installation_admin"]
PLACE = {"name": "Sandvik North", "port": "Port Merrow", "address": "2 Jetty Road, Port Merrow"}


@pytest.fixture
def berth(terminal_officer: Person) -> Berth:
    assert terminal_officer.organisation is not None
    return make_berth(terminal_officer.organisation, terminal_officer)


def _acts(berth: Berth, by: Person, now: datetime) -> dict[str, Callable[[], object]]:
    terminal = berth.terminal
    return {
        "change terminal": lambda: actions.change_terminal(by=by, now=now, terminal=terminal, **PLACE),
        "add": lambda: actions.add_berth(by=by, now=now, terminal=terminal, facts=OTHER_FACTS, line_data_shared=False),
        "revise": lambda: actions.revise_berth(by=by, now=now, berth=berth, started_from=1, facts=OTHER_FACTS),
        "share": lambda: actions.share_line_data(by=by, now=now, berth=berth, shared=False),
        "archive": lambda: actions.archive_berth(by=by, now=now, berth=berth),
        "restore": lambda: actions.restore_berth(by=by, now=now, berth=berth),
    }


@pytest.mark.parametrize("act", ["change terminal", "add", "revise", "share", "archive", "restore"])
@pytest.mark.parametrize("who", OUTSIDERS)
def test_nobody_else_acts_on_a_berth(
    act: str, who: str, berth: Berth, now: datetime, request: pytest.FixtureRequest
) -> None:
    Berth.objects.filter(pk=berth.pk).update(archived=act == "restore")
    with pytest.raises(NotAllowedError):
        _acts(berth, request.getfixturevalue(who), now)[act]()
    berth.refresh_from_db()
    assert (berth.archived, berth.line_data_shared, berth.name) == (act == "restore", True, "Outer berth")
    assert (Berth.objects.count(), berth.revisions.count()) == (1, 1)
    assert Terminal.objects.get().name == "Sandvik Oil Terminal"
    assert not TrailRow.objects.exists()


@pytest.mark.parametrize("who", ["terminal_reader", "ship_officer", "ship_admin", "auditor", "installation_admin"])
def test_only_a_terminal_operators_officers_add_terminals(
    who: str, now: datetime, request: pytest.FixtureRequest
) -> None:
    with pytest.raises(NotAllowedError):
        actions.add_terminal(by=request.getfixturevalue(who), now=now, **PLACE)
    assert not Terminal.objects.exists()


@pytest.mark.parametrize("who", ["terminal_officer", "terminal_admin"])
def test_terminal_and_berth_are_added_with_their_trail_rows(
    who: str, now: datetime, request: pytest.FixtureRequest
) -> None:
    by = request.getfixturevalue(who)
    terminal = actions.add_terminal(by=by, now=now, **PLACE)
    berth = actions.add_berth(by=by, now=now, terminal=terminal, facts=FACTS, line_data_shared=False, note="survey")
    stated = berth.revisions.get().berth_facts()
    assert (stated.terminal, stated.port) == ("Sandvik North", "Port Merrow")  # as the terminal has them
    assert stated.shore_line == FACTS.shore_line
    assert not berth.line_data_shared
    rows = list(TrailRow.objects.order_by("position"))
    assert [(row.act, row.subject) for row in rows] == [
        ("terminal added", f"terminal:{terminal.public_id}"),
        ("berth added", f"berth:{berth.public_id}"),
    ]
    assert facts_of(rows[1])["note"] == "survey"
    assert verify_trail() is None


def test_a_renamed_terminal_is_stated_in_its_berths(berth: Berth, terminal_officer: Person, now: datetime) -> None:
    actions.change_terminal(by=terminal_officer, now=now, terminal=berth.terminal, **PLACE)
    revision = berth.revisions.latest("number")
    assert (revision.number, revision.berth_facts().terminal) == (2, "Sandvik North")
    assert berth.revisions.get(number=1).berth_facts().terminal == "Sandvik Oil Terminal"


def test_another_address_makes_no_revision(berth: Berth, terminal_officer: Person, now: datetime) -> None:
    place = {"name": berth.terminal.name, "port": berth.terminal.port, "address": "9 New Road"}
    actions.change_terminal(by=terminal_officer, now=now, terminal=berth.terminal, **place)
    assert berth.revisions.count() == 1
    with pytest.raises(InputError, match="Nothing differs"):
        actions.change_terminal(by=terminal_officer, now=now, terminal=berth.terminal, **place)


def test_two_terminals_of_one_operator_have_two_names(berth: Berth, terminal_officer: Person, now: datetime) -> None:
    place = {**PLACE, "name": "sandvik OIL terminal"}
    with pytest.raises(actions.NameTakenError, match="belongs to another terminal of yours"):
        actions.add_terminal(by=terminal_officer, now=now, **place)


def test_two_berths_of_one_terminal_have_two_names(berth: Berth, terminal_officer: Person, now: datetime) -> None:
    with pytest.raises(actions.NameTakenError, match="Name Outer berth belongs to another berth of Sandvik"):
        actions.add_berth(by=terminal_officer, now=now, terminal=berth.terminal, facts=FACTS, line_data_shared=False)
    assert Berth.objects.count() == 1


def test_a_revision_is_a_new_row_and_the_old_one_stays(berth: Berth, terminal_officer: Person, now: datetime) -> None:
    before = berth.revisions.get().facts
    actions.revise_berth(by=terminal_officer, now=now, berth=berth, started_from=1, facts=OTHER_FACTS)
    berth.refresh_from_db()
    assert berth.name == "West berth"
    assert berth.revisions.get(number=1).facts == before
    with pytest.raises(ChangedMeanwhileError):
        actions.revise_berth(by=terminal_officer, now=now, berth=berth, started_from=1, facts=FACTS)
    with pytest.raises(NothingChangedError):
        actions.revise_berth(by=terminal_officer, now=now, berth=berth, started_from=2, facts=OTHER_FACTS)
    assert berth.revisions.count() == 2
    assert TrailRow.objects.count() == 1


def test_sharing_is_switched_and_not_done_twice(berth: Berth, terminal_officer: Person, now: datetime) -> None:
    actions.share_line_data(by=terminal_officer, now=now, berth=berth, shared=False)
    with pytest.raises(InputError, match="are kept already"):
        actions.share_line_data(by=terminal_officer, now=now, berth=berth, shared=False)
    actions.share_line_data(by=terminal_officer, now=now, berth=berth, shared=True)
    assert [row.act for row in TrailRow.objects.order_by("position")] == ["line data kept", "line data shared"]


def test_an_archived_berth_is_not_changed_until_it_is_restored(
    berth: Berth, terminal_officer: Person, now: datetime
) -> None:
    actions.archive_berth(by=terminal_officer, now=now, berth=berth)
    with pytest.raises(InputError, match="is archived already"):
        actions.archive_berth(by=terminal_officer, now=now, berth=berth)
    with pytest.raises(InputError, match="restore it before changing"):
        actions.revise_berth(by=terminal_officer, now=now, berth=berth, started_from=1, facts=OTHER_FACTS)
    actions.restore_berth(by=terminal_officer, now=now, berth=berth)
    with pytest.raises(InputError, match="is on the list already"):
        actions.restore_berth(by=terminal_officer, now=now, berth=berth)
