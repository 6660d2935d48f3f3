"""Visits and cargoes as columns of numbers, with what the hydraulics say of them (pure: no Django)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from compat.fit.columns import Columns, numbers_at
from compat.fit.visit import VisitFacts
from shared.calc.root import Array
from shared.calc.tide import tide_of
from shared.calc.units import HOUR_S
from shared.cargo_facts import CargoFacts, liquid_of

VISIT_KEYS = (
    "arrives_on",
    "arrival_hour_h",
    "stay_h",
    "arrival_draught_m",
    "departure_draught_m",
    "arrival_displacement_t",
    "tank_washing",
    "grades",
)


@dataclass(frozen=True)
class Outcome:
    """What an answer says: rate, the manifold pressure kept at it, and the agreed one; NaN where there is none.

    Flows in m3/h and pressures in bar over atmosphere, as documents state them; (pairs,).
    """

    rate_m3_per_h: Array
    pressure_bar_gauge: Array
    agreed_bar_gauge: Array


def no_outcome(rows: int, agreed_bar_gauge: Array | float = np.nan) -> Outcome:
    """Return the outcome of pairs for which no rate was worked out."""
    nothing = np.full(rows, np.nan)
    return Outcome(nothing, nothing, np.broadcast_to(np.asarray(agreed_bar_gauge, dtype=float), (rows,)))


def visit_columns(visits: Sequence[VisitFacts], taken: Array, outcome: Outcome) -> Columns:
    """Return visits as columns; ``taken`` says whether the berth takes the cargo (1, 0 or NaN).

    Heights of the tide at moments of the stay are there only where every visit states waters that cover it.
    """
    columns = numbers_at(VisitFacts, visits, VISIT_KEYS)
    columns |= {
        "cargo taken": np.asarray(taken, dtype=float),
        "rate": outcome.rate_m3_per_h,
        "pressure": outcome.pressure_bar_gauge,
        "agreed pressure": outcome.agreed_bar_gauge,
    }
    if all(covers_stay(visit) for visit in visits):
        columns["water at moments"] = _waters(visits)
    return Columns(columns)


def covers_stay(visit: VisitFacts) -> bool:
    """Tell whether the stated waters cover the whole stay, from her arrival on."""
    if visit.stay_h is None or not visit.waters:
        return False
    return bool(visit.waters[0].hour_h <= 0 and visit.waters[-1].hour_h >= visit.stay_h)


def _waters(visits: Sequence[VisitFacts]) -> Array:
    moments = 1 + int(np.ceil(max(visit.stay_h or 1.0 for visit in visits)))  # each hour of the longest stay
    rows = []
    for visit in visits:
        tide = tide_of([one.hour_h * HOUR_S for one in visit.waters], [one.height_m for one in visit.waters])
        rows.append(tide.height(np.linspace(0.0, (visit.stay_h or 1.0) * HOUR_S, max(moments, 5))))
    return np.stack(rows)


def cargo_columns(cargoes: Sequence[CargoFacts]) -> Columns:
    """Return cargoes as columns, with what follows from laboratory values."""
    liquids = [liquid_of(cargo) for cargo in cargoes]

    def numbers(values: Sequence[float | None]) -> Array:
        return np.array([np.nan if value is None else float(value) for value in values])

    return Columns(
        {
            "density": numbers([liquid.density_kg_per_m3 for liquid in liquids]),
            "viscosity": numbers([liquid.kinematic_viscosity_mm2_per_s for liquid in liquids]),
            "vapour pressure": numbers([liquid.vapour_pressure_kpa_abs for liquid in liquids]),
            "temperature": numbers([cargo.temperature_c for cargo in cargoes]),
            "volume": numbers([cargo.quantity_m3 for cargo in cargoes]),
        }
    )
