"""Checks of flanges, ratings and moorings (pure: no Django)."""

from __future__ import annotations

import numpy as np

from compat.calc.fit.connections import Connected, connected
from compat.calc.fit.moorings import (
    BREAST_FROM_SQUARE_DEGREES,
    SPRING_FROM_SIDE_DEGREES,
    STEEPEST_DEGREES,
    from_square_degrees,
    steepness_degrees,
)
from compat.calc.fit.verdicts import AGREE, WITHIN, Judged, at_least, at_most, by_agreement, only_where, worst_along
from compat.fit.check import Check
from compat.fit.columns import Pairs
from compat.fit.size_checks import moments
from shared.berthing_facts import MOORING_PLACES
from shared.calc.root import Array

_CONNECTIONS, _FLANGE, _BORE = "ship:manifold.connections", "ship:manifold.flange", "ship:manifold.bore_mm"
_LINES, _HOOKS = "ship:berthing.moorings", "berth:berthing.hooks"
_NEEDED = "berth:berthing.mooring."
_LEADS_GUIDANCE = (
    "Mooring Equipment Guidelines and BS 6349-4, from memory; the terminal's own mooring plan comes first."
)
_BREASTS = np.array(["breast" in name for name in MOORING_PLACES])
_SPRINGS = np.array(["spring" in name for name in MOORING_PLACES])


def connections(p: Pairs) -> Connected:
    """Return how many arms or hoses can be bolted to the manifold."""
    return connected(
        p["ship:flanges offered"],
        p[_CONNECTIONS],
        p["berth:arm offers"],
        p["berth:arm counts"],
        p["berth:arm codes"],
        p["ship:flange code"],
    )


def _number(p: Pairs) -> Judged:
    """Fewer than all arms are a matter of agreement, none at all is not."""
    arms = p["berth:arm counts"].sum(-1)
    found = connections(p).with_reducers
    return by_agreement(at_least(found, arms), found >= 1)


def _reducers(p: Pairs) -> Judged:
    """Tell that reducers are needed for as many arms as can be connected."""
    made = connections(p)
    judged = at_least(made.without, made.with_reducers)
    return only_where(by_agreement(judged), made.with_reducers >= 1)


def _rating(p: Pairs) -> Judged:
    agreed = np.where(
        np.isnan(p["visit:agreed pressure"]), p["berth:manifold_pressure_limit_bar_gauge"], p["visit:agreed pressure"]
    )
    ratings = np.minimum(p["ship:manifold.rating_bar_gauge"], p["berth:arm rating"])
    return at_most(agreed, ratings)


def _total(lines: Array) -> Array:
    stated = ~np.isnan(lines)
    return np.where(stated.any(-1), np.where(stated, lines, 0.0).sum(-1), np.nan)


def _line_number(p: Pairs) -> Judged:
    return at_least(_total(p["ship:lines"]), p[f"{_NEEDED}least_lines"])


def _hook_number(p: Pairs) -> Judged:
    judged = at_most(p["ship:lines"], p["berth:hooks"])
    return by_agreement(_over_places(judged, ~np.isnan(p["ship:lines"])))


def _line_strength(p: Pairs) -> Judged:
    judged = at_least(p["ship:breaking load, least"], p[f"{_NEEDED}least_breaking_load_kn"][..., None])
    return _over_places(judged, ~np.isnan(p["ship:lines"]))


def _hook_strength(p: Pairs) -> Judged:
    judged = at_most(p["ship:breaking load, most"], p["berth:hook rating"])
    return by_agreement(_over_places(judged, ~np.isnan(p["ship:lines"])))


def _mixed(p: Pairs) -> Judged:
    here = ~np.isnan(p["ship:lines"])
    judged = at_most(p["ship:materials"], np.ones_like(p["ship:materials"]))
    return by_agreement(_over_places(judged, here))


def _over_places(judged: Judged, here: np.ndarray) -> Judged:
    """Return what decides over the places where she has lines; without any line stated it is not decided."""
    narrowed = Judged(
        np.where(here, judged.verdict, WITHIN).astype(np.int8),
        judged.value,
        judged.limit,
        np.where(here, judged.margin, np.inf),
    )
    found = worst_along(narrowed)
    nothing = np.full(found.verdict.shape, np.nan)
    unknown = at_least(nothing, nothing)
    some = here.any(-1)
    return Judged(
        np.where(some, found.verdict, unknown.verdict).astype(np.int8),
        np.where(some, found.value, np.nan),
        np.where(some, found.limit, np.nan),
        np.where(some, found.margin, np.nan),
    )


