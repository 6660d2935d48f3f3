"""Old or assumed facts that decide: for one pair in sentences, for many pairs in arrays (pure: no Django)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from types import MappingProxyType
from typing import Literal

import numpy as np

from compat.calc.fit.verdicts import Judged
from compat.case.binding_arrays import KINDS, NONE, PLACES
from compat.fit.catalogue import CHECKS, is_narrow
from compat.fit.check import Need
from compat.fit.columns import Pairs, label_at, value_at
from compat.fit.fit_case import FitCase, Sources, flat
from compat.fit.origins import Origin, Stated, origin_of, statements_of
from compat.fit.service_checks import COUNTED, OWN_RULES, RULE_NEEDS, RULES_STATED, own_rules
from shared.facts import Facts
from terminals.berthing_facts import RULE_FACTS

Owner = Literal["ship", "berth"]
FIT_DOUBTED, RATE_DOUBTED = 1, 2
KEPT_BACK = "A fact of the line that the terminal keeps to itself is old or assumed, and decides the rate."

_PUMPS = ("ship:pumps", "ship:common_line")
_SHORE = ("berth:arms", "berth:shore_line", "berth:shore_end")
RATE_NEEDS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "agreed-manifold-pressure": _SHORE,
        "berth-manifold-pressure": ("berth:manifold_pressure_limit_bar_gauge", *_SHORE),
        "ship-manifold-rating": ("ship:manifold.rating_bar_gauge", *_SHORE),
        "ship-line-rating": ("ship:cargo_line_rating_bar_gauge", "ship:common_line", *_SHORE),
        "arm-rating": _SHORE,
        "arm-velocity": ("berth:arms",),
        "shore-rating": _SHORE,
        "shore-velocity": ("berth:shore_line",),
        "receiving-rate": ("berth:receiving_rate_m3_per_h",),
        "inert-gas": ("ship:inert_gas_delivery_m3_per_h",),
        "ship-line-velocity": ("ship:ship_line_velocity_limit_m_per_s", "ship:common_line"),
        "rated-flow": ("ship:pumps",),
        "greatest-flow": ("ship:pumps",),
        "speed": (*_PUMPS, *_SHORE),
        "power": _PUMPS,
        "npsh": _PUMPS,
    }
)
"""The facts on which a rate stands, by the kind of limit that sets it: a cap on the flow stands on itself alone, a
pressure also on the shore that gives it, and the greatest speed on pumps and shore together."""


def kind_of_key(binding: str) -> str:
    """Return the kind of a binding limit from its key, such as ``speed`` from ``speed-P1``; empty where none is."""
    return next((kind for kind in KINDS if binding == kind or binding.startswith(f"{kind}-")), "")


def doubted(name: str, document: Facts, versions: Sequence[Stated], today: date) -> Origin | None:
    """Return where the fact of that name comes from, if it is stated, and is assumed or old; else None."""
    key = name.partition(":")[2]
    if not versions or value_at(document, key) is None:
        return None
    origin = origin_of(key, versions, statements_of(document))
    return origin if origin is not None and (origin.sure == "assumed" or origin.is_old(today)) else None


def sentence(what: str, origin: Origin, decides: str) -> str:
    """Say that an old or assumed fact decides, and what to do about it."""
    who = f"{origin.by}, {origin.on.day} {origin.on:%B %Y}"
    if origin.sure == "assumed":
        return f"{what} is assumed ({who}) and decides {decides}: have it measured or confirmed."
    return f"{what} is older than five years ({who}) and decides {decides}: have it confirmed."


def rate_doubts(case: FitCase, sources: Sources | None) -> Iterator[tuple[Owner, str]]:
    """Yield whose fact, and a sentence, for each old or assumed fact on which the rate stands."""
    if sources is None:
        return
    for name in RATE_NEEDS.get(kind_of_key(case.binding), ()):
        owner: Owner = "ship" if name.startswith("ship:") else "berth"
        document = case.document(owner)
        origin = doubted(name, document, sources.of(owner), sources.today)
        if origin is not None:
            yield owner, sentence(label_at(type(document), name.partition(":")[2]), origin, "the rate")


@dataclass(frozen=True)
class Doubtful:
    """What of one ship or berth stands on old or assumed facts: checks, facts that rules name, kinds of limit."""

    checks: np.ndarray
    rules: np.ndarray
    limits: np.ndarray


def doubtful(owner: Owner, document: Facts, versions: Sequence[Stated], today: date) -> Doubtful:
    """Return which checks, rules and rates an old or assumed fact of this ship or berth could decide."""
    known: dict[str, bool] = {}

    def any_of(needs: Sequence[Need]) -> bool:
        names = [name for name in flat(needs) if name.startswith(f"{owner}:")]
        for name in names:
            if name not in known:
                known[name] = doubted(name, document, versions, today) is not None
        return any(known[name] for name in names)

    return Doubtful(
        np.array([any_of(check.needs) for check in CHECKS]),
        np.array([any_of((RULE_NEEDS.get(fact, ()), RULES_STATED)) for fact in RULE_FACTS]),
        np.array([any_of(RATE_NEEDS[kind]) for kind in KINDS]),
    )


def stacked(sides: Sequence[Doubtful]) -> Doubtful:
    """Return several ships or berths as one, with a row for each."""
    return Doubtful(
        np.stack([side.checks for side in sides]),
        np.stack([side.rules for side in sides]),
        np.stack([side.limits for side in sides]),
    )


def taken(sides: Doubtful, rows: np.ndarray) -> Doubtful:
    """Return some rows, in any order and as often as asked."""
    return Doubtful(sides.checks[rows], sides.rules[rows], sides.limits[rows])


def doubts_of(judged: Sequence[Judged], pairs: Pairs, binding: np.ndarray, sides: Sequence[Doubtful]) -> np.ndarray:
    """Return for each pair FIT_DOUBTED, RATE_DOUBTED, both added, or 0; ``sides`` hold one row for each pair."""
    narrow = np.stack([is_narrow(check, one) for check, one in zip(CHECKS, judged, strict=True)], -1)
    fit = np.zeros(len(binding), dtype=bool)
    rate = np.zeros(len(binding), dtype=bool)
    kind = np.where(binding == NONE, 0, binding // PLACES)[:, None]
    for side in sides:
        fit |= (narrow & side.checks).any(-1)
        rate |= np.take_along_axis(side.limits, kind, -1)[:, 0]
    fit |= _rules_doubted(pairs, sides)
    told: np.ndarray = FIT_DOUBTED * fit.astype(np.int8) + RATE_DOUBTED * (rate & (binding != NONE)).astype(np.int8)
    return told


def rules_narrow(pairs: Pairs) -> np.ndarray:
    """Tell where each of the terminal's own rules is not passed with room to spare; counts may be even."""
    judged, named = own_rules(pairs), pairs["berth:rule facts"]
    counted = np.isin(named, [RULE_FACTS.index(fact) for fact in COUNTED])
    measured = is_narrow(replace(OWN_RULES, unit="m"), judged)
    narrow: np.ndarray = np.where(counted, is_narrow(OWN_RULES, judged), measured) & ~np.isnan(named)
    return narrow


def _rules_doubted(pairs: Pairs, sides: Sequence[Doubtful]) -> np.ndarray:
    named = pairs["berth:rule facts"]
    if not named.shape[-1]:
        return np.zeros(named.shape[0], dtype=bool)
    place = np.where(np.isnan(named), 0, named).astype(int)
    stands = np.any([np.take_along_axis(side.rules, place, -1) for side in sides], axis=0)
    found: np.ndarray = (rules_narrow(pairs) & stands).any(-1)
    return found
