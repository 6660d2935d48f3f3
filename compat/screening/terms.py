"""What all pairs of a screening have in common: cargoes, draught, water, tanks, pressure, papers (pure: no Django)."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from compat.case.case_file import AgreedFacts, CaseFile, OperationFacts, PumpState
from compat.case.composing import Setting, compose_case, keel_elevation_m
from compat.fit.visit import VisitDraught, VisitFacts
from shared.calc.errors import InputError
from shared.cargo_facts import CargoFacts
from shared.facts import Day, Facts, GaugePressure, NotText, Rating, quantity
from terminals.facts import ArmFacts, BerthFacts
from vessels.facts import ShipFacts

MOST_CARGOES = 12
FILLING_FIGURES = 6


class ScreeningTerms(Facts):
    """One cargo after the other is screened on these terms; the ship's and the berth's own facts come beside them."""

    cargoes: Annotated[list[CargoFacts], Field(min_length=1, max_length=MOST_CARGOES)]
    draught: Literal["her summer draught", "as stated below"] = "her summer draught"
    arrival_draught_m: VisitDraught | None = None
    water: Literal["the berth's lowest water", "the berth's highest water", "as stated below"] = (
        "the berth's lowest water"
    )
    water_level_m: quantity("m", -20, 30, "Water level over the berth's zero, for the rate") | None = None
    tank_filling_percent: quantity("%", 1, 100, "Height of the liquid in the cargo tanks, of the tanks' own height")
    tank_gas_pressure_bar_gauge: GaugePressure
    manifold_pressure_bar_gauge: Rating | None = None
    viscosity_correction: Literal["as tested", "ANSI/HI 9.6.7"] = "as tested"
    arrives_on: Day | None = None
    arrival_hour_h: quantity("h", 0, 24, "Hour of the day at which ships come alongside, UTC") | None = None
    stay_h: quantity("h", 1, 500, "Hours alongside") | None = None
    tank_washing: Literal["none", "crude oil washing", "water washing"] | None = None
    grades: Annotated[int, NotText, Field(ge=1, le=20)] | None = None


class NotWorkedOutError(InputError):
    """The rate of a pair can't be worked out; the sentence says what is missing and who holds it."""


def visit_of(terms: ScreeningTerms, ship: ShipFacts) -> VisitFacts:
    """Return the visit of a ship on these terms; her ballast draught is the one she leaves with."""
    return VisitFacts(
        arrives_on=terms.arrives_on,
        arrival_hour_h=terms.arrival_hour_h,
        stay_h=terms.stay_h,
        arrival_draught_m=arrival_draught_m(terms, ship),
        tank_washing=terms.tank_washing,
        grades=terms.grades,
    )


def arrival_draught_m(terms: ScreeningTerms, ship: ShipFacts) -> float | None:
    """Return the draught on arrival in m, or None where it is not known."""
    if terms.draught == "as stated below":
        return terms.arrival_draught_m
    return ship.particulars.summer_draught_m


def water_level_m(terms: ScreeningTerms, berth: BerthFacts) -> float | None:
    """Return the water level in m over the berth's zero, or None where it is not known."""
    if terms.water == "as stated below":
        return terms.water_level_m
    if berth.berthing is None:
        return None
    water = berth.berthing.water
    return water.lowest_water_m if terms.water == "the berth's lowest water" else water.highest_water_m


def agreed_pressure_bar(terms: ScreeningTerms, berth: BerthFacts) -> float | None:
    """Return the manifold pressure to agree: the stated one, or else the berth's own limit."""
    stated, limit = terms.manifold_pressure_bar_gauge, berth.manifold_pressure_limit_bar_gauge
    return limit if stated is None else stated


def connected_counts(arms: list[ArmFacts], connections: int | None) -> tuple[int, ...]:
    """Return how many of each kind of arm are connected: in the berth's order, as many as the manifold has flanges."""
    left = sum(arm.count for arm in arms) if connections is None else connections
    counts = []
    for arm in arms:
        counts.append(min(arm.count, left))
        left -= counts[-1]
    return tuple(counts)


def operation_of(terms: ScreeningTerms, ship: ShipFacts) -> OperationFacts:
    """Return how a ship pumps on these terms: every pump, all at one common speed, or fraction where they differ."""
    tanks = ship.cargo_tanks
    if tanks is None:
        raise NotWorkedOutError("Ask the ship for the lowest and highest liquid surface in her cargo tanks.")
    height = tanks.top_elevation_m - tanks.bottom_elevation_m
    surface = round(tanks.bottom_elevation_m + terms.tank_filling_percent / 100.0 * height, FILLING_FIGURES)
    tested = {max(curve.speed_rpm for curve in pump.curves) for pump in ship.pumps}
    return OperationFacts(
        speed="one common speed" if len(tested) == 1 else "one common fraction",
        viscosity_correction=terms.viscosity_correction,
        pumps=[
            PumpState(
                pump=pump.key,
                running=True,
                tank_surface_elevation_m=surface,
                tank_gas_pressure_bar_gauge=terms.tank_gas_pressure_bar_gauge,
            )
            for pump in ship.pumps
        ],
    )


def pair_case(terms: ScreeningTerms, cargo: CargoFacts, ship: ShipFacts, berth: BerthFacts) -> CaseFile:
    """Return the case of one pair, which an assessment answers with the same numbers.

    Raises NotWorkedOutError naming what is missing, CaseError where the pumps can't be run together.
    """
    draught, water = arrival_draught_m(terms, ship), water_level_m(terms, berth)
    pressure = agreed_pressure_bar(terms, berth)
    if draught is None:
        raise NotWorkedOutError("Ask the ship for her summer draught, or state a draught on arrival.")
    if water is None:
        raise NotWorkedOutError("Ask the terminal for its lowest and highest water, or state a water level.")
    if pressure is None:
        raise NotWorkedOutError("Ask the terminal for its highest manifold pressure, or state one to agree.")
    setting = Setting(
        title=f"{ship.name} at {berth.name}, {cargo.name}"[:120],
        cargo=cargo,
        keel_elevation_m=keel_elevation_m(water, draught),
        arms_connected=connected_counts(berth.arms, ship.manifold.connections),
        operation=operation_of(terms, ship),
        agreed=AgreedFacts(manifold_pressure_bar_gauge=pressure),
        visit=visit_of(terms, ship).model_copy(update={"water_level_m": water}),
    )
    return compose_case(ship, berth, setting)