def _steepness(p: Pairs) -> Judged:
    keel = moments(p)[0].keel_m
    worst = None
    for level in (keel.min(-1), keel.max(-1)):
        angle = steepness_degrees(
            p["ship:fairlead along"],
            p["ship:fairlead over keel"] + level[..., None],
            p["berth:hook along"],
            p["berth:hook setback"],
            p["berth:hook elevation"],
        )
        worst = angle if worst is None else np.fmax(worst, angle)
    return _where_known(worst, np.full(len(MOORING_PLACES), STEEPEST_DEGREES))


def _leads(p: Pairs) -> Judged:
    square = from_square_degrees(p["ship:fairlead along"], p["berth:hook along"], p["berth:hook setback"])
    value = np.where(_SPRINGS, 90.0 - square, square)
    most = np.where(_BREASTS, BREAST_FROM_SQUARE_DEGREES, np.where(_SPRINGS, SPRING_FROM_SIDE_DEGREES, np.inf))
    return _where_known(np.where(_BREASTS | _SPRINGS, value, np.nan), most)


def _where_known(angle: Array | None, most: Array) -> Judged:
    """Judge the angles that are known; where none is, the check does not apply. Guidance is met by agreement."""
    if angle is None:
        raise ValueError("There is no level to look at.")
    known = ~np.isnan(angle)
    judged = at_most(np.where(known, angle, 0.0), np.where(known, most, np.inf))
    found = worst_along(judged)
    found = Judged(
        np.where(found.verdict == WITHIN, WITHIN, AGREE).astype(np.int8), found.value, found.limit, found.margin
    )
    return only_where(found, np.asarray(known.any(-1)))


CONNECTION_CHECKS = (
    Check(
        "arms-connected",
        "Arms or hoses that can be bolted to her manifold",
        "Connection",
        "1",
        (_CONNECTIONS, _FLANGE, _BORE, "berth:arms"),
        _number,
        agreement="Not every arm can be connected: agree on fewer, or find reducers.",
    ),
    Check(
        "reducers",
        "Arms that need no reducer",
        "Connection",
        "1",
        (_CONNECTIONS, _FLANGE, _BORE, "berth:arms"),
        _reducers,
        agreement="Reducers from the ship's or the shore's list are needed: agree whose, and their rating.",
        guidance="A reducer counts with its own rating and its own bore.",
    ),
    Check(
        "connection-rating",
        "Manifold pressure against ratings of manifold and arms",
        "Connection",
        "bar",
        (
            "ship:manifold.rating_bar_gauge",
            "berth:arms",
            ("visit:agreed pressure", "berth:manifold_pressure_limit_bar_gauge"),
        ),
        _rating,
        guidance="Flange ratings: ASME B16.5-2009, table 2-1.1; EN 1092-1, annex G, from memory.",
    ),
    Check("lines", "Number of mooring lines", "Moorings", "1", (_LINES, f"{_NEEDED}least_lines"), _line_number),
    Check(
        "hooks",
        "Mooring lines against hooks, where they are fewest",
        "Moorings",
        "1",
        (_LINES, _HOOKS),
        _hook_number,
        agreement="She has more lines in one place than there are hooks: agree the mooring plan.",
    ),
    Check(
        "line-strength",
        "Breaking load of the weakest line",
        "Moorings",
        "kN",
        (_LINES, f"{_NEEDED}least_breaking_load_kn"),
        _line_strength,
    ),
    Check(
        "hook-strength",
        "Breaking load of the strongest line against its hook's rating",
        "Moorings",
        "kN",
        (_LINES, _HOOKS),
        _hook_strength,
        agreement="A line can bear more than its hook is rated for: agree which hooks take which lines.",
        guidance=f"A hook is rated for no less than the breaking load of its line: {_LEADS_GUIDANCE}",
    ),
    Check(
        "line-materials",
        "Materials of lines in one place",
        "Moorings",
        "1",
        (_LINES,),
        _mixed,
        agreement="Lines of different materials share one place and one load unevenly: agree the mooring plan.",
        guidance=f"Lines for one service are of one material and size: {_LEADS_GUIDANCE}",
    ),
    Check(
        "line-steepness",
        "Steepest mooring line",
        "Moorings",
        "°",
        (_LINES, _HOOKS),
        _steepness,
        agreement="A line leads more steeply than the guidance: agree another lead, or tend it more closely.",
        guidance=_LEADS_GUIDANCE,
    ),
    Check(
        "line-leads",
        "Breast lines from square to the ship, springs from her side",
        "Moorings",
        "°",
        (_LINES, _HOOKS),
        _leads,
        agreement="A line leads outside the guidance: agree another hook or another fairlead.",
        guidance=_LEADS_GUIDANCE,
    ),
)
