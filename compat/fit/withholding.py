"""Takes out of a fit what tells about arms that a terminal keeps to itself; verdicts stay (pure: no Django)."""

from __future__ import annotations

from dataclasses import replace

from compat.fit.answer import Fit, FitRow

_OF_THE_ARMS = frozenset({"arms-connected", "reducers", "connection-rating"})


def without_arms(fit: Fit) -> Fit:
    """Return a fit in which checks of the arms keep their verdict, and nothing of what the terminal states."""
    return replace(fit, rows=tuple(_without(row) if row.key in _OF_THE_ARMS else row for row in fit.rows))


def _without(row: FitRow) -> FitRow:
    facts = tuple(fact for fact in row.facts if fact.holder != "terminal")
    asks = ("Ask the terminal; it keeps the data of its arms to itself.",) if row.asks else ()
    return replace(row, value=None, limit=None, margin=None, facts=facts, asks=asks, doubts=())
