"""Rows of nested array records: take some cases out, solve them apart, put them back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, is_dataclass
from functools import lru_cache
from typing import Any, TypeVar, cast

import numpy as np

Record = TypeVar("Record")


def map_arrays(function: Callable[..., Any], *records: Record) -> Record:
    """Apply a function to each array of one or several records of the same kind, at any depth."""
    first: Any = records[0]
    if isinstance(first, np.ndarray):
        result: Record = function(*records)
        return result
    if first is None:  # a part that none of the cases has
        return cast(Record, None)
    if not is_dataclass(first):
        raise TypeError(f"{type(first).__name__} holds no arrays")
    made: Any = type(first)
    changed = {name: map_arrays(function, *(getattr(record, name) for record in records)) for name in _names_of(made)}
    return cast(Record, made(**changed))


@lru_cache(maxsize=64)
def _names_of(kind: type) -> tuple[str, ...]:
    return tuple(field.name for field in fields(kind))


def take(record: Record, rows: np.ndarray) -> Record:
    """Return the chosen rows of every array of a record."""
    return map_arrays(lambda array: array[rows], record)


def place(record: Record, rows: np.ndarray, part: Record) -> Record:
    """Return a record whose chosen rows are those of ``part``; the given one stays as it was."""

    def put(array: np.ndarray, new: np.ndarray) -> np.ndarray:
        changed = array.copy()
        changed[rows] = new
        return changed

    return map_arrays(put, record, part)


def repeat_row(record: Record, times: int) -> Record:
    """Return a record of one row as if it had been given ``times`` times."""
    return map_arrays(lambda array: np.broadcast_to(array, (times, *array.shape[1:])), record)


def fold_rows(record: Record, shape: tuple[int, ...]) -> Record:
    """Return a record whose first axis is folded into several."""
    return map_arrays(lambda array: array.reshape(*shape, *array.shape[1:]), record)
