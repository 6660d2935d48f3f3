"""What a screening leaves open, and whom to ask: each question once, with how many pairs wait for it (pure)."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass

import numpy as np

from compat.calc.fit.verdicts import OUTSIDE, UNDECIDED
from compat.fit.catalogue import CHECKS
from compat.fit.check import Check
from compat.fit.fit_case import FitCase, Holder
from compat.fit.questions import questions
from compat.fit.visit_columns import Outcome
from compat.fit.withholding import ASK_OF_THE_ARMS, OF_THE_ARMS
from compat.screening.results import NOT_WORKED_OUT, Results
from compat.screening.sides import rated_berth, rated_ship
from compat.screening.terms import NotWorkedOutError, ScreeningTerms, agreed_pressure_bar, pair_case, visit_of
from shared.calc.errors import InputError
from terminals.facts import BerthFacts
from vessels.facts import ShipFacts

_PAIRS_LOOKED_AT = 3
_BEGINS: dict[Holder, str] = {"ship": "Ask the ship", "terminal": "Ask the terminal"}


@dataclass(frozen=True)
class Question:
    """One question; ``pairs`` wait for it, and ``alone`` of them for nothing else."""

    text: str
    pairs: int
    alone: int


@dataclass(frozen=True)
class Asked:
    """Whom to ask about which ship or berth: its place in the screening, and the pairs that wait for an answer."""

    holder: Holder
    place: int
    pairs: int


@dataclass(frozen=True)
class Asking:
    """The results of a screening with its documents; ``sees_arms`` tells whose arms the reader may know of."""

    terms: ScreeningTerms
    made: Results
    ships: Sequence[ShipFacts]
    berths: Sequence[BerthFacts]
    sees_arms: Callable[[int], bool]

    def asked(self) -> list[Asked]:
        """Return whom to ask, those first for whom most pairs wait; the visit itself comes before all."""
        waits = self._waiting()
        sides: tuple[tuple[Holder, np.ndarray], ...] = (("ship", self.made.ship), ("terminal", self.made.berth))
        found = [
            Asked(holder, int(place), int(count))
            for holder, side in sides
            for place, count in zip(*np.unique(side[waits], return_counts=True), strict=True)
        ]
        found.sort(key=lambda one: (-one.pairs, one.holder, one.place))
        return [Asked("visit", 0, int(waits.sum())), *found] if waits.any() else []

    def questions(self, one: Asked) -> list[Question]:
        """Return what to ask of one ship or berth, or to state for the visit."""
        made = self.made
        mine = {"ship": made.ship == one.place, "terminal": made.berth == one.place}.get(
            one.holder, np.ones(len(made), dtype=bool)
        )
        rows = np.flatnonzero(mine & (made.verdict == UNDECIDED))
        found: dict[str, Question] = {}
        for place, check in enumerate(CHECKS):
            here = rows[(made.open_checks[rows] >> place) & 1 == 1]
            alone = int((made.undecided[here] == 1).sum())
            for text in self._texts(check, here, one.holder):
                known = found.get(text, Question(text, 0, 0))
                found[text] = Question(text, max(known.pairs, here.size), max(known.alone, alone))
        without = np.flatnonzero(mine & self._without_rate())
        for text in self._for_the_rate(without, one.holder):
            found.setdefault(text, Question(text, without.size, 0))
        return sorted(found.values(), key=lambda question: (-question.alone, -question.pairs, question.text))

    def _waiting(self) -> np.ndarray:
        found: np.ndarray = (self.made.verdict == UNDECIDED) | self._without_rate()
        return found

    def _without_rate(self) -> np.ndarray:
        found: np.ndarray = (self.made.outcome == NOT_WORKED_OUT) & (self.made.verdict != OUTSIDE)
        return found

    def _texts(self, check: Check, rows: np.ndarray, holder: Holder) -> Iterator[str]:
        for row in _some(rows):
            for whose, text in questions(check, self._case(int(row))):
                if whose == holder:
                    kept_back = check.key in OF_THE_ARMS and holder == "terminal"
                    yield ASK_OF_THE_ARMS if kept_back and not self.sees_arms(int(self.made.berth[row])) else text

    def _for_the_rate(self, rows: np.ndarray, holder: Holder) -> Iterator[str]:
        for row in _some(rows):
            ship, berth, cargo = self._places(int(row))
            try:
                pair_case(
                    self.terms,
                    self.terms.cargoes[cargo],
                    self.ships[ship],
                    self.berths[berth],
                )
            except NotWorkedOutError as error:
                if str(error).startswith(_BEGINS.get(holder, "-")):
                    yield str(error)
            except InputError as error:
                if holder == "ship":
                    yield str(error)

    def _case(self, row: int) -> FitCase:
        place_of_ship, place_of_berth, place_of_cargo = self._places(row)
        cargo = self.terms.cargoes[place_of_cargo]
        ship, berth = self.ships[place_of_ship], self.berths[place_of_berth]
        agreed = agreed_pressure_bar(self.terms, berth)
        with suppress(InputError):  # a temperature outside the flange's table: no rating follows from it
            ship, berth = rated_ship(ship, cargo), rated_berth(berth, cargo)
        said = Outcome(
            self.made.rate_m3_per_h[row : row + 1],
            self.made.pressure_bar_gauge[row : row + 1],
            np.array([np.nan if agreed is None else agreed]),
        )
        return FitCase(ship, berth, cargo, visit_of(self.terms, ship), said)

    def _places(self, row: int) -> tuple[int, int, int]:
        return int(self.made.ship[row]), int(self.made.berth[row]), int(self.made.cargo[row])


def _some(rows: np.ndarray) -> Sequence[int]:
    """Return a few rows spread over all of them: what is missing of a ship is the same at every berth."""
    if rows.size <= _PAIRS_LOOKED_AT:
        return [int(row) for row in rows]
    return [int(rows[place]) for place in np.linspace(0, rows.size - 1, _PAIRS_LOOKED_AT).astype(int)]
