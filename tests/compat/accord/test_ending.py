"""After signing: a plan expires by itself, and one that holds no longer says so on every page and file."""

from __future__ import annotations

import io
from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any
from zipfile import ZipFile

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from compat.accord import actions, engine
from compat.accord.checklist import item_named
from compat.accord.ending import expire_due
from compat.accord.keys import authority
from compat.accord.models import Accord, AnswerChoice, Plan
from compat.accord.moving import MeanwhileError
from compat.accord.pdf_verifying import verify_pdf
from compat.accord.progress import what_keeps_from_settling
from compat.accord.settling import NotSettledError
from compat.accord.states import MoveError, State
from shared.calc.errors import InputError
from shared.models import Person, TrailRow
from shared.trail import facts_of, verify_trail
from tests.builders import NOW
from tests.compat.accord.asking import address
from tests.compat.accord.building import amend_to_force, answer_all, bring_to, open_accord, sign, write_answers

ClientOf = Callable[[Person | None], Client]
END = NOW + timedelta(hours=30)


@pytest.fixture
def accord(ship_officer: Person, terminal_officer: Person) -> Accord:
    return bring_to(State.IN_FORCE, ship_officer, terminal_officer, holds_until=END)


def test_a_plan_expires_at_its_stated_time_and_not_before(accord: Accord) -> None:
    assert expire_due(now=END - timedelta(seconds=1)) == []
    assert expire_due(now=END + timedelta(hours=2)) == [accord]
    assert expire_due(now=END + timedelta(hours=2)) == []
    accord.refresh_from_db()
    assert (accord.state, accord.state_changed_at) == (State.EXPIRED, END)
    row = TrailRow.objects.get(act="plan expired")
    assert (row.person, row.at) == ("Berth Accord", END + timedelta(hours=2))
    assert facts_of(row) == {"held_until": "2031-04-15T12:30:00+00:00", "plan_number": 1}
    assert verify_trail() is None


def test_without_a_stated_end_a_plan_does_not_expire(ship_officer: Person, terminal_officer: Person) -> None:
    bring_to(State.IN_FORCE, ship_officer, terminal_officer)
    assert expire_due(now=NOW + timedelta(days=10_000)) == []


@pytest.mark.parametrize("page", ["accord", "accord-list", "accord-plan-pdf", "accord-plan-data"])
def test_looking_at_it_lets_it_expire(
    page: str, accord: Accord, ship_reader: Person, client_of: ClientOf, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: END + timedelta(minutes=1))
    where = reverse(page) if page == "accord-list" else address(accord, page)
    answer = client_of(ship_reader).get(where)
    accord.refresh_from_db()
    assert (answer.status_code, accord.state) == (200, State.EXPIRED)
    if page == "accord":
        assert "Plan 1 held until" in answer.text
        assert "Amend the plan" not in answer.text


def test_an_expired_plan_is_neither_amended_nor_withdrawn(accord: Accord, ship_officer: Person) -> None:
    late = END + timedelta(minutes=1)
    with pytest.raises(MeanwhileError, match="only a plan in force is amended"):
        actions.open_amendment(
            by=ship_officer, now=late, accord=accord, reason="Late.", planned_start=late, newest_facts=False
        )
    with pytest.raises(MoveError):
        actions.withdraw(by=ship_officer, now=late, accord=accord, reason="Late.")


def test_what_would_have_expired_is_neither_settled_nor_signed(ship_officer: Person, terminal_officer: Person) -> None:
    accord = bring_to(State.SETTLED, ship_officer, terminal_officer, holds_until=END)
    with pytest.raises(InputError, match=r"would hold until 15 April 2031, 12:30 UTC, which is past"):
        sign(accord, ship_officer, now=END)
    actions.take_back(by=ship_officer, now=END, accord=accord, reason="Late.")
    with pytest.raises(InputError, match="which is past"):
        actions.settle(by=ship_officer, now=END, accord=accord)


def test_the_end_is_after_the_start_and_can_be_changed(ship_officer: Person, terminal_officer: Person) -> None:
    with pytest.raises(InputError, match="before its planned start"):
        open_accord(ship_officer, terminal_officer, ship_name="Other", berth_name="Other", holds_until=NOW)
    accord = open_accord(ship_officer, terminal_officer)
    kept: dict[str, Any] = {"place": accord.place, "planned_start": accord.planned_start}
    changed = actions.rearrange(
        by=terminal_officer,
        now=NOW,
        accord=accord,
        holds_until=END,
        conditions=accord.transfer_conditions(),
        **kept,
    )
    assert changed.holds_until == END
    assert facts_of(TrailRow.objects.get(act="accord rearranged"))["holds_until"] == END.isoformat()


