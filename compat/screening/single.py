"""One pair of a screening by itself: the case, its answer and its fit, or why there is no rate (pure: no Django)."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass

import numpy as np

from compat.case.answer import answer_case
from compat.case.answer_parts import Answer
from compat.case.case_file import CaseFile
from compat.fit.answer import Fit, fit_of
from compat.fit.fit_case import FitCase, Sources
from compat.fit.visit_columns import Outcome
from compat.screening.sides import rated_berth, rated_ship
from compat.screening.terms import ScreeningTerms, agreed_pressure_bar, pair_case, visit_of
from shared.calc.errors import InputError
from shared.cargo_facts import CargoFacts
from terminals.facts import BerthFacts
from vessels.facts import ShipFacts


@dataclass(frozen=True)
class PairAnswer:
    """One pair worked out as an assessment would; ``reason`` says why there is no case, where there is none."""

    case: CaseFile | None
    answer: Answer | None
    reason: str
    fit: Fit


def pair_answer(
    terms: ScreeningTerms, cargo: CargoFacts, ship: ShipFacts, berth: BerthFacts, sources: Sources | None = None
) -> PairAnswer:
    """Return one pair worked out by itself."""
    case, answer, reason = None, None, ""
    try:
        case = pair_case(terms, cargo, ship, berth)
        answer = answer_case(case)
    except InputError as error:
        case, reason = None, str(error)
    with suppress(InputError):  # a temperature outside the flange's table: no rating follows from it
        ship, berth = rated_ship(ship, cargo), rated_berth(berth, cargo)
    said = Outcome(
        _one(None if answer is None else answer.total_flow_m3_per_h),
        _one(None if answer is None else answer.manifold_pressure_bar_gauge),
        _one(agreed_pressure_bar(terms, berth)),
    )
    fit = fit_of(FitCase(ship, berth, cargo, visit_of(terms, ship), said, (answer and answer.binding) or ""), sources)
    return PairAnswer(case, answer, reason, fit)


def _one(value: float | None) -> np.ndarray:
    return np.array([np.nan if value is None else float(value)])
