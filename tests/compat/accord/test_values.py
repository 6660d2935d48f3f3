"""The table of values: what is asked for, what each kind takes, and what values ask of each other."""

from __future__ import annotations

from decimal import Decimal

import pytest

from compat.accord import actions
from compat.accord.bargaining import OutsideLimitError
from compat.accord.checklist.conditions import TransferConditions
from compat.accord.engine import refusals, work_out
from compat.accord.progress import what_keeps_from_settling
from compat.accord.value_kinds import ChoiceValue, Given, NumberValue
from compat.accord.values import DEFINITIONS, case_with, in_groups, values_for
from shared.calc.errors import InputError
from shared.models import Person
from tests.builders import NOW, case_document
from tests.compat.accord.building import HIGHEST, MORE_VALUES, PRESSURE, START, VALUES, agree, open_accord

# What 33 CFR 156.120(w) (2015 edition) wants settled at the meeting, and the values that settle it.
MEETING = {
    "(w)(3) rate": {START, HIGHEST, "bulk_rate_m3_per_h"},
    "(w)(5) pressure limits": {PRESSURE},
    "(w)(6) critical stages": {"slow_step_warning_min", "stripping_rate_m3_per_h", "topping_rate_m3_per_h"},
    "(w)(8) emergencies": {"emergency_stop_means", "emergency_stop_s"},
    "(w)(11) watches": {"watch_on_board", "watch_ashore", "watch_changes", "handover"},
    "(w)(12) stopping": {"normal_stop_means", "normal_stop_min", "notice_before_change_min", "while_stopped"},
    "(w)(13) channel": {"main_channel", "reserve_channel", "contact_lost", "contact_test_min"},
}
FLOW = {**VALUES, "bulk_rate_m3_per_h": Decimal(2500), "pumps_in_bulk": Decimal(2)}


def test_what_a_meeting_settles_is_in_the_table() -> None:
    for paragraph, keys in MEETING.items():
        assert keys <= DEFINITIONS.keys(), paragraph


def test_every_kind_of_value_occurs_and_stands_in_a_group() -> None:
    assert {definition.kind for definition in DEFINITIONS.values()} == {"number", "duration", "text", "choice"}
    listed = [one.key for _, members in in_groups(list(DEFINITIONS.values())) for one in members]
    assert listed == list(DEFINITIONS)


@pytest.mark.parametrize(
    ("key", "given", "sentence"),
    [
        ("emergency_stop_s", Decimal(0), "Emergency stop: time until nothing flows is 0 s; allowed: 1 to 600 s."),
        ("pumps_in_bulk", Decimal("1.5"), "give a whole number; allowed: 1 to 12."),
        ("emergency_stop_s", "soon", "Emergency stop: time until nothing flows is “soon”; give a number"),
        ("contact_lost", "wait", "When contact is lost is “wait”; choose one of: emergency stop at once;"),
        ("main_channel", "  ", "Main channel is empty; write it down"),
        ("main_channel", "x" * 201, "Main channel has 201 characters; allowed: up to 200."),
    ],
)
def test_what_a_kind_does_not_take_is_refused_in_words(key: str, given: Given, sentence: str) -> None:
    with pytest.raises(InputError) as refused:
        DEFINITIONS[key].check(given)
    assert sentence.rstrip(".") in str(refused.value)


def test_a_kind_keeps_what_it_takes_in_one_form() -> None:
    assert DEFINITIONS["main_channel"].check("  VHF  74 ") == "VHF 74"
    assert DEFINITIONS["emergency_stop_s"].check(Decimal("45.00000049")) == Decimal(45)
    definition = DEFINITIONS["handover"]
    assert isinstance(definition, ChoiceValue)
    assert all(definition.check(choice) == choice for choice in definition.choices)


