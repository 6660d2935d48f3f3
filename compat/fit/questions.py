"""What is missing for a check that is not decided, and who holds it (pure: no Django)."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from compat.fit.berth_columns import berth_columns
from compat.fit.check import Check
from compat.fit.columns import label_at, read_at, value_at
from compat.fit.fit_case import HOLDERS, WORKED_OUT, FitCase, Holder, flat
from compat.fit.service_checks import RULE_NEEDS
from terminals.berthing_facts import OwnRule

_OF_THE_RATE = frozenset({"discharge-rate", "manifold-pressure"})


def questions(check: Check, case: FitCase) -> Iterator[tuple[Holder, str]]:
    """Yield who holds what is missing and the question to ask, for a check that is not decided."""
    if check.key == "own-rules":
        yield from _of_rules(case)
        return
    missing = [
        names[-1] if len(names) == 2 else names[0]
        for names in ((need,) if isinstance(need, str) else need for need in check.needs)
        if all(_is_missing(name, case) for name in names)
    ]
    yield from (_ask(name, case) for name in missing)
    if not missing:  # a list is there, but a row of it lacks a number
        for name in flat(check.needs):
            if _is_list(name, case):
                holder, asked = _ask(name, case)
                yield holder, f"{asked[:-1]}, complete."
    if check.key in _OF_THE_RATE and (case.outcome is None or np.isnan(case.outcome.rate_m3_per_h[0])):
        yield "visit", "Work out the rate first: no operating point was found or asked for."


def rule_question(rule: OwnRule) -> str:
    """Return the question for the fact that a terminal's own rule needs."""
    return f"The terminal's rule “{rule.name}” needs the {rule.fact.partition(' in ')[0]}: state it, or ask the ship."


def _of_rules(case: FitCase) -> Iterator[tuple[Holder, str]]:
    for rule in case.berth.berthing.own_rules if case.berth.berthing else ():
        names = tuple(flat((RULE_NEEDS.get(rule.fact, ()),)))
        if all(_is_missing(name, case) for name in names):  # of cargo and rate nobody but the visit can tell
            yield (HOLDERS[names[-1].partition(":")[0]] if names else "visit"), rule_question(rule)


def _is_list(name: str, case: FitCase) -> bool:
    owner, _, key = name.partition(":")
    return name not in WORKED_OUT and read_at(type(case.document(owner)), key).kind == "list"


def _is_missing(name: str, case: FitCase) -> bool:
    if name in WORKED_OUT:
        return case.outcome is None or bool(np.isnan(case.outcome.agreed_bar_gauge[0]))
    owner, _, key = name.partition(":")
    value = value_at(case.document(owner), key)
    if value is None:
        return not _is_unlimited(name, case)
    return name == "berth:arms" and any(arm.flange is None or arm.rating_bar_gauge is None for arm in case.berth.arms)


def _is_unlimited(name: str, case: FitCase) -> bool:
    column = berth_columns([case.berth]).arrays.get(name.removeprefix("berth:")) if name.startswith("berth:") else None
    return column is not None and column.ndim == 1 and bool(np.isinf(column[0]))


def _ask(name: str, case: FitCase) -> tuple[Holder, str]:
    if name in WORKED_OUT:
        return "visit", f"Agree {WORKED_OUT[name]}."
    owner, _, key = name.partition(":")
    label = label_at(type(case.document(owner)), key)
    label = label if label.startswith("IMO") else f"{label[:1].lower()}{label[1:]}"
    if name == "berth:arms":
        return "terminal", "Ask the terminal for flange and rating of each arm and hose."
    asked = {"ship": f"Ask the ship: {label}.", "berth": f"Ask the terminal: {label}."}
    return HOLDERS[owner], asked.get(owner, f"State for this visit: {label}.")
