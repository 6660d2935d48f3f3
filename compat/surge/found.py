"""What a search has found so far, so that it can be paused and taken up again (pure: no Django)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from math import inf
from time import monotonic

from compat.calc.surge.study import Margins

USUAL_QUESTIONS = 18
_MOST_TOLD = 0.97


class SearchPausedError(Exception):
    """The time given to a search is used up; what it found stands in its ``Found``."""


@dataclass
class Found:
    """The margins known by the name of each question; after ``until`` [s of the clock] a new one pauses it.

    At least one new question is answered each time, so that a search taken up again comes to its end.
    """

    known: dict[str, Margins] = field(default_factory=dict)
    until: float = inf
    valves: int = 1
    tell: Callable[[float], None] | None = None
    clock: Callable[[], float] = monotonic
    _new: int = field(default=0, init=False)

    @property
    def part(self) -> float:
        """Return about how much of a search is done, 0 to 1: how many questions it takes is not known before."""
        return min(len(self.known) / (USUAL_QUESTIONS * max(self.valves, 1)), _MOST_TOLD)

    def of(self, question: str, find: Callable[[], Margins]) -> Margins:
        """Return the margins known, or find them; raise SearchPausedError where the time is used up."""
        if question not in self.known:
            if self._new and self.clock() > self.until:
                raise SearchPausedError
            self.known[question] = find()
            self._new += 1
            if self.tell is not None:
                self.tell(self.part)
        return self.known[question]
