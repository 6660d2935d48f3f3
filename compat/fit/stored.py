"""The fit of stored ships and berths: their revisions say who stated what, and when."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any

import numpy as np
from django.db.models import QuerySet

from compat.case.case_file import CaseFile
from compat.case.flange_ratings import with_flange_ratings
from compat.fit.answer import Fit, fit_of
from compat.fit.fit_case import FitCase, Sources
from compat.fit.origins import Stated
from compat.fit.visit import VisitFacts
from compat.fit.visit_columns import Outcome
from compat.fit.withholding import without_arms
from shared.models import Organisation, Person
from shared.permissions import is_member
from terminals.models import BerthRevision
from terminals.queries import sees_line_data
from vessels.models import VesselRevision


def sources_for(person: Person, ship: VesselRevision, berth: BerthRevision, today: date) -> Sources:
    """Return who stated what, up to these revisions; of another organisation only its name is told."""
    return Sources(
        _versions(earlier_of(ship), person, ship.vessel.organisation),
        _versions(earlier_of(berth), person, berth.berth.terminal.organisation),
        today,
    )


def earlier_of(revision: VesselRevision | BerthRevision) -> QuerySet[Any]:
    """Return a revision and those before it, newest first."""
    owner = {"vessel": revision.vessel_id} if isinstance(revision, VesselRevision) else {"berth": revision.berth_id}
    rows = type(revision).objects.filter(**owner, number__lte=revision.number)
    return rows.select_related("made_by").order_by("-number")


def versions_of(revision: VesselRevision | BerthRevision) -> list[Stated]:
    """Return what was stated when, without who: enough to tell what is old or assumed."""
    return [Stated(row.number, "", row.made_at.date(), row.facts) for row in earlier_of(revision)]


def fit_of_case(
    person: Person, case: CaseFile, answer: Any, ship: VesselRevision, berth: BerthRevision, today: date
) -> Fit:
    """Return the fit of a case, with the rate and pressure of its answer, as the person may see it."""
    case = with_flange_ratings(case)
    fit = fit_of(
        FitCase(
            case.ship,
            case.berth,
            case.cargo,
            case.visit or VisitFacts(),
            outcome_of(case, answer),
            answer["binding"] or "",
        ),
        sources_for(person, ship, berth, today),
    )
    return fit if sees_line_data(person, berth.berth) else without_arms(fit)


def outcome_of(case: CaseFile, answer: Any) -> Outcome:
    """Return what an answer document says, for the checks of rate and pressure."""
    return Outcome(
        _one(answer["total_flow_m3_per_h"]),
        _one(answer["manifold_pressure_bar_gauge"]),
        _one(case.agreed.manifold_pressure_bar_gauge),
    )


def _one(value: float | None) -> np.ndarray:
    return np.array([np.nan if value is None else float(value)])


def _versions(revisions: Iterable[Any], person: Person, owner: Organisation) -> list[Stated]:
    own = is_member(person, owner)
    return [
        Stated(row.number, str(row.made_by) if own else str(owner), row.made_at.date(), row.facts) for row in revisions
    ]
