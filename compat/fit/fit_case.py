"""What a fit is worked out from: ship, berth, cargo, visit, what the hydraulics say, and who stated what (pure)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from types import MappingProxyType
from typing import Literal

from compat.fit.check import Need
from compat.fit.origins import Stated
from compat.fit.visit import VisitFacts
from compat.fit.visit_columns import Outcome
from shared.cargo_facts import CargoFacts
from shared.facts import Facts
from terminals.facts import BerthFacts
from vessels.facts import ShipFacts

Holder = Literal["ship", "terminal", "visit"]
HOLDERS: Mapping[str, Holder] = MappingProxyType({"ship": "ship", "berth": "terminal", "visit": "visit"})
WORKED_OUT: Mapping[str, str] = MappingProxyType({"visit:agreed pressure": "the agreed manifold pressure"})


@dataclass(frozen=True)
class FitCase:
    """One ship at one berth with one cargo; ``outcome`` is what the hydraulics say, where they were asked.

    ``binding`` is the key of the limit that sets the rate, empty where there is none.
    """

    ship: ShipFacts
    berth: BerthFacts
    cargo: CargoFacts
    visit: VisitFacts
    outcome: Outcome | None = None
    binding: str = ""

    def document(self, owner: str) -> Facts:
        """Return the document of an owner as needs name them: ship, berth or visit."""
        document: Facts = getattr(self, owner)
        return document


@dataclass(frozen=True)
class Sources:
    """The versions of the ship's and the berth's documents, newest first, and the day on which it is asked."""

    ship: Sequence[Stated]
    berth: Sequence[Stated]
    today: date

    def of(self, owner: str) -> Sequence[Stated]:
        """Return the versions of an owner's document; a visit has none."""
        versions: Sequence[Stated] = getattr(self, owner, ())
        return versions


def flat(needs: Sequence[Need]) -> Iterator[str]:
    """Yield every fact that is named, also those of which one is enough."""
    for need in needs:
        yield from (need,) if isinstance(need, str) else need
