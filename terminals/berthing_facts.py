"""What a terminal states about ships at its berth (pure: no Django). All of it may be not known.

Every signed-in organisation sees these facts, as it sees the size of ship that the berth takes. What the terminal
does not limit at all is named in ``unlimited``: an empty limit is *not known*, and its check not decided.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Annotated, Literal

from pydantic import Field

from shared.berthing_facts import MOST_ROWS, Certificate, Force, MooringPlace, ReducerFacts, Statement
from shared.facts import Elevation, Facts, NotText, PositiveFlow, Rating, ShortText, quantity

FromArms = quantity("m", 0, 400, "Distance along the berth from the middle of the arms")


class SizeRangeFacts(Facts):
    """The other end of the size that the berth takes, and weights."""

    least_length_overall_m: quantity("m", 0, 500, "Least length overall accepted") | None = None
    least_beam_m: quantity("m", 0, 80, "Least beam accepted") | None = None
    least_deadweight_t: quantity("t", 0, 600_000, "Least deadweight accepted") | None = None
    least_displacement_t: quantity("t", 0, 800_000, "Least displacement accepted") | None = None
    greatest_displacement_t: quantity("t", 100, 800_000, "Greatest displacement accepted, on arrival") | None = None


class WaterFacts(Facts):
    """Water at the berth over its zero, what must stay under the keel, and what is overhead."""

    lowest_water_m: (
        quantity("m", -20, 30, "Lowest water that a stay has to reckon with, over the berth's zero") | None
    ) = None
    highest_water_m: quantity("m", -20, 30, "Highest water that a stay has to reckon with, over the berth's zero") | (
        None
    ) = None
    under_keel_m: quantity("m", 0, 10, "Clearance under the keel that must stay, in metres") | None = None
    under_keel_percent_of_draught: quantity(
        "%", 0, 50, "The same as a part of the draught; the most of them counts"
    ) | (None) = None
    under_keel_percent_of_beam: (
        quantity("%", 0, 20, "The same as a part of the beam; the most of them counts") | None
    ) = None
    overhead_elevation_m: (
        quantity("m", 1, 200, "Underside of the lowest bridge or cable over the berth's zero") | None
    ) = None
    overhead_clearance_m: quantity("m", 0, 20, "Clearance that must stay below it") | None = None


class ReachFacts(Facts):
    """Where manifold, flat side and crane must be for arms, hoses and fenders. Elevations over the berth's zero."""

    greatest_bow_to_manifold_m: (
        quantity("m", 1, 400, "Greatest distance from bow to manifold that finds room") | None
    ) = None
    greatest_stern_to_manifold_m: (
        quantity("m", 1, 400, "Greatest distance from stern to manifold that finds room") | None
    ) = None
    lowest_manifold_m: quantity("m", -5, 60, "Lowest manifold that the arms reach, over the berth's zero") | None = None
    highest_manifold_m: quantity("m", -5, 60, "Highest manifold that the arms reach, over the berth's zero") | None = (
        None
    )
    least_setback_m: quantity("m", 0, 15, "Least distance of the flanges from the ship's side") | None = None
    greatest_setback_m: quantity("m", 0, 15, "Greatest distance of the flanges from the ship's side") | None = None
    least_spacing_m: quantity("m", 0, 10, "Least distance between neighbouring flanges that the arms need") | None = (
        None
    )
    fender_forward_m: FromArms | None = None
    fender_aft_m: FromArms | None = None
    crane_lift_t: quantity("t", 0, 100, "What the ship's crane has to lift to connect a hose") | None = None
    crane_reach_m: quantity("m", 0, 40, "Reach outside the ship's side that it needs for that") | None = None


class MooringNeeds(Facts):
    """What the terminal asks of the ship's lines."""

    least_lines: Annotated[int, Field(ge=0, le=60), NotText] | None = None
    least_breaking_load_kn: quantity("kN", 0, 10_000, "Least breaking load of each line") | None = None


class Hooks(Facts):
    """Hooks or bollards for lines in one place; distance along the berth from the arms, towards the bow +."""

    place: MooringPlace
    count: Annotated[int, Field(ge=1, le=20), NotText]
    rating_kn: Force | None = None
    along_m: quantity("m", -400, 400, "From the middle of the arms: towards the bow +, towards the stern −") | None = (
        None
    )
    setback_m: quantity("m", 0, 200, "Behind the line of the ship's side") | None = None
    elevation_m: Elevation | None = None


class ServiceFacts(Facts):
    """What may, must and can be done at the berth."""

    inert_gas: Literal["required", "not required"] | None = None
    vapour_return: Literal["required", "offered", "none"] | None = None
    tank_washing: Literal["not allowed", "crude oil washing only", "allowed"] | None = None
    grades_at_once: Annotated[int, Field(ge=1, le=20), NotText] | None = None
    least_discharge_rate_m3_per_h: PositiveFlow | None = None
    least_manifold_pressure_bar_gauge: Rating | None = None
    least_loading_rate_m3_per_h: PositiveFlow | None = None
    berthing_hours: Literal["day and night", "daylight only"] | None = None
    latitude_degrees: quantity("°", -90, 90, "North +, south −") | None = None
    longitude_degrees: quantity("°", -180, 180, "East +, west −") | None = None


class CargoTaken(Facts):
    """A cargo that the berth handles, by the name under which it is traded there."""

    name: ShortText


class CertificateAsked(Facts):
    """A certificate that has to be in date over the whole stay."""

    certificate: Certificate


