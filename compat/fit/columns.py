"""Facts as columns of numbers: one array for each key, one row for each ship, berth, visit or cargo (pure: no Django).

A key is the way to a fact in its document, such as ``particulars.beam_m``. Numbers stay in the unit of their key,
since checks compare like with like; a word is its place in the closed list; what is not known is NaN.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Any

import numpy as np

from shared.calc.root import Array
from shared.facts import Facts
from shared.facts_reading import FactField, fields_of


@dataclass(frozen=True)
class Columns:
    """Arrays by key, all with the same rows."""

    arrays: Mapping[str, Array]

    def __getitem__(self, key: str) -> Array:
        """Return one column; its first axis counts the rows."""
        return self.arrays[key]

    def take(self, rows: np.ndarray) -> Columns:
        """Return some rows, in any order and as often as asked."""
        return Columns({key: array[rows] for key, array in self.arrays.items()})


@dataclass(frozen=True)
class Pairs:
    """Ships at berths, row by row: what is stated about ship, berth, visit and cargo, and what links them."""

    ship: Columns
    berth: Columns
    visit: Columns
    cargo: Columns

    def __getitem__(self, key: str) -> Array:
        """Return a column by owner and key, such as ``ship:particulars.beam_m``."""
        owner, _, inner = key.partition(":")
        side: Columns = getattr(self, owner)
        return side[inner]


def value_at(document: Facts, key: str) -> Any:
    """Return the fact at a key, or None where it, or a part on the way to it, is not known."""
    value: Any = document
    for part in key.split("."):
        if value is None:
            return None
        value = getattr(value, part)
    return None if value in ("", []) else value


@cache
def read_at(model: type[Facts], key: str) -> FactField:
    """Return how the key at the end of a way reads in forms and pages."""
    first, _, rest = key.partition(".")
    read = fields_of(model)[first]
    if not rest:
        return read
    if read.inner is None:
        raise KeyError(f"{key} leads into {first}, which is no document.")
    return read_at(read.inner, rest)


def label_at(model: type[Facts], key: str) -> str:
    """Return what the fact at a key is called where its part of the document is not told beside it."""
    label = read_at(model, key).label
    if not key.startswith("manifold.") or "manifold" in label.lower():
        return label
    return f"Manifold {label[:1].lower()}{label[1:]}"


def numbers_at(model: type[Facts], documents: Sequence[Facts], keys: Sequence[str]) -> dict[str, Array]:
    """Return one column of numbers for each key."""
    return {key: _column(read_at(model, key), [value_at(one, key) for one in documents]) for key in keys}


def _column(read: FactField, values: Sequence[Any]) -> Array:
    if read.kind == "choice":
        places = {choice: float(place) for place, choice in enumerate(read.choices)}
        return np.array([np.nan if value is None else places[value] for value in values])
    if read.kind == "day":
        return np.array([_day_number(value) for value in values])
    return np.array([np.nan if value is None else float(value) for value in values])


def _day_number(day: date | None) -> float:
    return np.nan if day is None else float(day.toordinal())