@pytest.mark.parametrize("key", [key for key, one in DEFINITIONS.items() if isinstance(one, NumberValue)])
def test_the_ends_of_a_range_are_taken_and_what_lies_beyond_is_not(key: str) -> None:
    definition = DEFINITIONS[key]
    assert isinstance(definition, NumberValue)
    for end in (definition.least, definition.greatest):
        assert definition.check(end) == end
    for beyond in (definition.least - 1, definition.greatest + 1):
        with pytest.raises(InputError):
            definition.check(beyond)


def test_a_condition_takes_values_away_only_where_it_is_stated() -> None:
    wait = "gauging_wait_min"
    plain = TransferConditions(
        static_accumulator=False, vapour_return=False, hydrogen_sulphide=False, benzene=False, operation="discharge"
    )
    assert wait not in [one.key for one in values_for(plain)]
    assert wait in [one.key for one in values_for(TransferConditions())]


@pytest.mark.parametrize(
    ("key", "given", "others", "sentence"),
    [
        ("bulk_rate_m3_per_h", 2900, VALUES, "The bulk rate of 2900 m³/h is above the highest rate of 2800 m³/h."),
        ("stripping_rate_m3_per_h", 2600, FLOW, "The stripping rate of 2600 m³/h is above the bulk rate of 2500 m³/h."),
        ("topping_rate_m3_per_h", 2600, FLOW, "The topping-off rate of 2600 m³/h is above the bulk rate"),
        ("pumps_at_start", 2, {"pumps_in_bulk": Decimal(1)}, "The pumps at the start of 2 is above the pumps in bulk"),
        ("wind_stop_m_per_s", 23, {"wind_disconnect_m_per_s": Decimal(22)}, "above the wind: disconnect of 22 m/s."),
        ("normal_stop_min", 1, {"emergency_stop_s": Decimal(90)}, "of 90 s is above the normal stop"),
        ("least_pressure_bar_gauge", 9, VALUES, "above the highest manifold pressure of 8 bar gauge."),
        # Stated in tests.builders: two pumps of 900 to 1,500 rpm named with their tanks, 4,000 m³/h ashore.
        ("pumps_in_bulk", 3, VALUES, "3 is above the number of pumps that the case names with their tanks, 2 (ship)."),
        ("highest_speed_rpm", 1600, VALUES, "above the greatest speed of Cargo pump P1, 1,500\u00a0rpm (ship)."),
        ("highest_speed_rpm", 800, VALUES, "800 rpm is below the least speed of Cargo pump P1, 900\u00a0rpm (ship)."),
        ("topping_rate_m3_per_h", 4100, {}, "above the highest receiving rate ashore, 4,000\u00a0m³/h (terminal)."),
        # One pump rated 1,500 m³/h can't make 2,500.
        ("pumps_in_bulk", 1, FLOW, "is above the 1,500\u00a0m³/h that she makes with these values."),
        ("highest_speed_rpm", 1000, FLOW, "that she makes with these values."),
        ("least_pressure_bar_gauge", "7.9", {**FLOW, "bulk_rate_m3_per_h": Decimal(1000)}, "The manifold would stand"),
    ],
)
def test_values_that_do_not_go_together_are_refused(
    key: str, given: int | str, others: dict[str, Given], sentence: str
) -> None:
    told = refusals(case_document(), key, Decimal(given), others)
    assert any(sentence in one for one in told), told


def test_what_common_sense_agrees_goes_together() -> None:
    values = {**VALUES, **MORE_VALUES}
    for key, given in values.items():
        others = {name: other for name, other in values.items() if name != key}
        assert refusals(case_document(), key, given, others) == [], key


@pytest.mark.parametrize(
    ("static", "inerted", "refused"),
    [(True, False, True), (True, True, False), (False, False, False), (None, False, False), (True, None, False)],
)
def test_the_wait_of_46_cfr_39_3001(static: bool | None, inerted: bool | None, refused: bool) -> None:
    """46 CFR 39.3001(f)(4): 30 minutes, for cargo that holds charge, in a tank that is not inert."""
    conditions = TransferConditions(static_accumulator=static, inerted=inerted)
    told = refusals(case_document(), "gauging_wait_min", Decimal(29), {}, conditions)
    assert bool(told) is refused
    assert refusals(case_document(), "gauging_wait_min", Decimal(30), {}, conditions) == []


