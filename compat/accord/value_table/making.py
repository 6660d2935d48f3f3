"""Makes lines of the table of values, and what tells the engine of them (pure: no Django)."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from compat.accord.value_kinds import ChoiceValue, DurationValue, Group, NumberValue, StateInCase, TextValue
from compat.case.case_file import AgreedFacts
from shared.calc.units import Quantity


def in_agreed(key: str) -> StateInCase:
    """Return what states a value as agreed in a case."""

    def state(case: dict[str, Any], value: Decimal) -> None:
        case["agreed"][key] = float(value)

    return state


def as_own_limit(name: str, field: str) -> StateInCase:
    """Return what states a value in a case as a limit of both sides."""

    def state(case: dict[str, Any], value: Decimal) -> None:
        case["own_limits"].append({"name": name, "owner": "both", "source": "agreed", field: float(value)})

    return state


def run_pumps(case: dict[str, Any], value: Decimal) -> None:
    """Let so many pumps run: those that the case runs already come first, then the others as it names them."""
    pumps = case["operation"]["pumps"]
    by_turn = sorted(range(len(pumps)), key=lambda place: not pumps[place]["running"])
    for turn, place in enumerate(by_turn):
        pumps[place]["running"] = turn < int(value)


def agreed(
    key: str, label: str, quantity: Quantity, unit: str, meaning: str, *, group: Group = Group.RATES, **more: Any
) -> NumberValue:
    """Return a value that the case file states as agreed, in the range in which it is believed there."""
    stated = AgreedFacts.model_json_schema()["properties"][key]["anyOf"][0]
    least, greatest = Decimal(str(stated["minimum"])), Decimal(str(stated["maximum"]))
    return number(key, label, quantity, unit, least, greatest, meaning, group, state_in_case=in_agreed(key), **more)


def number(
    key: str,
    label: str,
    quantity: Quantity,
    unit: str,
    least: Decimal | int | str,
    greatest: Decimal | int | str,
    meaning: str,
    group: Group,
    **more: Any,
) -> NumberValue:
    """Return a number, or a duration where its quantity is time."""
    kind = DurationValue if quantity == "time" else NumberValue
    return kind(
        key=key,
        label=label,
        quantity=quantity,
        unit=unit,
        least=Decimal(least),
        greatest=Decimal(greatest),
        meaning=meaning,
        group=group,
        **more,
    )


def text(key: str, label: str, meaning: str, group: Group, **more: Any) -> TextValue:
    """Return a value in words."""
    return TextValue(key=key, label=label, meaning=meaning, group=group, **more)


def choice(key: str, label: str, choices: tuple[str, ...], meaning: str, group: Group, **more: Any) -> ChoiceValue:
    """Return a value that is one of a few stated ways."""
    return ChoiceValue(key=key, label=label, choices=choices, meaning=meaning, group=group, **more)
