"""Opening an accord: by either party, on a case made of the revisions; amendments and accords like an earlier one."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from compat.accord import actions
from compat.accord.answering import latest_answers
from compat.accord.bargaining import standing
from compat.accord.checklist import item_named, items_before_signing
from compat.accord.checklist.conditions import TransferConditions
from compat.accord.models import Accord
from compat.accord.moving import MeanwhileError
from compat.accord.opening import earlier_source, facts_sha256_of, proposals_of
from compat.accord.states import State
from compat.case.case_file import CaseError, check_case
from shared.calc.errors import InputError
from shared.models import Person, TrailRow
from shared.permissions import NotAllowedError
from shared.trail import facts_of
from terminals.models import BerthRevision
from tests.builders import NOW, berth_facts, case_document, pump_facts, ship_facts
from tests.compat.accord.building import (
    CONDITIONS,
    MORE_VALUES,
    PRESSURE,
    VALUES,
    agree,
    bring_to,
    open_accord,
    write_answers,
)
from vessels.models import VesselRevision


@pytest.mark.parametrize(
    ("who", "side"), [("ship_officer", "ship"), ("ship_admin", "ship"), ("terminal_officer", "terminal")]
)
def test_either_party_opens(
    who: str, side: str, ship_officer: Person, terminal_officer: Person, request: pytest.FixtureRequest
) -> None:
    accord = open_accord(ship_officer, terminal_officer, by=request.getfixturevalue(who))
    assert (accord.state, accord.opened_side, accord.plan_number) == (State.ON_TABLE, side, 1)
    assert (accord.ship_party, accord.terminal_party) == (ship_officer.organisation, terminal_officer.organisation)
    row = TrailRow.objects.get(subject=accord.subject)
    assert (row.act, facts_of(row)["side"]) == ("accord opened", side)


@pytest.mark.parametrize("who", ["ship_reader", "terminal_reader", "auditor", "stranger", "other_terminal_officer"])
def test_nobody_else_opens(
    who: str, ship_officer: Person, terminal_officer: Person, request: pytest.FixtureRequest
) -> None:
    with pytest.raises(NotAllowedError):
        open_accord(ship_officer, terminal_officer, by=request.getfixturevalue(who))
    assert not Accord.objects.exists()


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"ship": ship_facts(name="Another Ship")}, "The case does not state the ship as in Astrid Halvard revision 1"),
        ({"berth": berth_facts(receiving_rate_m3_per_h=9000.0)}, "The case does not state the berth as in"),
    ],
)
def test_a_case_of_other_facts_is_refused(
    changes: dict[str, Any], sentence: str, ship_officer: Person, terminal_officer: Person
) -> None:
    with pytest.raises(InputError, match=sentence):
        open_accord(ship_officer, terminal_officer, case=check_case(case_document(**changes), "case"))


def test_arms_may_be_connected_in_part(ship_officer: Person, terminal_officer: Person) -> None:
    arms = [dict(berth_facts()["arms"][0], count=1)]
    case = check_case(case_document(berth=berth_facts(arms=arms)), "case")
    accord = open_accord(ship_officer, terminal_officer, case=case)
    assert accord.case["berth"]["arms"][0]["count"] == 1


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"place": "  "}, "Place has 0 characters"),
        ({"place": "x" * 251}, "Place has 251 characters"),
        ({"planned_start": datetime(2031, 4, 14, 12)}, "Planned start has no zone"),  # noqa: DTZ001
    ],
)
def test_place_and_time_are_needed(
    changes: dict[str, Any], sentence: str, ship_officer: Person, terminal_officer: Person
) -> None:
    with pytest.raises(InputError, match=sentence):
        open_accord(ship_officer, terminal_officer, **changes)


def test_the_case_tells_operation_and_connection(ship_officer: Person, terminal_officer: Person) -> None:
    accord = open_accord(ship_officer, terminal_officer, conditions=TransferConditions(crude=True))
    conditions = accord.transfer_conditions()
    assert (conditions.operation, conditions.connection, conditions.crude) == ("discharge", "arms", True)
    assert conditions.night is None


def test_assessed_values_go_on_the_table_for_the_opening_side(ship_officer: Person, terminal_officer: Person) -> None:
    agreed = {PRESSURE: 7.5, "highest_rate_m3_per_h": 2800.0}
    case = check_case(case_document(agreed=agreed), "case")
    accord = open_accord(ship_officer, terminal_officer, case=case, proposals=proposals_of(case))
    lying = {key: where.open.value for key, where in standing(accord).items() if where.open}
    assert lying == {PRESSURE: Decimal("7.5"), "highest_rate_m3_per_h": Decimal(2800)}
    assert {proposal.side for proposal in accord.proposals.all()} == {"ship"}


def test_the_hash_of_frozen_facts_leaves_out_what_is_still_agreed() -> None:
    one = check_case(case_document(), "case")
    other = check_case(case_document(agreed={PRESSURE: 5.0}), "case")
    third = check_case(case_document(keel_elevation_m=-9.4), "case")
    assert facts_sha256_of(one) == facts_sha256_of(other)
    assert facts_sha256_of(one) != facts_sha256_of(third)


def test_later_revisions_never_change_an_accord(ship_officer: Person, terminal_officer: Person) -> None:
    accord = open_accord(ship_officer, terminal_officer)
    before = Accord.objects.values("case", "facts_sha256").get(pk=accord.pk)
    _revise_ship(accord, ship_officer)
    _revise_berth(accord, terminal_officer)
    assert Accord.objects.values("case", "facts_sha256").get(pk=accord.pk) == before
    assert facts_sha256_of(accord.case_file()) == accord.facts_sha256


def _revise_ship(accord: Accord, by: Person, **changes: Any) -> VesselRevision:
    facts = ship_facts(**(changes or {"ship_line_velocity_limit_m_per_s": 6.0}))
    vessel = accord.vessel_revision.vessel
    return VesselRevision.objects.create(vessel=vessel, number=2, facts=facts, made_by=by, made_at=NOW)


def _revise_berth(accord: Accord, by: Person) -> BerthRevision:
    berth = accord.berth_revision.berth
    facts = berth_facts(receiving_rate_m3_per_h=3500.0)
    return BerthRevision.objects.create(berth=berth, number=2, facts=facts, made_by=by, made_at=NOW)


def amend(accord: Accord, by: Person, **changes: Any) -> Accord:
    given: dict[str, Any] = {"reason": "Another tank.", "planned_start": NOW, "newest_facts": False}
    return actions.open_amendment(by=by, now=NOW, accord=accord, **{**given, **changes})


def test_an_amendment_carries_values_and_answers_over_with_their_givers(
    ship_officer: Person, terminal_officer: Person
) -> None:
    accord = bring_to(State.IN_FORCE, ship_officer, terminal_officer)
    amendment = amend(accord, terminal_officer)
    carried = {key: where.agreed for key, where in standing(amendment).items()}
    everything = {**VALUES, **{key: value for key, value in MORE_VALUES.items() if key in carried}}
    assert {key: proposal.given for key, proposal in carried.items() if proposal} == everything
    assert {proposal.by for proposal in carried.values() if proposal} == {ship_officer}
    before, after = latest_answers(accord), latest_answers(amendment)
    assert after.keys() == before.keys()
    assert {answer.carried_from_plan for answer in after.values()} == {1}
    assert all(after[key].by == before[key].by and after[key].at == before[key].at for key in before)
    assert accord.answers.filter(carried_from_plan=None).count() == accord.answers.count()


def test_an_amendment_of_an_amendment_keeps_where_an_answer_comes_from(
    ship_officer: Person, terminal_officer: Person
) -> None:
    second = Accord.objects.get(amends=bring_to(State.SUPERSEDED, ship_officer, terminal_officer))
    third = amend(second, ship_officer)
    assert third.plan_number == 3
    answers = latest_answers(third).items()
    assert {answer.carried_from_plan for (key, _), answer in answers if not item_named(key).again_when_amended} == {1}
    assert {answer.carried_from_plan for (key, _), answer in answers if item_named(key).again_when_amended} == {2}


def test_an_amendment_stands_on_the_frozen_facts_or_on_the_newest(
    ship_officer: Person, terminal_officer: Person
) -> None:
    accord = bring_to(State.IN_FORCE, ship_officer, terminal_officer)
    newest = _revise_ship(accord, ship_officer)
    frozen = amend(accord, ship_officer)
    assert frozen.facts_sha256 == accord.facts_sha256
    actions.withdraw(by=ship_officer, now=NOW, accord=frozen, reason="On the newest data instead.")
    anew = amend(accord, ship_officer, newest_facts=True)
    assert anew.vessel_revision == newest
    assert anew.case["ship"]["ship_line_velocity_limit_m_per_s"] == 6.0
    assert anew.facts_sha256 != accord.facts_sha256


def test_newest_facts_that_no_longer_fit_are_refused_in_a_sentence(
    ship_officer: Person, terminal_officer: Person
) -> None:
    accord = bring_to(State.IN_FORCE, ship_officer, terminal_officer)
    _revise_ship(accord, ship_officer, pumps=[pump_facts("P1")])
    with pytest.raises(CaseError, match="names pump P2, which the ship does not have"):
        amend(accord, ship_officer, newest_facts=True)


def test_an_auditor_let_in_before_reads_the_amendment_too(
    ship_officer: Person, terminal_officer: Person, auditor: Person
) -> None:
    assert auditor.organisation is not None
    accord = bring_to(State.IN_FORCE, ship_officer, terminal_officer)
    actions.grant_audit(by=ship_officer, now=NOW, accord=accord, organisation=auditor.organisation)
    grant = amend(accord, ship_officer).audit_grants.get()
    assert (grant.organisation, grant.granted_side) == (auditor.organisation, "ship")
    assert accord.audit_grants.count() == 1


@pytest.mark.parametrize("state", [state for state in State if state is not State.IN_FORCE])
def test_only_a_plan_in_force_is_amended(state: State, ship_officer: Person, terminal_officer: Person) -> None:
    accord = bring_to(state, ship_officer, terminal_officer)
    with pytest.raises(MeanwhileError, match=f"This accord is {state}; only a plan in force is amended"):
        amend(accord, ship_officer)


@pytest.mark.parametrize("who", ["ship_reader", "terminal_reader", "auditor", "stranger", "other_terminal_officer"])
def test_who_may_not_amend(
    who: str, ship_officer: Person, terminal_officer: Person, request: pytest.FixtureRequest
) -> None:
    accord = bring_to(State.IN_FORCE, ship_officer, terminal_officer)
    with pytest.raises(NotAllowedError):
        amend(accord, request.getfixturevalue(who))


def test_another_accord_like_an_earlier_one_stands_on_the_newest_facts(
    ship_officer: Person, terminal_officer: Person
) -> None:
    accord = bring_to(State.WITHDRAWN, ship_officer, terminal_officer)
    newest = _revise_berth(accord, terminal_officer)
    source = earlier_source(accord)
    assert source.berth_revision == newest
    assert source.case.berth.receiving_rate_m3_per_h == 3500.0
    again = actions.open_accord(
        by=terminal_officer,
        now=NOW,
        vessel_revision=source.vessel_revision,
        berth_revision=source.berth_revision,
        case=source.case,
        conditions=CONDITIONS,
        place=accord.place,
        planned_start=NOW,
    )
    assert (again.plan_number, again.amends) == (1, None)


def rearrange(accord: Accord, by: Person, **changes: Any) -> Accord:
    given: dict[str, Any] = {"place": accord.place, "planned_start": accord.planned_start, "conditions": CONDITIONS}
    return actions.rearrange(by=by, now=NOW, accord=accord, **{**given, **changes})


def test_place_time_and_conditions_change_while_on_the_table(ship_officer: Person, terminal_officer: Person) -> None:
    accord = open_accord(ship_officer, terminal_officer)
    later = accord.planned_start + timedelta(hours=3)
    rearrange(accord, terminal_officer, planned_start=later, conditions=replace(CONDITIONS, crude_oil_washing=True))
    accord.refresh_from_db()
    assert accord.planned_start == later
    assert "agree.cow-plan" in [item.key for item in items_before_signing(accord.transfer_conditions())]
    row = TrailRow.objects.get(subject=accord.subject, act="accord rearranged")
    assert facts_of(row) == {
        "side": "terminal",
        "planned_start": later.isoformat(),
        "conditions": {"crude_oil_washing": True},
    }


def test_an_answer_to_an_item_that_no_longer_applies_stays_out_of_the_plan(
    ship_officer: Person, terminal_officer: Person
) -> None:
    accord = open_accord(ship_officer, terminal_officer, conditions=replace(CONDITIONS, notice_required=True))
    agree(accord, ship_officer, terminal_officer)
    write_answers(accord, ship_officer, terminal_officer)
    accord = rearrange(accord, ship_officer)
    actions.settle(by=ship_officer, now=NOW, accord=accord)
    accord.refresh_from_db()
    payload = json.loads(bytes(accord.payload or b""))
    assert "term.authority-notified" not in [item["key"] for item in payload["checklist"]["items"]]
    assert accord.answers.filter(item_key="term.authority-notified").exists()


def test_rearranging_nothing_is_refused(ship_officer: Person, terminal_officer: Person) -> None:
    accord = open_accord(ship_officer, terminal_officer)
    with pytest.raises(InputError, match="Nothing differs"):
        rearrange(accord, ship_officer)


@pytest.mark.parametrize("state", [state for state in State if state is not State.ON_TABLE])
def test_nothing_is_rearranged_once_settled(state: State, ship_officer: Person, terminal_officer: Person) -> None:
    accord = bring_to(state, ship_officer, terminal_officer)
    with pytest.raises(MeanwhileError, match=f"This accord is {state}"):
        rearrange(accord, ship_officer, place="Elsewhere")


@pytest.mark.parametrize("who", ["ship_reader", "terminal_reader", "auditor", "stranger", "other_terminal_officer"])
def test_who_may_not_rearrange(
    who: str, ship_officer: Person, terminal_officer: Person, request: pytest.FixtureRequest
) -> None:
    accord = open_accord(ship_officer, terminal_officer)
    with pytest.raises(NotAllowedError):
        rearrange(accord, request.getfixturevalue(who), place="Elsewhere")
