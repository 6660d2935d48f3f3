"""What a screening says of each pair, as columns that are sorted, filtered and stored as they are (pure: no Django)."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

FOUND, THROTTLED, NO_POINT, NOT_WORKED_OUT = range(4)
NO_CHANGE, MORE_PRESSURE, MORE_SPEED, MORE_ARMS = range(4)
CHANGE_WORDS = ("", "1 bar more at the manifold", "100 rpm more on every pump", "one more arm or hose of that kind")


@dataclass(frozen=True)
class Results:
    """One row for each pair: places of ship, berth and cargo in the screening's lists, verdict and rate.

    Rates in m3/h, pressures in bar over atmosphere, speeds in rpm, hours at the steady rate; NaN where there is none.
    ``binding`` is a number of ``binding_arrays``, ``change`` the one step that moves it, with what it would bring.
    ``open_checks`` has a bit for each check that is not decided, by its place; ``doubt`` tells what stands on an old
    or assumed fact (``compat.fit.doubts``).
    """

    ship: np.ndarray
    berth: np.ndarray
    cargo: np.ndarray
    verdict: np.ndarray
    deciding: np.ndarray
    undecided: np.ndarray
    open_checks: np.ndarray
    doubt: np.ndarray
    outcome: np.ndarray
    rate_m3_per_h: np.ndarray
    pressure_bar_gauge: np.ndarray
    speed_rpm: np.ndarray
    hours: np.ndarray
    binding: np.ndarray
    change: np.ndarray
    gain_m3_per_h: np.ndarray
    gain_h: np.ndarray

    def __len__(self) -> int:
        """Return how many pairs there are."""
        return int(self.ship.size)

    def take(self, rows: np.ndarray) -> Results:
        """Return some rows in some order."""
        return Results(*(getattr(self, field.name)[rows] for field in fields(self)))

    def to_bytes(self) -> bytes:
        """Return the columns as a compressed file of arrays."""
        file = io.BytesIO()
        np.savez_compressed(file, **{field.name: getattr(self, field.name) for field in fields(self)})
        return file.getvalue()


TYPES = {
    "ship": np.int32,
    "berth": np.int32,
    "cargo": np.int16,
    "verdict": np.int8,
    "deciding": np.int16,
    "undecided": np.int16,
    "open_checks": np.int64,
    "doubt": np.int8,
    "outcome": np.int8,
    "binding": np.int32,
    "change": np.int8,
}


def from_bytes(stored: bytes) -> Results:
    """Return the columns of a file that ``to_bytes`` wrote; what an earlier version did not keep is empty."""
    with np.load(io.BytesIO(stored), allow_pickle=False) as file:
        blank = empty(file["ship"].size)
        return Results(**{one.name: file.get(one.name, getattr(blank, one.name)) for one in fields(Results)})


def joined(parts: Sequence[Results]) -> Results:
    """Return parts one behind the other."""
    if not parts:
        return empty(0)
    return Results(*(np.concatenate([getattr(part, field.name) for part in parts]) for field in fields(Results)))


def empty(rows: int) -> Results:
    """Return so many rows of which nothing is known yet."""
    made = {}
    for field in fields(Results):
        kind = TYPES.get(field.name, np.float64)
        made[field.name] = np.full(rows, np.nan) if kind is np.float64 else np.zeros(rows, dtype=kind)
    return Results(**made)
