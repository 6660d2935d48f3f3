"""Ratings that follow from a flange's class and the liquid's temperature, where none is stated (pure: no Django)."""

from __future__ import annotations

from typing import TypeVar

from compat.case.case_file import CaseFile
from shared.calc.errors import OutOfRangeError
from shared.calc.flange import flange_rating
from shared.calc.units import BAR_PA, to_si
from terminals.facts import ArmFacts, ShoreSegment
from vessels.facts import ManifoldFacts

_SAME_BAR = 1e-9
_Flanged = TypeVar("_Flanged", ManifoldFacts, ArmFacts, ShoreSegment)


def with_flange_ratings(case: CaseFile) -> CaseFile:
    """Return the case with a rating for each flange of a known class; a stated rating always counts.

    Without the liquid's temperature a class says nothing. Raises OutOfRangeError outside the class's table.
    """
    kelvin = None if case.cargo.temperature_c is None else to_si(case.cargo.temperature_c, "°C")
    berth = case.berth
    flanges = [
        case.ship.manifold.flange,
        *(arm.flange for arm in berth.arms),
        *(run.flange for run in berth.shore_line),
    ]
    if kelvin is None or not any(flanges):
        return case
    ship = case.ship.model_copy(update={"manifold": _rated(case.ship.manifold, kelvin)})
    arms = [_rated(arm, kelvin) for arm in berth.arms]
    line = [_rated(segment, kelvin) for segment in berth.shore_line]
    berth = berth.model_copy(update={"arms": arms, "shore_line": line})
    return case.model_copy(update={"ship": ship, "berth": berth})


def _rated(part: _Flanged, kelvin: float) -> _Flanged:
    return part.model_copy(update={"rating_bar_gauge": _rating(part.rating_bar_gauge, part.flange, kelvin)})


def _rating(stated_bar: float | None, flange: str | None, kelvin: float) -> float | None:
    if stated_bar is not None or flange is None:
        return stated_bar
    return float(flange_rating(flange, kelvin).rating_pa_gauge) / BAR_PA


def rating_source(rating_bar: float | None, flange: str | None, temperature_c: float | None) -> str:
    """Return the table that a rating comes from, or an empty text where it was stated or is not known."""
    if rating_bar is None or flange is None or temperature_c is None:
        return ""
    try:
        found = flange_rating(flange, to_si(temperature_c, "°C"))
    except OutOfRangeError:
        return ""
    if abs(float(found.rating_pa_gauge) / BAR_PA - rating_bar) > _SAME_BAR:
        return ""
    return f"{flange} flange at {temperature_c:g} °C, {found.source}"
