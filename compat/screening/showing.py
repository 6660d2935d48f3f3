"""What the pages of a screening read and put together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from urllib.parse import urlencode

import numpy as np
from django.core.paginator import Page, Paginator
from django.http import QueryDict

from compat.case.binding_arrays import KINDS, PLACES
from compat.fit.catalogue import WORDS
from compat.fit.showing import STATES
from compat.screening.comparing import PairChange, Run, changes_between
from compat.screening.forms import FilterForm
from compat.screening.models import Screening
from compat.screening.queries import Names, names_of, results_of
from compat.screening.results import Results
from compat.screening.states import OPEN_STATES
from compat.screening.table import LIMIT_WORDS, Row, filtered, ordered, rows_of

ROWS_ON_A_PAGE = 100
MATRIX_SHIPS, MATRIX_BERTHS = 40, 25
QUIET_AFTER = timedelta(seconds=90)
"""A worker writes with every piece; a screening that is running and silent for longer has lost its worker."""


@dataclass(frozen=True)
class Shown:
    """A screening with its names and results, read once for a page."""

    row: Screening
    names: Names
    cargoes: Sequence[str]
    results: Results


_ORDERS = (
    ("", "What fits, then the highest rate"),
    ("-rate", "Highest rate"),
    ("hours", "Fewest berth hours"),
    ("-gain", "What one change buys"),
    ("limit", "What sets the rate"),
    ("ship", "Ship"),
    ("berth", "Berth"),
)


@dataclass(frozen=True)
class Table:
    """One page of the table and how it was asked for, as the templates of lists need it."""

    page: Page[int]
    rows: Sequence[Row]
    search: str
    sort: str
    total: int
    kept: tuple[tuple[str, str], ...]
    form: FilterForm

    @property
    def orders(self) -> Sequence[tuple[str, str]]:
        """Return the orders to choose from, where heads that sort are not to be seen."""
        known = any(self.sort == order for order, _ in _ORDERS)
        return _ORDERS if known else (*_ORDERS, (self.sort, "As its column sorts"))

    @property
    def query(self) -> str:
        """Return the part of the address that keeps search, sort and filters on another page."""
        asked = (*self.kept, ("search", self.search), ("sort", self.sort))
        return urlencode({key: value for key, value in asked if value})


@dataclass(frozen=True)
class Cell:
    """One ship at one berth in the matrix; without results yet, the word is empty."""

    word: str
    style: str
    sign: str
    rate_m3_per_h: float | None
    ship: int
    berth: int


@dataclass(frozen=True)
class Matrix:
    """Ships down and berths across for one cargo, cut to what a page can hold."""

    cargo: int
    berths: Sequence[str]
    rows: Sequence[tuple[str, Sequence[Cell]]]
    ships_page: Page[int]
    berths_page: Page[int]


def shown(row: Screening) -> Shown:
    """Return a screening with all that its pages show."""
    return Shown(row, names_of(row), [cargo["name"] for cargo in row.terms["cargoes"]], results_of(row))


def progress_of(row: Screening, now: datetime) -> dict[str, Any]:
    """Return how far a screening has come, and whether its worker seems to be gone."""
    is_open = row.state in {str(state) for state in OPEN_STATES}
    return {
        "screening": row,
        "is_open": is_open,
        "percent": 100 * row.done // max(row.total, 1),
        "lost": is_open and now - row.beat_at > QUIET_AFTER,
    }


def table_of(this: Shown, asked: QueryDict, units: Mapping[str, str]) -> Table:
    """Return the page of the table that an address asks for."""
    form, keep = _filter(this, asked, units)
    search = asked.get("search", "").strip()[:100]
    sort = asked.get("sort", "")
    rows = picked(this, form.chosen(), search, sort)
    paginator = Paginator(rows, ROWS_ON_A_PAGE)
    page = paginator.get_page(asked.get("page"))
    return Table(page, written(this, list(page)), search, sort, len(rows), keep, form)


def picked(this: Shown, chosen: dict[str, str], search: str, sort: str) -> list[int]:
    """Return the pairs that filter and search let through, in the order asked for."""
    found = filtered(this.results, chosen, _search(this, search))
    return [int(place) for place in ordered(this.results, found, sort)]


def written(this: Shown, places: Sequence[int]) -> list[Row]:
    """Return pairs as the table writes them."""
    return rows_of(this.results, places, this.names.ships, this.names.berths, this.cargoes)


def export_picked(this: Shown, asked: QueryDict, units: Mapping[str, str]) -> list[Row]:
    """Return every row that the table shows on all its pages."""
    form, _ = _filter(this, asked, units)
    return written(this, picked(this, form.chosen(), asked.get("search", "").strip()[:100], asked.get("sort", "")))


def counts_of(made: Results) -> list[tuple[str, str, str, str, int]]:
    """Return verdict, word, style, sign and how many pairs have it, for those that occur."""
    found: list[tuple[str, str, str, str, int]] = []
    for word, (style, sign) in STATES.items():
        verdict = next(number for number, one in WORDS.items() if one == word)
        count = int((made.verdict == verdict).sum())
        if count:
            found.append((str(verdict), word, style, sign, count))
    return found


def matrix_of(this: Shown, asked: QueryDict) -> Matrix:
    """Return ships × berths for one cargo."""
    given = asked.get("cargo", "0")
    cargo = int(given) if given.isascii() and given.isdigit() and int(given) < len(this.cargoes) else 0
    ships = Paginator(range(len(this.names.ships)), MATRIX_SHIPS).get_page(asked.get("ships"))
    berths = Paginator(range(len(this.names.berths)), MATRIX_BERTHS).get_page(asked.get("berths"))
    places = _places(this, cargo)
    rows = [
        (this.names.ships[ship], [_cell(this, places.get((ship, berth)), ship, berth) for berth in berths])
        for ship in ships
    ]
    return Matrix(cargo, [this.names.berths[berth] for berth in berths], rows, ships, berths)


def changes_of(this: Shown) -> tuple[Shown, list[PairChange]] | None:
    """Return the earlier run and what changed since, or None where there is none."""
    if this.row.earlier is None:
        return None
    before = shown(this.row.earlier)
    return before, changes_between(_run(before), _run(this))


def _run(one: Shown) -> Run:
    return Run(one.results, one.names.ship_keys, one.names.berth_keys, one.cargoes)


def _filter(this: Shown, asked: QueryDict, units: Mapping[str, str]) -> tuple[FilterForm, tuple[tuple[str, str], ...]]:
    used = sorted({int(code) for code in np.unique(this.results.binding // PLACES) if code >= 0})
    form = FilterForm(
        asked,
        ships=[(str(place), name) for place, name in enumerate(this.names.ships)],
        berths=[(str(place), name) for place, name in enumerate(this.names.berths)],
        cargoes=[(str(place), name) for place, name in enumerate(this.cargoes)],
        limits=[(str(kind), LIMIT_WORDS[KINDS[kind]].capitalize()) for kind in used],
        units=units,
    )
    return form, tuple(form.typed().items())


def _search(this: Shown, search: str) -> np.ndarray | None:
    if not search:
        return None
    made = this.results
    keep = np.ones(len(made), dtype=bool)
    for word in search.casefold().split():
        has = [
            np.array([word in name.casefold() for name in names], dtype=bool)
            for names in (this.names.ships, this.names.berths, this.cargoes)
        ]
        keep &= has[0][made.ship] | has[1][made.berth] | has[2][made.cargo]
    return keep


def _places(this: Shown, cargo: int) -> dict[tuple[int, int], int]:
    made = this.results
    rows = np.flatnonzero(made.cargo == cargo)
    return dict(zip(zip(made.ship[rows].tolist(), made.berth[rows].tolist(), strict=True), rows.tolist(), strict=True))


def _cell(this: Shown, place: int | None, ship: int, berth: int) -> Cell:
    if place is None:
        return Cell("", "", "", None, ship, berth)
    word = WORDS[int(this.results.verdict[place])]
    rate = float(this.results.rate_m3_per_h[place])
    return Cell(word, *STATES[word], rate if np.isfinite(rate) else None, ship, berth)
