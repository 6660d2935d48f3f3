"""What is missing for a check that is not decided, and who holds it (pure: no Django)."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from types import MappingProxyType

import numpy as np

from compat.fit.berth_columns import berth_columns
from compat.fit.check import Check
from compat.fit.columns import label_at, read_at, value_at
from compat.fit.fit_case import HOLDERS, WORKED_OUT, FitCase, Holder, flat
from compat.fit.service_checks import RULE_ALSO_NEEDS, RULE_NEEDS
from terminals.berthing_facts import OwnRule
from vessels.berthing_facts import MooringLines

_OF_THE_RATE = frozenset({"discharge-rate", "manifold-pressure"})


def questions(check: Check, case: FitCase) -> Iterator[tuple[Holder, str]]:
    """Yield who holds what is missing and the question to ask, for a check that is not decided."""
    if check.key == "own-rules":
        yield from _of_rules(case)
        return
    in_lists = tuple(_IN_LISTS[check.key](case)) if check.key in _IN_LISTS else ()
    missing = [
        names[-1] if len(names) == 2 else names[0]
        for names in ((need,) if isinstance(need, str) else need for need in check.needs)
        if all(_is_missing(name, case) for name in names)
    ]
    yield from (_ask(name, case) for name in missing)
    yield from in_lists
    if not missing and not in_lists:  # a list is there, but a row of it lacks something
        for name in flat(check.needs):
            if _is_list(name, case):
                holder, asked = _ask(name, case)
                yield holder, f"{asked[:-1]}, complete."
    if check.key in _OF_THE_RATE and (case.outcome is None or np.isnan(case.outcome.rate_m3_per_h[0])):
        yield "visit", "Work out the rate first: no operating point was found or asked for."


def _certificates(case: FitCase) -> Iterator[tuple[Holder, str]]:
    asked = case.berth.berthing.certificates if case.berth.berthing else []
    held = {one.certificate for one in case.ship.berthing.certificates} if case.ship.berthing else set()
    for one in asked if held else ():
        if one.certificate not in held:
            yield "ship", f"Ask the ship: the day to which her certificate “{one.certificate}” is valid."


def _lines(what: str, read: Callable[[MooringLines], object]) -> Callable[[FitCase], Iterator[tuple[Holder, str]]]:
    def asked(case: FitCase) -> Iterator[tuple[Holder, str]]:
        for line in case.ship.berthing.moorings if case.ship.berthing else ():
            if read(line) is None:
                yield "ship", f"Ask the ship: {what} of the lines at the {line.place}."

    return asked


def _hooks(case: FitCase) -> Iterator[tuple[Holder, str]]:
    """Yield questions for hooks where she has lines; without any hook stated, the whole list is asked for."""
    there = {hook.place: hook.rating_kn for hook in case.berth.berthing.hooks} if case.berth.berthing else {}
    for line in case.ship.berthing.moorings if case.ship.berthing and there else ():
        if line.place not in there:
            yield "terminal", f"Ask the terminal: hooks for the {line.place}, with their rating."


def _hook_ratings(case: FitCase) -> Iterator[tuple[Holder, str]]:
    yield from _hooks(case)
    yield from _lines("breaking load", lambda line: line.breaking_load_kn)(case)
    for hook in case.berth.berthing.hooks if case.berth.berthing else ():
        if hook.rating_kn is None:
            yield "terminal", f"Ask the terminal: rating of the hooks for the {hook.place}."


_IN_LISTS: Mapping[str, Callable[[FitCase], Iterator[tuple[Holder, str]]]] = MappingProxyType(
    {
        "certificates": _certificates,
        "hooks": _hooks,
        "hook-strength": _hook_ratings,
        "line-strength": _lines("breaking load", lambda line: line.breaking_load_kn),
        "line-materials": _lines("material", lambda line: line.material),
    }
)
"""What rows of lists lack, for checks that stand on lists."""


def rule_question(rule: OwnRule, case: FitCase) -> str:
    """Return the question for the fact that a terminal's own rule needs; for an age, the day where only that lacks."""
    known = any(not _is_missing(name, case) for name in flat((RULE_NEEDS.get(rule.fact, ()),)))
    also = RULE_ALSO_NEEDS.get(rule.fact)
    if known and also is not None and _is_missing(also, case):
        return _ask(also, case)[1]
    return f"The terminal's rule “{rule.name}” needs the {rule.fact.partition(' in ')[0]}: state it, or ask the ship."


def _of_rules(case: FitCase) -> Iterator[tuple[Holder, str]]:
    for rule in case.berth.berthing.own_rules if case.berth.berthing else ():
        names = tuple(flat((RULE_NEEDS.get(rule.fact, ()),)))
        if all(_is_missing(name, case) for name in names):  # of cargo and rate nobody but the visit can tell
            yield (HOLDERS[names[-1].partition(":")[0]] if names else "visit"), rule_question(rule, case)


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
