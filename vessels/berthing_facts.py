"""What is stated about a ship for her fit at berths (pure: no Django). All of it may be not known."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Annotated, Literal

from pydantic import Field

from shared.berthing_facts import MOST_ROWS, Certificate, Force, MooringPlace, ReducerFacts, Statement, YesNo
from shared.facts import Day, Elevation, Facts, NotText, OptionalText, PositiveFlow, quantity

SideLength = quantity("m", 0, 250, "Length of flat side from the manifold's centre")
LineMaterial = Literal["wire", "high-modulus fibre", "polyester", "nylon", "polypropylene", "other"]


class HullFacts(Facts):
    """Her size beside the particulars, and where manifold and flat side lie."""

    summer_displacement_t: quantity("t", 100, 800_000, "Displacement at the summer load line") | None = None
    ballast_draught_m: quantity("m", 0.5, 30, "Mean draught in ballast, as she leaves after the discharge") | None = (
        None
    )
    keel_to_top_m: quantity("m", 5, 100, "Height of her highest fixed point over the keel") | None = None
    bow_to_manifold_m: quantity("m", 5, 300, "Distance from the bow to the manifold's centre") | None = None
    manifold_setback_m: quantity("m", 0.5, 15, "Distance of the manifold flanges from the ship's side") | None = None
    manifold_spacing_m: (
        quantity("m", 0.3, 10, "Distance between the centres of neighbouring manifold flanges") | None
    ) = None
    flat_side_ballast_forward_m: SideLength | None = None
    flat_side_ballast_aft_m: SideLength | None = None
    flat_side_loaded_forward_m: SideLength | None = None
    flat_side_loaded_aft_m: SideLength | None = None


class EquipmentFacts(Facts):
    """What she has on board for a terminal: crane, gas, washing, lines of her own."""

    crane_lift_t: quantity("t", 0.1, 100, "Safe working load of the hose crane") | None = None
    crane_reach_m: quantity("m", 0.1, 40, "Reach of the hose crane outside the ship's side") | None = None
    inert_gas: YesNo | None = None
    vapour_return: YesNo | None = None
    crude_oil_washing: YesNo | None = None
    segregations: Annotated[int, Field(ge=1, le=60), NotText] | None = None
    greatest_loading_rate_m3_per_h: PositiveFlow | None = None


class MooringLines(Facts):
    """Lines that she uses in one place; a fairlead's distance counts from the manifold, forward +, aft −."""

    place: MooringPlace
    count: Annotated[int, Field(ge=1, le=12), NotText]
    breaking_load_kn: Force | None = None
    material: LineMaterial | None = None
    fairlead_m: quantity("m", -300, 300, "Fairlead from the manifold: forward +, aft −") | None = None
    fairlead_elevation_m: Elevation | None = None


class CertificateFacts(Facts):
    """A certificate and the day to which it is valid."""

    certificate: Certificate
    valid_to: Day
    number: OptionalText = ""


ShipFactName = Literal[
    "length overall",
    "beam",
    "summer draught",
    "deadweight",
    "year built",
    "displacement",
    "ballast draught",
    "height over the keel",
    "bow to manifold",
    "manifold height",
    "manifold setback",
    "manifold spacing",
    "manifold flanges",
    "manifold rating",
    "flat side",
    "crane",
    "moorings",
    "inert gas",
    "vapour return",
    "crude oil washing",
    "segregations",
    "loading rate",
    "reducers",
    "pump curves",
    "cargo lines",
    "certificates",
]
SHIP_FACT_KEYS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "length overall": ("particulars.length_overall_m",),
        "beam": ("particulars.beam_m",),
        "summer draught": ("particulars.summer_draught_m",),
        "deadweight": ("particulars.summer_deadweight_t",),
        "year built": ("particulars.year_built",),
        "displacement": ("berthing.hull.summer_displacement_t",),
        "ballast draught": ("berthing.hull.ballast_draught_m",),
        "height over the keel": ("berthing.hull.keel_to_top_m",),
        "bow to manifold": ("berthing.hull.bow_to_manifold_m",),
        "manifold height": ("manifold.elevation_m",),
        "manifold setback": ("berthing.hull.manifold_setback_m",),
        "manifold spacing": ("berthing.hull.manifold_spacing_m",),
        "manifold flanges": ("manifold.bore_mm", "manifold.flange", "manifold.connections"),
        "manifold rating": ("manifold.rating_bar_gauge",),
        "flat side": (
            "berthing.hull.flat_side_ballast_forward_m",
            "berthing.hull.flat_side_ballast_aft_m",
            "berthing.hull.flat_side_loaded_forward_m",
            "berthing.hull.flat_side_loaded_aft_m",
        ),
        "crane": ("berthing.equipment.crane_lift_t", "berthing.equipment.crane_reach_m"),
        "moorings": ("berthing.moorings",),
        "inert gas": ("berthing.equipment.inert_gas", "inert_gas_delivery_m3_per_h"),
        "vapour return": ("berthing.equipment.vapour_return",),
        "crude oil washing": ("berthing.equipment.crude_oil_washing",),
        "segregations": ("berthing.equipment.segregations",),
        "loading rate": ("berthing.equipment.greatest_loading_rate_m3_per_h",),
        "reducers": ("berthing.reducers",),
        "pump curves": ("pumps",),
        "cargo lines": ("common_line", "cargo_line_rating_bar_gauge", "ship_line_velocity_limit_m_per_s"),
        "certificates": ("berthing.certificates",),
    }
)


class ShipStatement(Statement):
    """Who stated one of the ship's facts, when, and how sure."""

    fact: ShipFactName


class ShipBerthingFacts(Facts):
    """Everything that a berth asks of a ship beside her particulars and her manifold."""

    hull: HullFacts = HullFacts()
    equipment: EquipmentFacts = EquipmentFacts()
    moorings: Annotated[list[MooringLines], Field(max_length=MOST_ROWS)] = []
    reducers: Annotated[list[ReducerFacts], Field(max_length=MOST_ROWS)] = []
    certificates: Annotated[list[CertificateFacts], Field(max_length=MOST_ROWS)] = []
    statements: Annotated[list[ShipStatement], Field(max_length=MOST_ROWS)] = []
