"""Acts on ships: who may, what is written, what is refused."""

from __future__ import annotations

from datetime import datetime

import pytest

from shared.calc.errors import InputError
from shared.models import Person, TrailRow
from shared.permissions import NotAllowedError
from shared.revisions import ChangedMeanwhileError, NothingChangedError, facts_document
from shared.trail import facts_of, verify_trail
from tests.builders import make_vessel, pump_facts, ship_facts
from vessels import actions
from vessels.facts import ShipFacts
from vessels.models import Vessel

FACTS = ShipFacts.model_validate(ship_facts())
OTHER_FACTS = ShipFacts.model_validate(ship_facts(name="Astrid Halvard II", common_line=[]))
OUTSIDERS = ["ship_reader", "stranger", "terminal_officer", "auditor", "installation_admin"]


@pytest.fixture
def vessel(ship_officer: Person) -> Vessel:
    assert ship_officer.organisation is not None
    return make_vessel(ship_officer.organisation, ship_officer)


def _acts(vessel: Vessel, by: Person, now: datetime) -> dict[str, object]:
    return {
        "revise": lambda: actions.revise_vessel(by=by, now=now, vessel=vessel, started_from=1, facts=OTHER_FACTS),
        "take pump off": lambda: actions.take_pump_off(by=by, now=now, vessel=vessel, started_from=1, key="P1"),
        "archive": lambda: actions.archive_vessel(by=by, now=now, vessel=vessel),
        "restore": lambda: actions.restore_vessel(by=by, now=now, vessel=vessel),
    }


@pytest.mark.parametrize("act", ["revise", "take pump off", "archive", "restore"])
@pytest.mark.parametrize("who", OUTSIDERS)
def test_nobody_else_acts_on_a_ship(
    act: str, who: str, vessel: Vessel, now: datetime, request: pytest.FixtureRequest
) -> None:
    Vessel.objects.filter(pk=vessel.pk).update(archived=act == "restore")
    with pytest.raises(NotAllowedError):
        _acts(vessel, request.getfixturevalue(who), now)[act]()  # type: ignore[operator]
    vessel.refresh_from_db()
    assert vessel.archived is (act == "restore")
    assert vessel.revisions.count() == 1
    assert not TrailRow.objects.exists()


@pytest.mark.parametrize("who", ["ship_reader", "terminal_officer", "terminal_admin", "auditor", "installation_admin"])
def test_only_a_ship_operators_officers_add_ships(who: str, now: datetime, request: pytest.FixtureRequest) -> None:
    with pytest.raises(NotAllowedError):
        actions.add_vessel(by=request.getfixturevalue(who), now=now, facts=FACTS)
    assert not Vessel.objects.exists()
    assert not TrailRow.objects.exists()


@pytest.mark.parametrize("who", ["ship_officer", "ship_admin"])
def test_a_ship_is_added_with_her_first_revision_and_a_trail_row(
    who: str, now: datetime, request: pytest.FixtureRequest
) -> None:
    by = request.getfixturevalue(who)
    vessel = actions.add_vessel(by=by, now=now, facts=FACTS, note=" from the yard ")
    revision = vessel.revisions.get()
    assert (revision.number, revision.note, revision.made_by, revision.made_at) == (1, "from the yard", by, now)
    assert revision.ship_facts() == FACTS
    assert (vessel.name, vessel.imo_number) == ("Astrid Halvard", "9074729")
    row = TrailRow.objects.get()
    assert (row.act, row.subject) == ("ship added", f"vessel:{vessel.public_id}")
    assert facts_of(row)["revision"] == 1
    assert verify_trail() is None


def test_a_revision_is_a_new_row_and_the_old_one_stays(vessel: Vessel, ship_officer: Person, now: datetime) -> None:
    before = vessel.revisions.get().facts
    actions.revise_vessel(by=ship_officer, now=now, vessel=vessel, started_from=1, facts=OTHER_FACTS, note="renamed")
    vessel.refresh_from_db()
    assert vessel.name == "Astrid Halvard II"
    assert [revision.number for revision in vessel.revisions.all()] == [2, 1]
    assert vessel.revisions.get(number=1).facts == before
    assert TrailRow.objects.get().act == "ship revised"


def test_a_revision_from_an_outdated_start_is_told_and_nothing_is_written(
    vessel: Vessel, ship_officer: Person, ship_admin: Person, now: datetime
) -> None:
    actions.revise_vessel(by=ship_admin, now=now, vessel=vessel, started_from=1, facts=OTHER_FACTS, note="new line")
    with pytest.raises(ChangedMeanwhileError, match=r"Maud Okafor saved revision 2 \(“new line”\) on 14 April 2031"):
        actions.revise_vessel(by=ship_officer, now=now, vessel=vessel, started_from=1, facts=FACTS)
    assert vessel.revisions.count() == 2
    assert TrailRow.objects.count() == 1


