"""Looks up the values that ship and terminal agree, and tells the engine of them (pure: no Django).

The table itself stands in ``value_table``; a new value is a new line there.
"""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from decimal import Decimal
from typing import Any

from compat.accord.checklist.conditions import TransferConditions
from compat.accord.value_kinds import Given, Group, ValueDefinition
from compat.accord.value_table import TABLE
from shared.calc.errors import InputError

DEFINITIONS: dict[str, ValueDefinition] = {definition.key: definition for definition in TABLE}


def definition_of(key: str) -> ValueDefinition:
    """Return the definition with this key; raise InputError where there is none."""
    try:
        return DEFINITIONS[key]
    except KeyError:
        raise InputError(f"There is no value “{key}” to agree; known: {', '.join(DEFINITIONS)}.") from None


def values_for(conditions: TransferConditions) -> list[ValueDefinition]:
    """Return the values that are asked for in such a transfer, in order."""
    return [definition for definition in TABLE if definition.applies(conditions)]


def in_groups(definitions: list[ValueDefinition]) -> list[tuple[Group, list[ValueDefinition]]]:
    """Return definitions under their headings, in the table's order."""
    found = [(group, [one for one in definitions if one.group is group]) for group in Group]
    return [(group, members) for group, members in found if members]


def case_with(case: Mapping[str, Any], values: Mapping[str, Given]) -> dict[str, Any]:
    """Return a copy of a case document in which exactly these values are agreed, and no other."""
    stated = {
        **case,
        "agreed": {},
        "operation": deepcopy(case["operation"]),
        "own_limits": list(case.get("own_limits", ())),
    }
    for key, value in values.items():
        state = definition_of(key).state_in_case
        if state is not None:
            state(stated, Decimal(value))
    return stated
