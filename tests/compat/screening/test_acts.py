"""Acts on screenings: who may, what they leave behind, and that a piece is never counted twice."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from compat.screening import actions, background
from compat.screening.models import Screening, ScreeningPiece
from compat.screening.moving import move
from compat.screening.pieces import pieces
from compat.screening.queries import results_of, screenings_seen_by, subjects_of
from compat.screening.showing import progress_of
from compat.screening.states import RULES, Move, MoveError, State, target_of
from shared.calc.errors import InputError
from shared.models import Person, TrailRow
from shared.permissions import NotAllowedError
from terminals.models import Berth, BerthRevision
from tests.compat.fit.building import berth_document
from vessels.actions import archive_vessel
from vessels.models import Vessel, VesselRevision

pytestmark = pytest.mark.django_db
Start = Callable[..., Screening]


@pytest.fixture
def run(start: Start, django_capture_on_commit_callbacks: Any) -> Start:
    def started(**changes: Any) -> Screening:
        with django_capture_on_commit_callbacks(execute=True):
            made = start(**changes)
        made.refresh_from_db()
        return made

    return started


def test_a_screening_is_worked_out_and_leaves_a_row_in_the_trail(run: Start) -> None:
    made = run()
    assert (made.state, made.done, made.total) == ("done", 4, 4)
    assert len(results_of(made)) == 4
    row = TrailRow.objects.get(subject=made.subject)
    assert row.act == "screening started"


@pytest.mark.parametrize("who", ["ship_reader", "terminal_officer", "auditor", "stranger"])
def test_others_start_none(who: str, start: Start, request: pytest.FixtureRequest) -> None:
    with pytest.raises(NotAllowedError):
        start(by=request.getfixturevalue(who))
    assert not Screening.objects.exists()


def test_nothing_chosen_archived_ships_and_too_many_pairs_are_refused(
    start: Start, ship_officer: Person, vessels: list[Vessel], now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(InputError, match="Choose at least one ship"):
        start(vessels=[])
    monkeypatch.setattr(actions, "MOST_PAIRS", 3)
    with pytest.raises(InputError, match="4 pairs are chosen; allowed: up to 3"):
        start()
    archive_vessel(by=ship_officer, now=now, vessel=vessels[0])
    with pytest.raises(InputError, match="is archived"):
        start()
    assert not Screening.objects.exists()


@pytest.mark.parametrize("what", ["cancel", "go on", "again", "share", "keep"])
@pytest.mark.parametrize("who", ["stranger", "terminal_officer", "ship_admin"])
def test_those_who_do_not_see_a_screening_can_do_nothing_with_it(
    what: str, who: str, run: Start, now: datetime, request: pytest.FixtureRequest, ship_reader: Person
) -> None:
    made, person = run(), request.getfixturevalue(who)
    acts: dict[str, Callable[[], Any]] = {
        "cancel": lambda: actions.cancel_screening(by=person, now=now, screening=made),
        "go on": lambda: actions.go_on(by=person, now=now, screening=made),
        "again": lambda: actions.run_again(by=person, now=now, screening=made),
        "share": lambda: actions.share_screening(by=person, now=now, screening=made, person=ship_reader),
        "keep": lambda: actions.keep_pair(
            by=person, now=now, screening=made, cargo=0, ship=0, berth=0, subjects=subjects_of(made)
        ),
    }
    with pytest.raises(NotAllowedError):
        acts[what]()


def test_a_reader_to_whom_it_is_given_looks_and_does_not_act(
    run: Start, now: datetime, ship_officer: Person, ship_reader: Person
) -> None:
    made = run()
    assert made not in screenings_seen_by(ship_reader)
    actions.share_screening(by=ship_officer, now=now, screening=made, person=ship_reader)
    assert made in screenings_seen_by(ship_reader)
    with pytest.raises(NotAllowedError):
        actions.run_again(by=ship_reader, now=now, screening=made)
    with pytest.raises(InputError, match="sees this screening already"):
        actions.share_screening(by=ship_officer, now=now, screening=made, person=ship_reader)
    actions.unshare_screening(by=ship_officer, now=now, screening=made, person=ship_reader)
    assert made not in screenings_seen_by(ship_reader)


def test_it_is_shared_within_the_organisation_only(
    run: Start, now: datetime, ship_officer: Person, stranger: Person
) -> None:
    with pytest.raises(NotAllowedError, match="Only people of"):
        actions.share_screening(by=ship_officer, now=now, screening=run(), person=stranger)


def test_sharing_is_ended_by_its_maker_or_whom_it_was_given_to(
    run: Start, now: datetime, ship_officer: Person, ship_reader: Person, ship_admin: Person
) -> None:
    made = run()
    actions.share_screening(by=ship_officer, now=now, screening=made, person=ship_reader)
    with pytest.raises(NotAllowedError):
        actions.unshare_screening(by=ship_admin, now=now, screening=made, person=ship_reader)
    actions.unshare_screening(by=ship_reader, now=now, screening=made, person=ship_reader)


# States


@pytest.mark.parametrize("state", list(State))
@pytest.mark.parametrize("what", list(Move))
def test_only_the_table_moves_a_screening(start: Start, state: State, what: Move, now: datetime) -> None:
    made = start()
    Screening.objects.filter(pk=made.pk).update(state=str(state))
    made.state = str(state)
    if state in RULES[what][0]:
        move(made, what, now=now)
        made.refresh_from_db()
        assert made.state == target_of(what, state)
    else:
        with pytest.raises(MoveError):
            move(made, what, now=now)


def test_who_comes_second_moves_nothing(start: Start, now: datetime) -> None:
    made = start()
    other = Screening.objects.get(pk=made.pk)
    move(other, Move.CANCEL, now=now)
    with pytest.raises(MoveError, match="is cancelled by now"):
        move(made, Move.START, now=now)


def test_the_database_holds_its_rules(start: Start) -> None:
    made = start()
    for wrong in ({"state": "elsewhere"}, {"done": 99}):
        with pytest.raises(IntegrityError), transaction.atomic():
            Screening.objects.filter(pk=made.pk).update(**wrong)
    with pytest.raises(IntegrityError), transaction.atomic():
        ScreeningPiece.objects.create(screening=made, start=3, stop=3, columns=b"")


# Workers


def test_pieces_cover_every_pair_once_and_the_first_is_small() -> None:
    for total, berths in ((1, 1), (399, 7), (5000, 200), (200_000, 200), (123_456, 321)):
        found = list(pieces(total, berths))
        assert found[0][0] == 0
        assert found[-1][1] == total
        assert all(one[1] == other[0] for one, other in pairwise(found))
        assert found[0][1] <= 400


def test_two_workers_on_one_screening_lose_nothing_and_count_nothing_twice(start: Start) -> None:
    made = start()
    screen = background.screen_of(made)
    assert background.work_piece(made, screen, 0, 2, timezone.now())
    assert not background.work_piece(made, screen, 0, 2, timezone.now())
    assert made.pieces.count() == 1
    made.refresh_from_db()
    assert made.done == 2


def test_a_worker_that_was_lost_is_taken_over_where_it_stopped(
    start: Start,
    now: datetime,
    ship_officer: Person,
    monkeypatch: pytest.MonkeyPatch,
    django_capture_on_commit_callbacks: Any,
) -> None:
    monkeypatch.setattr(background, "pieces", lambda total, berths: iter([(0, 1), (1, 3), (3, 4)]))
    made = start()
    background.work(made.pk, most_pieces=1)
    made.refresh_from_db()
    assert (made.state, made.done) == ("running", 1)
    assert not progress_of(made, made.beat_at)["lost"]
    assert progress_of(made, made.beat_at + timedelta(minutes=5))["lost"]
    first = made.pieces.get()
    with django_capture_on_commit_callbacks(execute=True):
        actions.go_on(by=ship_officer, now=now, screening=made)
    made.refresh_from_db()
    assert (made.state, made.done) == ("done", 4)
    assert made.pieces.first() == first


def test_a_cancelled_screening_is_not_worked_on(
    start: Start, now: datetime, ship_officer: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(background, "pieces", lambda total, berths: iter([(0, 1), (1, 4)]))
    made = start()
    background.work(made.pk, most_pieces=1)
    made.refresh_from_db()
    actions.cancel_screening(by=ship_officer, now=now, screening=made)
    background.work(made.pk)
    made.refresh_from_db()
    assert (made.state, made.done) == ("cancelled", 1)


def test_a_failure_is_told(start: Start, monkeypatch: pytest.MonkeyPatch) -> None:
    made = start()

    def fails(*given: Any) -> None:
        raise InputError("The reason.")

    monkeypatch.setattr(background, "work_piece", fails)
    background.work(made.pk)
    made.refresh_from_db()
    assert (made.state, made.trouble) == ("failed", "The reason.")


# Again


def test_a_rerun_takes_the_newest_data_and_knows_the_run_before(
    run: Start, now: datetime, ship_officer: Person, berths: list[Berth], django_capture_on_commit_callbacks: Any
) -> None:
    made = run()
    changed = berth_document()
    changed["size"]["greatest_length_overall_m"] = 150.0
    revision = BerthRevision.objects.get(berth=berths[0])
    BerthRevision.objects.create(
        berth=berths[0], number=2, facts=changed, made_by=revision.made_by, made_at=revision.made_at
    )
    with django_capture_on_commit_callbacks(execute=True):
        later = actions.run_again(by=ship_officer, now=now, screening=made)
    later.refresh_from_db()
    assert later.earlier == made
    assert later.berths != made.berths
    assert results_of(made).verdict.tolist() != results_of(later).verdict.tolist()


def test_a_pair_is_kept_as_an_assessment_on_the_revisions_that_were_screened(
    run: Start, now: datetime, ship_officer: Person, vessels: list[Vessel]
) -> None:
    made = run()
    VesselRevision.objects.create(
        vessel=vessels[0],
        number=2,
        facts=VesselRevision.objects.get(vessel=vessels[0]).facts,
        made_by=ship_officer,
        made_at=now,
    )
    subjects = subjects_of(made)
    kept = actions.keep_pair(by=ship_officer, now=now, screening=made, cargo=0, ship=0, berth=0, subjects=subjects)
    assert kept.vessel_revision.number == 1
    assert kept.answer["total_flow_m3_per_h"] == results_of(made).rate_m3_per_h[0]


def test_pieces_of_a_restored_database_are_not_taken_for_those_of_another_screening(
    run: Start, vessels: list[Vessel]
) -> None:
    first = run()
    assert len(results_of(first)) == 4
    keys = list(first.pieces.values_list("pk", flat=True))
    second = run(vessels=vessels[:1])
    (piece,) = second.pieces.all()
    Screening.objects.filter(pk=first.pk).delete()
    ScreeningPiece.objects.filter(pk=piece.pk).update(id=keys[0])  # the row that the first one had
    assert len(results_of(second)) == 2