def test_the_bulk_rate_is_what_the_answer_is_worked_out_for() -> None:
    answer = work_out(case_document(), FLOW).answer
    assert answer is not None
    assert answer["total_flow_m3_per_h"] == pytest.approx(2500, rel=1e-6)
    faster = work_out(case_document(), {**FLOW, "bulk_rate_m3_per_h": Decimal(2700)}).answer
    assert faster is not None
    assert faster["pumps"][0]["speed_rpm"] > answer["pumps"][0]["speed_rpm"]


def test_the_number_of_pumps_decides_which_run() -> None:
    case = case_document()
    one = work_out(case, {**VALUES, "pumps_in_bulk": Decimal(1)}).answer
    assert one is not None
    assert [pump["running"] for pump in one["pumps"]] == [True, False]
    assert [state["running"] for state in case["operation"]["pumps"]] == [True, True]
    states = case_with(case, {PRESSURE: Decimal(8), "pumps_in_bulk": Decimal(1)})["operation"]["pumps"]
    assert [state["running"] for state in states] == [True, False]


def test_an_agreed_speed_is_not_passed() -> None:
    answer = work_out(case_document(), {**VALUES, "highest_speed_rpm": Decimal(1100)}).answer
    assert answer is not None
    assert max(pump["speed_rpm"] for pump in answer["pumps"]) <= 1100 * (1 + 1e-9)


def test_words_are_proposed_answered_and_accepted(ship_officer: Person, terminal_officer: Person) -> None:
    accord = open_accord(ship_officer, terminal_officer)

    def propose(by: Person, given: Given, seen: int | None = None) -> int:
        return actions.propose_value(
            by=by, now=NOW, accord=accord, key="contact_lost", value=given, typed=str(given), seen=seen
        ).pk

    first = propose(terminal_officer, "normal stop at once")
    second = propose(ship_officer, "emergency stop at once", first)
    with pytest.raises(InputError, match="accept it instead"):
        propose(terminal_officer, "emergency stop at once", second)
    proposal = actions.accept_value(by=terminal_officer, now=NOW, proposal=accord.proposals.get(pk=second))
    assert (proposal.given, proposal.value, proposal.status) == ("emergency stop at once", None, "accepted")


def test_a_wait_too_short_is_not_accepted(ship_officer: Person, terminal_officer: Person) -> None:
    conditions = TransferConditions(static_accumulator=True, inerted=False)
    accord = open_accord(ship_officer, terminal_officer, conditions=conditions)
    proposal = actions.propose_value(
        by=ship_officer, now=NOW, accord=accord, key="gauging_wait_min", value=Decimal(10), seen=None
    )
    with pytest.raises(OutsideLimitError, match=r"46 CFR 39.3001\(f\)\(4\)"):
        actions.accept_value(by=terminal_officer, now=NOW, proposal=proposal)


def test_nothing_is_settled_while_a_needed_value_is_open(ship_officer: Person, terminal_officer: Person) -> None:
    accord = open_accord(ship_officer, terminal_officer)
    agree(accord, ship_officer, terminal_officer)
    assert not [sentence for sentence in what_keeps_from_settling(accord) if "nothing is agreed" in sentence]
    accord.proposals.filter(key="handover").delete()
    assert "Handover: nothing is agreed." in what_keeps_from_settling(accord)


def test_a_limit_asks_for_what_is_done_then(ship_officer: Person, terminal_officer: Person) -> None:
    accord = open_accord(ship_officer, terminal_officer)
    agree(accord, ship_officer, terminal_officer, {"wave_m": Decimal(2)})
    assert "Wave height: what is done: nothing is agreed." in what_keeps_from_settling(accord)
    assert "Current: what is done: nothing is agreed." not in what_keeps_from_settling(accord)
