"""Which items apply: a stated fact removes an item, a fact that is not known never does."""

from __future__ import annotations

from dataclasses import fields, replace

import pytest

from compat.accord.checklist import (
    ITEMS,
    duties,
    item_named,
    items_before_signing,
    items_for,
    required_before_signing,
)
from compat.accord.checklist.conditions import (
    ALWAYS,
    BENZENE,
    CRUDE,
    INERTED,
    LOADING,
    STATIC,
    VOLATILE,
    Condition,
    TransferConditions,
)
from compat.accord.checklist.item import Side
from shared.calc.errors import InputError

NOTHING_SPECIAL = TransferConditions(
    operation="discharge",
    connection="arms",
    crude=False,
    volatile=False,
    static_accumulator=False,
    inerted=False,
    vapour_return=False,
    hydrogen_sulphide=False,
    benzene=False,
    crude_oil_washing=False,
    night=False,
    pump_room=False,
    notice_required=False,
)


def keys(conditions: TransferConditions) -> set[str]:
    return {item.key for item in items_for(conditions)}


def test_what_is_not_known_removes_nothing() -> None:
    assert items_for(TransferConditions()) == list(ITEMS)


def test_a_plain_discharge_has_only_the_items_that_always_apply_and_those_it_states() -> None:
    expected = {item.key for item in ITEMS if item.applies_when is ALWAYS}
    expected |= {"ship.pumps-available", "agree.pump-speeds", "conn.arms-in-reach"}
    assert keys(NOTHING_SPECIAL) == expected


@pytest.mark.parametrize(
    ("change", "added"),
    [
        ({"connection": "hoses"}, {"term.pressure-rating-covers-worst-case", "conn.hoses-fit", "conn.hoses-run"}),
        (
            {"connection": "arms and hoses"},
            {"term.pressure-rating-covers-worst-case", "conn.hoses-fit", "conn.hoses-run"},
        ),
        ({"crude": True}, {"openings.kept-shut", "craft.kept-clear"}),
        ({"volatile": True}, {"openings.kept-shut", "craft.kept-clear"}),
        ({"static_accumulator": True}, {"agree.gauging-and-sampling"}),
        (
            {"inerted": True},
            {"ship.inert-gas-capacity", "ship.tanks-inert-on-arrival", "agree.tank-pressure-window", "watch.inert-gas"},
        ),
        (
            {"vapour_return": True},
            {
                "term.vapour-system-approved",
                "agree.vapour-line-pressures",
                "agree.gauging-and-sampling",
                "vapour.line-proved",
                "watch.vapour-pressure",
                "end.vapour-line-purged",
            },
        ),
        (
            {"hydrogen_sulphide": True},
            {"openings.kept-shut", "agree.gauging-and-sampling", "agree.toxic-controls", "watch.toxic"},
        ),
        (
            {"benzene": True},
            {"openings.kept-shut", "agree.gauging-and-sampling", "agree.toxic-controls", "watch.toxic"},
        ),
        ({"crude_oil_washing": True}, {"agree.cow-plan", "watch.cow"}),
        ({"night": True}, {"light.enough"}),
        ({"pump_room": True}, {"pumproom.safe"}),
        ({"notice_required": True}, {"term.authority-notified"}),
    ],
)
def test_each_condition_adds_its_items(change: dict[str, bool | str], added: set[str]) -> None:
    assert keys(replace(NOTHING_SPECIAL, **change)) - keys(NOTHING_SPECIAL) == added
    not_known = dict.fromkeys(change)
    assert added <= keys(replace(NOTHING_SPECIAL, **not_known)), "what is not known applies"


def test_loading_brings_its_own_items_and_drops_those_of_discharging() -> None:
    loading = keys(replace(NOTHING_SPECIAL, operation="load"))
    assert loading - keys(NOTHING_SPECIAL) == {"agree.tank-pressure-window", "overfill.guard-active"}
    assert keys(NOTHING_SPECIAL) - loading == {"ship.pumps-available", "agree.pump-speeds"}


