"""Values: proposed by one side, accepted or answered by the other; what each step means; who may not."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from compat.accord import actions
from compat.accord.bargaining import OutsideLimitError, agreed_values, standing, values_on_table
from compat.accord.models import Accord, ProposalStatus, ValueProposal
from compat.accord.moving import MeanwhileError
from compat.accord.states import State
from shared.calc.errors import InputError
from shared.models import Person, TrailRow
from shared.permissions import NotAllowedError
from shared.trail import facts_of
from tests.builders import NOW
from tests.compat.accord.building import HIGHEST, PRESSURE, START, bring_to, open_accord


@pytest.fixture
def accord(ship_officer: Person, terminal_officer: Person) -> Accord:
    return open_accord(ship_officer, terminal_officer)


def propose(accord: Accord, by: Person, value: str, *, key: str = PRESSURE, seen: ValueProposal | None = None) -> Any:
    return actions.propose_value(
        by=by, now=NOW, accord=accord, key=key, value=Decimal(value), typed=value, seen=seen.pk if seen else None
    )


def accept(proposal: ValueProposal, by: Person) -> ValueProposal:
    return actions.accept_value(by=by, now=NOW, proposal=proposal)


def test_a_value_is_proposed_and_accepted(accord: Accord, ship_officer: Person, terminal_officer: Person) -> None:
    accept(propose(accord, ship_officer, "8"), terminal_officer)
    assert agreed_values(standing(accord)) == {PRESSURE: Decimal(8)}
    (proposal,) = accord.proposals.all()
    assert (proposal.side, proposal.by, proposal.decided_side, proposal.decided_by) == (
        "ship",
        ship_officer,
        "terminal",
        terminal_officer,
    )


def test_a_value_is_answered_until_one_side_accepts(
    accord: Accord, ship_officer: Person, terminal_officer: Person
) -> None:
    first = propose(accord, ship_officer, "9")
    second = propose(accord, terminal_officer, "7", seen=first)
    third = propose(accord, ship_officer, "8", seen=second)
    assert values_on_table(standing(accord)) == {PRESSURE: Decimal(8)}
    assert agreed_values(standing(accord)) == {}
    accept(third, terminal_officer)
    statuses = list(accord.proposals.order_by("id").values_list("status", flat=True))
    assert statuses == [ProposalStatus.ANSWERED, ProposalStatus.ANSWERED, ProposalStatus.ACCEPTED]


def test_nobody_accepts_what_their_own_side_proposed(accord: Accord, ship_officer: Person, ship_admin: Person) -> None:
    proposal = propose(accord, ship_officer, "8")
    for person in (ship_officer, ship_admin):
        with pytest.raises(NotAllowedError, match="the ship proposed it"):
            accept(proposal, person)


def test_an_agreed_value_holds_while_another_lies_on_the_table(
    accord: Accord, ship_officer: Person, terminal_officer: Person
) -> None:
    accept(propose(accord, ship_officer, "8"), terminal_officer)
    again = propose(accord, terminal_officer, "7")
    assert agreed_values(standing(accord)) == {PRESSURE: Decimal(8)}
    actions.take_back_proposal(by=terminal_officer, now=NOW, proposal=again)
    assert standing(accord)[PRESSURE].open is None
    accept(propose(accord, terminal_officer, "7"), ship_officer)
    assert agreed_values(standing(accord)) == {PRESSURE: Decimal(7)}


def test_a_side_puts_another_value_in_place_of_its_own(accord: Accord, ship_officer: Person) -> None:
    first = propose(accord, ship_officer, "9")
    propose(accord, ship_officer, "8", seen=first)
    first.refresh_from_db()
    assert first.status == ProposalStatus.TAKEN_BACK


def test_only_the_side_that_proposed_takes_it_back(
    accord: Accord, ship_officer: Person, terminal_officer: Person
) -> None:
    proposal = propose(accord, ship_officer, "8")
    with pytest.raises(NotAllowedError, match="the other side proposed it"):
        actions.take_back_proposal(by=terminal_officer, now=NOW, proposal=proposal)


@pytest.mark.parametrize("who", ["ship_reader", "terminal_reader", "auditor", "stranger", "other_terminal_officer"])
def test_who_may_not_bargain(who: str, accord: Accord, ship_officer: Person, request: pytest.FixtureRequest) -> None:
    person = request.getfixturevalue(who)
    proposal = propose(accord, ship_officer, "8")
    with pytest.raises(NotAllowedError):
        propose(accord, person, "7", seen=proposal)
    with pytest.raises(NotAllowedError):
        accept(proposal, person)
    with pytest.raises(NotAllowedError):
        actions.take_back_proposal(by=person, now=NOW, proposal=proposal)
    assert accord.proposals.get().status == ProposalStatus.OPEN


def test_an_administrator_bargains_too(accord: Accord, ship_admin: Person, terminal_admin: Person) -> None:
    accept(propose(accord, ship_admin, "8"), terminal_admin)
    assert standing(accord)[PRESSURE].agreed is not None


def test_someone_who_left_bargains_no_more(accord: Accord, ship_officer: Person) -> None:
    ship_officer.is_active = False
    with pytest.raises(NotAllowedError):
        propose(accord, ship_officer, "8")


def test_the_value_that_was_already_offered_is_to_be_accepted(
    accord: Accord, ship_officer: Person, terminal_officer: Person
) -> None:
    proposal = propose(accord, ship_officer, "8")
    with pytest.raises(InputError, match="accept it instead"):
        propose(accord, terminal_officer, "8.0000", seen=proposal)
    with pytest.raises(InputError, match="on the table from your side already"):
        propose(accord, ship_officer, "8", seen=proposal)


def test_who_comes_second_is_told_and_nothing_is_lost(
    accord: Accord, ship_officer: Person, terminal_officer: Person
) -> None:
    propose(accord, ship_officer, "9")
    with pytest.raises(MeanwhileError, match=r"Ingrid Solheim \(ship\) has put 9 bar gauge on the table. Your 7 bar"):
        propose(accord, terminal_officer, "7")
    assert accord.proposals.count() == 1


def test_answering_a_value_that_was_taken_back(accord: Accord, ship_officer: Person, terminal_officer: Person) -> None:
    proposal = propose(accord, ship_officer, "9")
    actions.take_back_proposal(by=ship_officer, now=NOW, proposal=proposal)
    with pytest.raises(MeanwhileError, match="was decided"):
        propose(accord, terminal_officer, "7", seen=proposal)
    with pytest.raises(MeanwhileError, match="9 bar gauge was taken back by Ingrid Solheim"):
        accept(proposal, terminal_officer)


@pytest.mark.parametrize(
    ("value", "reason"),
    [
        # Stated in tests.builders: berth 10 bar, ship's manifold and arms 16 bar.
        ("10.5", "above the berth's own manifold pressure limit, 10.00\u00a0bar\u00a0gauge (terminal)"),
        ("17", "above the rating of the ship's manifold, 16.00\u00a0bar\u00a0gauge (ship)"),
        # The tank stands higher than the manifold: the shore holds 0.58 bar at rest.
        ("0.5", "below the 0.58"),
    ],
)
def test_a_pressure_outside_a_limit_is_not_accepted(
    value: str, reason: str, accord: Accord, ship_officer: Person, terminal_officer: Person
) -> None:
    proposal = propose(accord, ship_officer, value)
    with pytest.raises(OutsideLimitError) as refused:
        accept(proposal, terminal_officer)
    assert reason in str(refused.value)
    proposal.refresh_from_db()
    assert proposal.status == ProposalStatus.OPEN
    assert not TrailRow.objects.filter(act="value accepted").exists()


@pytest.mark.parametrize(
    ("key", "value", "reason"),
    [
        # tests.builders: receiving rate 4,000 m³/h, two pumps rated 1,500 m³/h each.
        (HIGHEST, "4100", "above the highest receiving rate ashore, 4,000\u00a0m³/h (terminal)"),
        (HIGHEST, "3100", "above the rated flow of the running pumps together, 3,000\u00a0m³/h (ship)"),
        (START, "3100", "above the rated flow of the running pumps together"),
        (START, "2900", "The start rate of 2900 m³/h is above the highest rate of 2800 m³/h."),
    ],
)
def test_a_rate_outside_a_limit_is_not_accepted(
    key: str, value: str, reason: str, accord: Accord, ship_officer: Person, terminal_officer: Person
) -> None:
    accept(propose(accord, ship_officer, "8"), terminal_officer)
    if key == START:
        accept(propose(accord, ship_officer, "2800", key=HIGHEST), terminal_officer)
    proposal = propose(accord, ship_officer, value, key=key)
    with pytest.raises(OutsideLimitError) as refused:
        accept(proposal, terminal_officer)
    assert reason in str(refused.value)


@pytest.mark.parametrize(
    ("value", "sentence"),
    [
        ("0", "Highest manifold pressure is 0 bar gauge; allowed: 0.1 to 400 bar gauge."),
        ("401", "Highest manifold pressure is 401 bar gauge; allowed: 0.1 to 400 bar gauge."),
        ("NaN", "Highest manifold pressure is NaN"),
    ],
)
def test_a_value_outside_its_range_never_reaches_the_table(
    value: str, sentence: str, accord: Accord, ship_officer: Person
) -> None:
    with pytest.raises(InputError, match=sentence.replace(".", r"\.")):
        propose(accord, ship_officer, value)


def test_an_unknown_value_is_refused(accord: Accord, ship_officer: Person) -> None:
    with pytest.raises(InputError, match="There is no value “colour”"):
        propose(accord, ship_officer, "8", key="colour")


@pytest.mark.parametrize("state", [state for state in State if state is not State.ON_TABLE])
def test_values_change_only_while_the_accord_is_on_the_table(
    state: State, ship_officer: Person, terminal_officer: Person
) -> None:
    accord = bring_to(state, ship_officer, terminal_officer)
    before = list(accord.proposals.values_list("pk", "status"))
    with pytest.raises(MeanwhileError, match=f"This accord is {state}"):
        propose(accord, ship_officer, "7")
    assert list(accord.proposals.values_list("pk", "status")) == before


def test_each_step_stands_in_the_trail_with_who_and_what(
    accord: Accord, ship_officer: Person, terminal_officer: Person
) -> None:
    first = propose(accord, ship_officer, "9")
    second = propose(accord, terminal_officer, "7", seen=first)
    accept(second, ship_officer)
    rows = TrailRow.objects.filter(subject=accord.subject).order_by("position")
    told = [(row.act, row.person, facts_of(row).get("value"), facts_of(row).get("in_place_of")) for row in rows]
    assert told == [
        ("accord opened", "Ingrid Solheim (ship-officer)", None, None),
        ("value proposed", "Ingrid Solheim (ship-officer)", "9 bar gauge", None),
        ("value proposed", "Tomas Reyes (terminal-officer)", "7 bar gauge", "9 bar gauge"),
        ("value accepted", "Ingrid Solheim (ship-officer)", "7 bar gauge", None),
    ]
