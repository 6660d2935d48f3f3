"""What changed between two runs of a screening, pair by pair (pure: no Django)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from compat.case.binding_arrays import PLACES
from compat.fit.catalogue import WORDS
from compat.screening.results import Results
from compat.screening.table import limit_word

_RATE_SHOWN = 0.5  # m3/h: less is not seen where rates are written without decimals
Mark = tuple[int, int, str]


@dataclass(frozen=True)
class Run:
    """One run: its results, and what tells ships, berths and cargoes apart in every run."""

    results: Results
    ship_keys: Sequence[int]
    berth_keys: Sequence[int]
    cargo_names: Sequence[str]

    def marks(self) -> list[Mark]:
        """Return what tells each pair apart."""
        made = self.results
        return [
            (self.ship_keys[ship], self.berth_keys[berth], self.cargo_names[cargo])
            for ship, berth, cargo in zip(made.ship.tolist(), made.berth.tolist(), made.cargo.tolist(), strict=True)
        ]


@dataclass(frozen=True)
class PairChange:
    """One pair that differs; ``place`` is its row in the later run, or in the earlier one where it is gone."""

    kind: Literal["changed", "new", "gone"]
    place: int
    fit_before: str
    fit_after: str
    rate_before: float | None
    rate_after: float | None
    limit_before: str
    limit_after: str

    @property
    def fit_changed(self) -> bool:
        """Tell whether the verdict is another one."""
        return self.fit_before != self.fit_after


def changes_between(before: Run, after: Run) -> list[PairChange]:
    """Return the pairs that differ in fit, rate or binding limit, or are in one run only; what fits otherwise first."""
    old = {mark: place for place, mark in enumerate(before.marks())}
    found = []
    seen = set()
    for place, mark in enumerate(after.marks()):
        earlier = old.get(mark)
        if earlier is None:
            found.append(_change("new", place, None, None, after.results, place))
            continue
        seen.add(mark)
        if _differs(before.results, earlier, after.results, place):
            found.append(_change("changed", place, before.results, earlier, after.results, place))
    gone = [place for mark, place in old.items() if mark not in seen]
    found += [_change("gone", place, before.results, place, None, None) for place in gone]
    return sorted(found, key=lambda change: (not change.fit_changed, change.place))


def _differs(before: Results, old: int, after: Results, new: int) -> bool:
    if before.verdict[old] != after.verdict[new] or before.outcome[old] != after.outcome[new]:
        return True
    if before.binding[old] // PLACES != after.binding[new] // PLACES:
        return True
    one, other = before.rate_m3_per_h[old], after.rate_m3_per_h[new]
    return bool(np.isfinite(one) and np.isfinite(other) and abs(one - other) >= _RATE_SHOWN)


def _change(
    kind: Literal["changed", "new", "gone"],
    place: int,
    before: Results | None,
    old: int | None,
    after: Results | None,
    new: int | None,
) -> PairChange:
    fit_before, rate_before, limit_before = _said(before, old)
    fit_after, rate_after, limit_after = _said(after, new)
    return PairChange(kind, place, fit_before, fit_after, rate_before, rate_after, limit_before, limit_after)


def _said(made: Results | None, place: int | None) -> tuple[str, float | None, str]:
    if made is None or place is None:
        return "", None, ""
    rate = float(made.rate_m3_per_h[place])
    return (
        WORDS[int(made.verdict[place])],
        rate if np.isfinite(rate) else None,
        limit_word(int(made.binding[place])),
    )