@pytest.mark.parametrize(
    ("operation", "static", "inerted", "applies"),
    [
        ("load", True, False, True),
        ("load", True, True, False),
        ("load", True, None, True),
        ("load", None, None, True),
        ("load", False, None, False),
        ("discharge", True, False, False),
        ("discharge", None, None, False),
        (None, True, False, True),
        (None, None, True, False),
    ],
)
def test_static_limits_apply_unless_a_stated_fact_excludes_them(
    operation: str | None, static: bool | None, inerted: bool | None, applies: bool
) -> None:
    conditions = TransferConditions(operation=operation, static_accumulator=static, inerted=inerted)  # type: ignore[arg-type]
    assert ("agree.static-limits" in keys(conditions)) is applies


@pytest.mark.parametrize(
    ("condition", "stated", "holds"),
    [
        (VOLATILE | CRUDE, {"volatile": True}, True),
        (VOLATILE | CRUDE, {"volatile": False}, None),
        (VOLATILE | CRUDE, {"volatile": False, "crude": False}, False),
        (LOADING & STATIC, {"operation": "discharge"}, False),
        (LOADING & STATIC, {"operation": "load"}, None),
        (LOADING & STATIC, {"operation": "load", "static_accumulator": True}, True),
        (~INERTED, {}, None),
        (~INERTED, {"inerted": True}, False),
        (~INERTED, {"inerted": False}, True),
    ],
)
def test_expressions_have_three_outcomes(condition: Condition, stated: dict[str, object], holds: bool | None) -> None:
    assert condition.holds(TransferConditions(**stated)) is holds  # type: ignore[arg-type]


def test_when_an_item_applies_is_said_in_words() -> None:
    assert item_named("moor.lines-hold").applies_words() == "always"
    assert item_named("watch.toxic").applies_words() == "when hydrogen sulphide is present or benzene is present"
    assert item_named("agree.static-limits").applies_words() == (
        "when loading and the cargo holds static charge and the ship's tanks are not inerted"
    )
    assert (BENZENE | CRUDE).words() == "benzene is present or the cargo is crude oil"


def test_a_plan_is_signed_on_the_earlier_phases_and_prints_the_later_ones_as_duties() -> None:
    before, later = items_before_signing(NOTHING_SPECIAL), duties(NOTHING_SPECIAL)
    assert {item.key for item in before + later} == keys(NOTHING_SPECIAL)
    assert {item.key.split(".")[0] for item in later} == {"go", "start", "watch", "end"}
    assert not any(item.key.startswith(("go.", "watch.", "end.")) for item in before)


def test_an_item_of_both_sides_needs_a_mark_of_each_and_advice_needs_none() -> None:
    required = {(item.key, side) for item, side in required_before_signing(NOTHING_SPECIAL)}
    assert ("moor.lines-hold", Side.SHIP) in required
    assert ("moor.lines-hold", Side.TERMINAL) in required
    assert ("sea.valves-sealed", Side.SHIP) in required
    assert ("sea.valves-sealed", Side.TERMINAL) not in required
    assert not any(key in {"moor.can-leave", "agree.line-clearing"} for key, _ in required)
    assert not any(key.startswith(("go.", "watch.", "end.")) for key, _ in required)


def test_conditions_read_back_from_their_document() -> None:
    stated = replace(NOTHING_SPECIAL, night=None, connection="arms and hoses")
    assert TransferConditions.from_document(stated.document()) == stated
    assert TransferConditions.from_document({}) == TransferConditions()


@pytest.mark.parametrize(
    ("document", "sentence"),
    [
        ({"nigth": True}, "Condition “nigth” is not known"),
        ({"operation": "bunker"}, "“operation” is 'bunker'; allowed: discharge, load, or not known"),
        ({"night": "yes"}, "“night” is 'yes'; allowed: yes, no, or not known"),
        ({"night": 1}, "“night” is 1; allowed"),
        ({"connection": True}, "“connection” is True; allowed: arms, hoses, arms and hoses"),
        ({"crude": []}, "“crude” is \\[\\]"),
    ],
)
def test_conditions_that_can_not_be_read_are_refused_in_a_sentence(document: dict[str, object], sentence: str) -> None:
    with pytest.raises(InputError, match=sentence):
        TransferConditions.from_document(document)


def test_every_condition_is_put_to_people_as_a_question_with_what_was_stated() -> None:
    words = dict(replace(NOTHING_SPECIAL, night=None).words())
    assert len(words) == len(fields(TransferConditions))
    assert words["Operation"] == "discharge"
    assert words["Crude oil"] == "no"
    assert words["Any part between sunset and sunrise"] == "not known"
