"""Numbers of a case by their dotted key: read one, change one, find the ends of its tolerance (pure: no Django)."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any, cast

from pydantic import BaseModel

from compat.case.case_file import CaseError, CaseFile, Tolerance, case_document, check_case

Place = tuple[str | int, ...]
_PART = re.compile(r"([a-z][a-z0-9_]*)|\[(\d{1,4})\]")


def place_of(key: str) -> Place:
    """Split a dotted key such as ``berth.shore_line[2].roughness_mm``; raise CaseError for anything else."""
    parts = [name or int(index) for name, index in _PART.findall(key)]
    if written(tuple(parts)) != key:
        raise CaseError([f"{key} is not the key of a number; write it as in cargo.density_kg_per_m3 or ship.pumps[0]."])
    return tuple(parts)


def written(place: Place) -> str:
    """Write a place as a dotted key."""
    text = "".join(f"[{part}]" if isinstance(part, int) else f".{part}" for part in place)
    return text.removeprefix(".")


def number_at(case: CaseFile, key: str) -> float:
    """Return the number at a key; raise CaseError where there is none."""
    found: object = case
    for part in place_of(key):
        found = _step(found, part)
    if isinstance(found, bool) or not isinstance(found, int | float):
        raise CaseError([f"tolerances: {key} is not a number that this case states; correct the key."])
    return float(found)


def _step(found: object, part: str | int) -> object:
    if isinstance(part, int):
        return found[part] if isinstance(found, Sequence) and part < len(found) else None
    return getattr(found, part, None) if isinstance(found, BaseModel) and part in type(found).model_fields else None


def changed(case: CaseFile, values: Mapping[Place, float]) -> CaseFile:
    """Return the case with some numbers changed and everything else shared with it; nothing is checked again."""
    return cast(CaseFile, _changed(case, values))


def _changed(found: Any, values: Mapping[Place, float]) -> Any:
    if () in values:
        return values[()]
    parts: dict[str | int, dict[Place, float]] = {}
    for (part, *rest), value in values.items():
        parts.setdefault(part, {})[tuple(rest)] = value
    if isinstance(found, list):
        return [_changed(item, parts[i]) if i in parts else item for i, item in enumerate(found)]
    update = {str(part): _changed(getattr(found, str(part)), inner) for part, inner in parts.items()}
    return found.model_copy(update=update)


def ends(case: CaseFile, tolerance: Tolerance) -> tuple[float, float]:
    """Return the ends of a tolerance, both checked in the case; raise CaseError if they don't fit it."""
    value = number_at(case, tolerance.key)
    if tolerance.least is not None and tolerance.greatest is not None:
        low, high = tolerance.least, tolerance.greatest
    elif tolerance.plus_minus is not None:
        low, high = value - tolerance.plus_minus, value + tolerance.plus_minus
    else:
        part = abs(value) * (tolerance.plus_minus_percent or 0.0) / 100.0
        if part == 0.0:
            raise CaseError([f"tolerances: {tolerance.key} is 0, and a part of it is nothing; state plus_minus."])
        low, high = value - part, value + part
    for end in (low, high):
        _check(case, tolerance.key, end)
    return low, high


def _check(case: CaseFile, key: str, value: float) -> None:
    bare = case.model_copy(update={"tolerances": []})
    check_case(case_document(changed(bare, {place_of(key): value})), f"tolerance of {key}")
