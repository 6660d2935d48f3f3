"""Questions about a ship's size: figures that would be usual in another unit, or fit nothing else (pure: no Django).

A question is no refusal: odd ships exist. Ranges are of the length, beam and draught of tankers over the cube root of
their deadweight, wide around ships of 3,000 to 320,000 t (common practice, no source).
"""

from __future__ import annotations

from typing import NamedTuple

from shared.quantities import figure
from vessels.facts import ShipFacts

_FOOT_M = 0.3048


class _Usual(NamedTuple):
    """A dimension in m over the cube root of the deadweight in t."""

    key: str
    label: str
    least: float
    greatest: float


_USUAL = (
    _Usual("length_overall_m", "Length overall", 4.0, 8.0),
    _Usual("beam_m", "Beam", 0.65, 1.35),
    _Usual("summer_draught_m", "Summer draught", 0.22, 0.5),
)


def size_questions(ship: ShipFacts) -> tuple[str, ...]:
    """Return a question for each dimension that is unusual beside the stated deadweight."""
    deadweight = ship.particulars.summer_deadweight_t
    if deadweight is None:
        return ()
    root = deadweight ** (1.0 / 3.0)
    found = []
    for usual in _USUAL:
        stated = getattr(ship.particulars, usual.key)
        if stated is None or usual.least <= stated / root <= usual.greatest:
            continue
        beside = f"{usual.label} {figure(stated, 'm')} m is unusual beside a deadweight of {figure(deadweight, 't')} t"
        if usual.least <= stated * _FOOT_M / root <= usual.greatest:
            found.append(
                f"{beside}; {figure(stated, 'm')} ft would be {figure(stated * _FOOT_M, 'm')} m. Is it in feet?"
            )
        else:
            found.append(f"{beside}. Is it right?")
    return tuple(found)