@pytest.mark.parametrize("state", [State.SUPERSEDED, State.EXPIRED, State.WITHDRAWN])
def test_a_plan_that_holds_no_longer_is_marked_on_every_page_and_file(
    state: State, accord: Accord, ship_officer: Person, terminal_officer: Person, client_of: ClientOf
) -> None:
    cache.clear()
    if state is State.SUPERSEDED:
        amend_to_force(accord, ship_officer, terminal_officer)
    elif state is State.EXPIRED:
        expire_due(now=END)
    else:
        actions.withdraw(by=ship_officer, now=NOW, accord=accord, reason="Stopped by weather.")
    client = client_of(ship_officer)
    answer = client.get(address(accord, "accord-plan-pdf"))
    assert answer["Content-Disposition"].endswith(f'-plan-1-{state}.pdf"')
    copy = PdfReader(io.BytesIO(answer.content))
    assert all(page.extract_text().count(state.upper()) >= 2 for page in copy.pages)
    assert copy.attachments["signed-plan.pdf"][0] == bytes(Plan.objects.get(accord=accord).pdf or b"")
    package = ZipFile(io.BytesIO(client.get(address(accord, "accord-plan-data")).content))
    assert {name.split("/")[0] for name in package.namelist()} == {f"plan-1-{state.upper()}"}
    told = package.read(f"plan-1-{state.upper()}/state.txt").decode()
    assert "This plan holds no longer" in told
    assert "holds no longer" in client.get(address(accord)).text


def test_a_marked_copy_verifies_by_the_signed_plan_in_it(
    ship_officer: Person, terminal_officer: Person, client_of: ClientOf, whole_plans: None
) -> None:
    accord = bring_to(State.IN_FORCE, ship_officer, terminal_officer)
    actions.withdraw(by=ship_officer, now=NOW, accord=accord, reason="Stopped by weather.")
    copy = client_of(ship_officer).get(address(accord, "accord-plan-pdf")).content
    verdict = verify_pdf(copy, authority().certificate)
    assert verdict.holds, verdict.sentences()


# Amendments


def amendment_of(accord: Accord, by: Person) -> Accord:
    return actions.open_amendment(
        by=by,
        now=NOW,
        accord=accord,
        reason="Less pressure.",
        planned_start=accord.planned_start,
        holds_until=accord.holds_until,
        newest_facts=False,
    )


def test_answers_of_the_walk_round_are_given_again_and_others_carried_over(
    accord: Accord, ship_officer: Person, terminal_officer: Person, client_of: ClientOf
) -> None:
    amendment = amendment_of(accord, ship_officer)
    with pytest.raises(NotSettledError, match="required items left to answer"):
        actions.settle(by=ship_officer, now=NOW, accord=amendment)
    page = client_of(ship_officer).get(address(amendment, "accord-checklist")).text
    asked_again = page.count("answer again")
    assert asked_again > 0
    seals = amendment.answers.get(item_key="sea.valves-sealed", side="ship")
    assert item_named("sea.valves-sealed").again_when_amended
    assert not item_named("ship.faults-declared").again_when_amended
    actions.answer_item(
        by=ship_officer,
        now=NOW,
        accord=amendment,
        item_key="sea.valves-sealed",
        answer=AnswerChoice.YES,
        values=seals.values,
        seen=seals.pk,
    )
    assert client_of(ship_officer).get(address(amendment, "accord-checklist")).text.count("answer again") < asked_again
    answer_all(amendment, ship_officer, terminal_officer)
    assert what_keeps_from_settling(amendment) == []


def test_the_difference_to_the_earlier_plan_is_shown_before_and_after_settling(
    accord: Accord, ship_officer: Person, terminal_officer: Person, client_of: ClientOf
) -> None:
    amendment = amendment_of(accord, ship_officer)
    proposal = actions.propose_value(
        by=ship_officer, now=NOW, accord=amendment, key="start_rate_m3_per_h", value=Decimal(500), seen=None
    )
    actions.accept_value(by=terminal_officer, now=NOW, proposal=proposal)
    client = client_of(terminal_officer)
    before = client.get(address(amendment, "accord-changes")).text
    assert "As it stands on the table now." in before
    assert "600 m³/h" in before
    assert "500 m³/h" in before
    write_answers(amendment, ship_officer, terminal_officer, only_owed=True)
    actions.settle(by=ship_officer, now=NOW, accord=amendment)
    after = client.get(address(amendment, "accord-changes")).text
    assert "As settled" in after
    assert "500 m³/h" in after
    assert "An amendment:" in client.get(address(amendment, "accord-sign")).text
    assert client.get(address(accord, "accord-changes")).status_code == 404


def test_after_settling_the_page_shows_the_plans_own_answer(
    accord: Accord, ship_officer: Person, client_of: ClientOf, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object, **__: object) -> object:
        raise AssertionError("The engine was asked for a plan that is frozen.")

    for kept in (engine._within, engine._answered, engine._times):
        kept.cache_clear()
    for place in ("compat.accord.engine.answer_within_surge", "compat.accord.value_showing.work_out"):
        monkeypatch.setattr(place, refuse)
    page = client_of(ship_officer).get(address(accord)).text
    assert "these figures stand in the plan itself" in page
    assert "2,500\u202fm³/h" in page or "2,500 m³/h" in page or "2,500\u00a0m³/h" in page
    picture = client_of(ship_officer).get(address(accord, "accord-diagram"))
    assert picture.content.startswith(b"<?xml")
