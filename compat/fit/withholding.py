"""Takes out of a fit what tells about arms that a terminal keeps to itself; verdicts stay (pure: no Django)."""

from __future__ import annotations

from dataclasses import replace

from compat.fit.answer import Fit, FitRow
from compat.fit.doubts import KEPT_BACK

ASK_OF_THE_ARMS = "Ask the terminal; it keeps the data of its arms to itself."
OF_THE_ARMS = frozenset({"arms-connected", "reducers", "connection-rating"})


def without_arms(fit: Fit) -> Fit:
    """Return a fit in which checks of the arms keep their verdict, and nothing of what the terminal states."""
    rows = tuple(_without(row) if row.key in OF_THE_ARMS else row for row in fit.rows)
    doubts = tuple((owner, KEPT_BACK if owner == "berth" else doubt) for owner, doubt in fit.rate_doubts)
    return replace(fit, rows=rows, rate_doubts=doubts)


def _without(row: FitRow) -> FitRow:
    facts = tuple(fact for fact in row.facts if fact.holder != "terminal")
    asks = (ASK_OF_THE_ARMS,) if row.asks else ()
    return replace(row, value=None, limit=None, margin=None, facts=facts, asks=asks, doubts=())