def test_equal_facts_make_no_revision(vessel: Vessel, ship_officer: Person, now: datetime) -> None:
    with pytest.raises(NothingChangedError, match="Nothing differs from revision 1"):
        actions.revise_vessel(by=ship_officer, now=now, vessel=vessel, started_from=1, facts=FACTS)
    assert vessel.revisions.count() == 1
    assert not TrailRow.objects.exists()


def test_one_operator_has_an_imo_number_once(vessel: Vessel, ship_officer: Person, now: datetime) -> None:
    with pytest.raises(actions.ImoNumberTakenError, match="IMO number 9074729 belongs to Astrid Halvard, which"):
        actions.add_vessel(by=ship_officer, now=now, facts=OTHER_FACTS)
    assert Vessel.objects.count() == 1


def test_a_revision_may_not_take_another_ships_imo_number(vessel: Vessel, ship_officer: Person, now: datetime) -> None:
    sister = actions.add_vessel(
        by=ship_officer, now=now, facts=ShipFacts.model_validate(ship_facts(name="Sister", imo_number=None))
    )
    with pytest.raises(actions.ImoNumberTakenError):
        actions.revise_vessel(by=ship_officer, now=now, vessel=sister, started_from=1, facts=OTHER_FACTS)
    sister.refresh_from_db()
    assert (sister.name, sister.imo_number, sister.revisions.count()) == ("Sister", "", 1)


def test_two_operators_may_both_know_a_ship(vessel: Vessel, stranger: Person, now: datetime) -> None:
    assert actions.add_vessel(by=stranger, now=now, facts=FACTS).organisation == stranger.organisation


def test_ships_without_an_imo_number_do_not_collide(ship_officer: Person, now: datetime) -> None:
    for name in ("Barge One", "Barge Two"):
        facts = ShipFacts.model_validate(ship_facts(name=name, imo_number=None))
        actions.add_vessel(by=ship_officer, now=now, facts=facts)
    assert Vessel.objects.filter(imo_number="").count() == 2


def test_archiving_and_restoring_are_told_apart_and_not_done_twice(
    vessel: Vessel, ship_officer: Person, now: datetime
) -> None:
    actions.archive_vessel(by=ship_officer, now=now, vessel=vessel)
    with pytest.raises(InputError, match="is archived already"):
        actions.archive_vessel(by=ship_officer, now=now, vessel=vessel)
    with pytest.raises(InputError, match="restore her before changing"):
        actions.revise_vessel(by=ship_officer, now=now, vessel=vessel, started_from=1, facts=OTHER_FACTS)
    actions.restore_vessel(by=ship_officer, now=now, vessel=vessel)
    with pytest.raises(InputError, match="is on the list already"):
        actions.restore_vessel(by=ship_officer, now=now, vessel=vessel)
    assert [row.act for row in TrailRow.objects.all()] == ["ship archived", "ship restored"]


def test_a_pump_is_taken_off_but_never_the_last_one(vessel: Vessel, ship_officer: Person, now: datetime) -> None:
    actions.take_pump_off(by=ship_officer, now=now, vessel=vessel, started_from=1, key="P1")
    left = vessel.revisions.latest("number")
    assert [pump.key for pump in left.ship_facts().pumps] == ["P2"]
    assert left.note == "Pump P1 taken off"
    with pytest.raises(InputError, match="P2 is the only pump"):
        actions.take_pump_off(by=ship_officer, now=now, vessel=vessel, started_from=2, key="P2")
    assert vessel.revisions.count() == 2


def test_a_note_that_is_too_long_is_refused(vessel: Vessel, ship_officer: Person, now: datetime) -> None:
    with pytest.raises(InputError, match="The note has 201 characters; allowed: up to 200"):
        actions.revise_vessel(
            by=ship_officer, now=now, vessel=vessel, started_from=1, facts=OTHER_FACTS, note="x" * 201
        )


def test_what_is_not_known_is_not_stored() -> None:
    facts = ShipFacts.model_validate({"name": "Bare", "pumps": [pump_facts()], "manifold": {"elevation_m": 12.0}})
    assert "cargo_tanks" not in facts_document(facts)
    assert facts_document(facts)["manifold"] == {"elevation_m": 12.0}
