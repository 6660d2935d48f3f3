"""The table of a screening: which pairs, in which order, and what is written about each (pure: no Django)."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from compat.case.binding_arrays import KINDS, NONE, PLACES
from compat.fit.catalogue import CHECKS, WORDS
from compat.fit.doubts import FIT_DOUBTED, RATE_DOUBTED
from compat.fit.showing import STATES
from compat.screening.results import CHANGE_WORDS, NO_POINT, NOT_WORKED_OUT, THROTTLED, Results

LIMIT_WORDS: Mapping[str, str] = {
    "agreed-manifold-pressure": "agreed manifold pressure",
    "berth-manifold-pressure": "berth's own manifold pressure limit",
    "ship-manifold-rating": "rating of the ship's manifold",
    "arm-rating": "rating of an arm or hose",
    "arm-velocity": "velocity in an arm or hose",
    "shore-rating": "rating of the shore line",
    "shore-velocity": "velocity in the shore line",
    "receiving-rate": "highest receiving rate ashore",
    "inert-gas": "inert gas delivery",
    "ship-line-velocity": "velocity in the ship's lines",
    "rated-flow": "rated flow of a pump",
    "greatest-flow": "greatest continuous flow of a pump",
    "speed": "greatest speed of a pump",
    "power": "driver of a pump",
    "npsh": "suction of a pump (NPSH)",
    "ship-line-rating": "rating of the ship's lines",
}
_NO_RATE = {NO_POINT: "no operating point", NOT_WORKED_OUT: "not worked out: facts are missing"}
DOUBT_WORDS: Mapping[int, str] = {
    FIT_DOUBTED: "the fit",
    RATE_DOUBTED: "the rate",
    FIT_DOUBTED + RATE_DOUBTED: "fit and rate",
}
_ORDER = np.array([0, 1, 2, 3, 4])  # verdicts: does not apply, within, by agreement, not decided, outside


@dataclass(frozen=True)
class Row:
    """One pair as the table writes it; numbers are None where there are none."""

    place: int
    ship_place: int
    berth_place: int
    cargo_place: int
    ship: str
    berth: str
    cargo: str
    fit: str
    style: str
    sign: str
    decided_by: str
    undecided: int
    doubted: str
    rate_m3_per_h: float | None
    hours: float | None
    pressure_bar_gauge: float | None
    speed_rpm: float | None
    limit: str
    note: str
    change: str
    gain_m3_per_h: float | None
    gain_h: float | None


def filtered(made: Results, asked: Mapping[str, str], search: np.ndarray | None = None) -> np.ndarray:
    """Return the rows that a filter lets through; ``search`` tells which rows have the words searched for."""
    keep = np.ones(len(made), dtype=bool) if search is None else search
    columns = {"fit": made.verdict, "ship": made.ship, "berth": made.berth, "cargo": made.cargo, "change": made.change}
    for name, column in columns.items():
        if name in asked:
            keep = keep & (column == int(asked[name]))
    if "rate" in asked:
        keep = keep & (np.isfinite(made.rate_m3_per_h) == (asked["rate"] == "with"))
    if "least_rate" in asked:
        keep = keep & (made.rate_m3_per_h >= float(asked["least_rate"]))
    if "most_hours" in asked:
        keep = keep & (made.hours <= float(asked["most_hours"]))
    if "doubt" in asked:
        keep = keep & ((made.doubt > 0) == (asked["doubt"] == "with"))
    if "limit" in asked:
        kind = np.where(made.binding == NONE, -1, made.binding // PLACES)
        keep = keep & (kind == int(asked["limit"]))
    return np.flatnonzero(keep)


SORTS: Mapping[str, Callable[[Results], np.ndarray]] = {
    "ship": lambda made: made.ship,
    "berth": lambda made: made.berth,
    "cargo": lambda made: made.cargo,
    "fit": lambda made: _ORDER[made.verdict] * 1000 + made.undecided,
    "rate": lambda made: made.rate_m3_per_h,
    "hours": lambda made: made.hours,
    "limit": lambda made: made.binding // PLACES,
    "gain": lambda made: made.gain_m3_per_h,
}
DEFAULT_SORT = "fit"


def ordered(made: Results, rows: np.ndarray, sort: str) -> np.ndarray:
    """Return rows in the order asked for, ``-name`` the other way; what has no value comes last either way.

    Without a known name: what fits first, the highest rate first within that.
    """
    name = sort.removeprefix("-")
    if name not in SORTS:
        return rows[np.lexsort((-np.nan_to_num(made.rate_m3_per_h[rows]), SORTS[DEFAULT_SORT](made)[rows]))]
    values = SORTS[name](made)[rows].astype(float)
    known = np.isfinite(values)
    order = np.argsort(-values[known] if sort.startswith("-") else values[known], kind="stable")
    return np.concatenate([rows[known][order], rows[~known]])


def rows_of(
    made: Results, places: Sequence[int], ships: Sequence[str], berths: Sequence[str], cargoes: Sequence[str]
) -> list[Row]:
    """Return pairs as the table writes them."""
    return [_row(made, int(place), ships, berths, cargoes) for place in places]


def limit_word(code: int) -> str:
    """Return what a binding limit is called, whichever arm, segment or pump it belongs to."""
    return "" if code == NONE else LIMIT_WORDS[KINDS[code // PLACES]]


def _row(made: Results, place: int, ships: Sequence[str], berths: Sequence[str], cargoes: Sequence[str]) -> Row:
    ship, berth, cargo = int(made.ship[place]), int(made.berth[place]), int(made.cargo[place])
    word = WORDS[int(made.verdict[place])]
    style, sign = STATES[word]
    outcome = int(made.outcome[place])
    note = _NO_RATE.get(outcome, "throttling needed" if outcome == THROTTLED else "")
    return Row(
        place=place,
        ship_place=ship,
        berth_place=berth,
        cargo_place=cargo,
        ship=ships[ship],
        berth=berths[berth],
        cargo=cargoes[cargo],
        fit=word,
        style=style,
        sign=sign,
        decided_by="" if word == "within" else CHECKS[int(made.deciding[place])].label,
        undecided=int(made.undecided[place]),
        doubted=DOUBT_WORDS.get(int(made.doubt[place]), ""),
        rate_m3_per_h=_number(made.rate_m3_per_h[place]),
        hours=_number(made.hours[place]),
        pressure_bar_gauge=_number(made.pressure_bar_gauge[place]),
        speed_rpm=_number(made.speed_rpm[place]),
        limit=limit_word(int(made.binding[place])),
        note=note,
        change=CHANGE_WORDS[int(made.change[place])],
        gain_m3_per_h=_number(made.gain_m3_per_h[place]),
        gain_h=_number(made.gain_h[place]),
    )


def _number(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None