RuleFact = Literal[
    "age in years",
    "length overall in m",
    "beam in m",
    "deadweight in t",
    "displacement in t",
    "draught on arrival in m",
    "manifold connections",
    "segregations",
    "inert gas delivery in m³/h",
    "cargo density in kg/m³",
    "cargo viscosity in mm²/s",
    "cargo temperature in °C",
    "cargo vapour pressure in kPa",
    "volume to transfer in m³",
    "discharge rate in m³/h",
]
RULE_FACTS: tuple[str, ...] = RuleFact.__args__  # type: ignore[attr-defined]


class OwnRule(Facts):
    """A limit that the terminal sets itself: a comparison of one known fact with a number."""

    name: ShortText
    fact: RuleFact
    comparison: Literal["at most", "at least"]
    number: quantity("1", -1e6, 1e6, "In the unit that the fact names")
    otherwise: Literal["refused", "by agreement"] = "refused"


UnlimitedName = Literal[
    "least length",
    "greatest length",
    "least beam",
    "greatest beam",
    "least deadweight",
    "greatest deadweight",
    "least displacement",
    "greatest displacement",
    "greatest draught",
    "height overhead",
    "bow to manifold",
    "stern to manifold",
    "lowest manifold",
    "highest manifold",
    "least setback",
    "greatest setback",
    "manifold spacing",
    "flat side",
    "crane",
    "number of lines",
    "breaking load",
    "grades at once",
    "discharge rate",
    "manifold pressure",
    "loading rate",
    "cargoes",
    "certificates",
]
UNLIMITED_KEYS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "least length": ("berthing.range.least_length_overall_m",),
        "greatest length": ("size.greatest_length_overall_m",),
        "least beam": ("berthing.range.least_beam_m",),
        "greatest beam": ("size.greatest_beam_m",),
        "least deadweight": ("berthing.range.least_deadweight_t",),
        "greatest deadweight": ("size.greatest_deadweight_t",),
        "least displacement": ("berthing.range.least_displacement_t",),
        "greatest displacement": ("berthing.range.greatest_displacement_t",),
        "greatest draught": ("size.greatest_draught_m",),
        "height overhead": ("berthing.water.overhead_elevation_m",),
        "bow to manifold": ("berthing.reach.greatest_bow_to_manifold_m",),
        "stern to manifold": ("berthing.reach.greatest_stern_to_manifold_m",),
        "lowest manifold": ("berthing.reach.lowest_manifold_m",),
        "highest manifold": ("berthing.reach.highest_manifold_m",),
        "least setback": ("berthing.reach.least_setback_m",),
        "greatest setback": ("berthing.reach.greatest_setback_m",),
        "manifold spacing": ("berthing.reach.least_spacing_m",),
        "flat side": ("berthing.reach.fender_forward_m", "berthing.reach.fender_aft_m"),
        "crane": ("berthing.reach.crane_lift_t", "berthing.reach.crane_reach_m"),
        "number of lines": ("berthing.mooring.least_lines",),
        "breaking load": ("berthing.mooring.least_breaking_load_kn",),
        "grades at once": ("berthing.services.grades_at_once",),
        "discharge rate": ("berthing.services.least_discharge_rate_m3_per_h",),
        "manifold pressure": ("berthing.services.least_manifold_pressure_bar_gauge",),
        "loading rate": ("berthing.services.least_loading_rate_m3_per_h",),
        "cargoes": ("berthing.cargoes",),
        "certificates": ("berthing.certificates",),
    }
)


class Unlimited(Facts):
    """Something on which the terminal sets no limit."""

    on: UnlimitedName


BerthFactName = Literal[
    "size",
    "depth",
    "water levels",
    "under-keel rule",
    "height overhead",
    "arms' reach",
    "fenders",
    "moorings",
    "arms or hoses",
    "reducers",
    "shore line",
    "pressure and rate limits",
    "services",
    "own rules",
]
BERTH_FACT_KEYS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "size": ("size.greatest_", "berthing.range."),
        "depth": ("size.depth_below_zero_m",),
        "water levels": ("berthing.water.lowest_water_m", "berthing.water.highest_water_m"),
        "under-keel rule": ("berthing.water.under_keel_",),
        "height overhead": ("berthing.water.overhead_",),
        "arms' reach": ("berthing.reach.",),
        "fenders": ("berthing.reach.fender_",),
        "moorings": ("berthing.mooring", "berthing.hooks"),
        "arms or hoses": ("arms",),
        "reducers": ("berthing.reducers",),
        "shore line": ("shore_line", "shore_end"),
        "pressure and rate limits": ("manifold_pressure_limit_bar_gauge", "receiving_rate_m3_per_h"),
        "own rules": ("berthing.own_rules",),
        "services": ("berthing.services.", "berthing.cargoes", "berthing.certificates"),
    }
)


class BerthStatement(Statement):
    """Who stated some of the berth's facts, when, and how sure."""

    fact: BerthFactName


class BerthBerthingFacts(Facts):
    """Everything that the terminal states about ships at this berth beside the greatest size."""

    range: SizeRangeFacts = SizeRangeFacts()
    water: WaterFacts = WaterFacts()
    reach: ReachFacts = ReachFacts()
    mooring: MooringNeeds = MooringNeeds()
    services: ServiceFacts = ServiceFacts()
    hooks: Annotated[list[Hooks], Field(max_length=MOST_ROWS)] = []
    reducers: Annotated[list[ReducerFacts], Field(max_length=MOST_ROWS)] = []
    cargoes: Annotated[list[CargoTaken], Field(max_length=MOST_ROWS)] = []
    certificates: Annotated[list[CertificateAsked], Field(max_length=MOST_ROWS)] = []
    own_rules: Annotated[list[OwnRule], Field(max_length=MOST_ROWS)] = []
    unlimited: Annotated[list[Unlimited], Field(max_length=MOST_ROWS)] = []
    statements: Annotated[list[BerthStatement], Field(max_length=MOST_ROWS)] = []
