"""Parts of a line before it is cut into a grid: short ones joined, one cut where a relief valve stands (pure)."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from compat.calc.surge.grid import Run
from shared.calc.errors import InputError

ARMS, RELIEF = "arms", "relief valve"


@dataclass(frozen=True)
class Part:
    """A run by the name that people know it by, and what stands at its end."""

    run: Run
    name: str
    ends: frozenset[str] = frozenset()


def place_of(parts: list[Part], key: str) -> int | None:
    """Return behind which part something stands, or None."""
    return next((i for i, part in enumerate(parts) if key in part.ends), None)


def joined(parts: list[Part], shortest_m: float) -> tuple[list[Part], list[str]]:
    """Put parts too short for a grid into the longer of their neighbours, with their loss and their lower rating.

    Nothing is joined across a place where something stands.
    """
    kept, notes, alone = list(parts), list[str](), set[str]()
    while True:
        short = next((i for i, p in enumerate(kept) if p.run.length_m < shortest_m and p.name not in alone), None)
        if short is None:
            return kept, notes
        beside = [i for i in (short - 1, short + 1) if 0 <= i < len(kept) and not kept[min(i, short)].ends]
        if not beside:
            alone.add(kept[short].name)
            continue
        into = max(beside, key=lambda i: kept[i].run.length_m)
        notes.append(
            f"{kept[short].run.name} is shorter than {shortest_m:g} m and counts as part of {kept[into].name}."
        )
        first = min(short, into)
        kept[first : first + 2] = [_together(kept[first], kept[first + 1], kept[into])]


def _together(first: Part, last: Part, longer: Part) -> Part:
    run = replace(
        longer.run,
        length_m=first.run.length_m + last.run.length_m,
        loss_m=first.run.loss_m + last.run.loss_m,
        start_elevation_m=first.run.start_elevation_m,
        end_elevation_m=last.run.end_elevation_m,
        rating_pa_gauge=min(first.run.rating_pa_gauge, last.run.rating_pa_gauge),
    )
    return Part(run, longer.name, last.ends)


def split_at(parts: list[Part], name: str, distance_m: float, shortest_m: float) -> list[Part]:
    """Cut a part in two where its relief valve stands; raise InputError where it is too short for that."""
    found: list[Part] = []
    for part in parts:
        if part.name != name:
            found.append(part)
            continue
        run = part.run
        if run.length_m <= 2 * shortest_m:
            raise InputError(f"{run.name} is too short for a relief valve on it; put the valve on a longer run.")
        at = float(np.clip(distance_m, shortest_m, run.length_m - shortest_m))
        share = at / run.length_m
        middle = run.start_elevation_m + share * (run.end_elevation_m - run.start_elevation_m)
        first = replace(run, length_m=at, loss_m=share * run.loss_m, end_elevation_m=middle)
        second = replace(run, length_m=run.length_m - at, loss_m=(1.0 - share) * run.loss_m, start_elevation_m=middle)
        found += [Part(first, name, frozenset({RELIEF})), Part(second, name, part.ends)]
    return found
