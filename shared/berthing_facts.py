"""What ship and terminal both state about a ship at a berth (pure: no Django): words, reducers, who stated what."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from shared.facts import Day, Facts, FlangeKey, NotText, OptionalText, quantity

MooringPlace = Literal["head line", "fore breast", "fore spring", "aft spring", "aft breast", "stern line"]
MOORING_PLACES: tuple[str, ...] = MooringPlace.__args__  # type: ignore[attr-defined]
Certificate = Literal[
    "classification",
    "safety construction",
    "safety equipment",
    "safety radio",
    "load line",
    "oil pollution prevention",
    "air pollution prevention",
    "document of compliance",
    "safety management",
    "ship security",
    "maritime labour",
    "civil liability, oil pollution",
    "civil liability, bunkers",
    "fitness, chemicals in bulk",
    "cargo hose test",
    "crane test",
]
CERTIFICATES: tuple[str, ...] = Certificate.__args__  # type: ignore[attr-defined]
Sureness = Literal["measured", "certificate", "stated", "assumed"]
YesNo = Literal["fitted", "not fitted"]

FlangeSize = quantity("mm", 40, 700, "Size of the flange; the nearest nominal size counts")
Force = quantity("kN", 1, 10_000, "Force")
MOST_ROWS = 40


class ReducerFacts(Facts):
    """A reducer or adapter: what it bolts to on its owner's side, and what it offers to the other side."""

    own_size_mm: FlangeSize
    own_flange: FlangeKey
    other_size_mm: FlangeSize
    other_flange: FlangeKey
    count: Annotated[int, Field(ge=1, le=16), NotText]


class Statement(Facts):
    """Who stated a fact, when, and how sure; what no statement names counts as stated with its revision."""

    sure: Sureness
    by: OptionalText = ""
    on: Day | None = None
