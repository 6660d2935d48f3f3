"""What is stated about a ship (pure: no Django). Elevations count from the ship's keel upward."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from shared.calc.curve import check_falling_curve
from shared.facts import (
    Elevation,
    Facts,
    FlangeKey,
    Flow,
    Head,
    NotText,
    OptionalText,
    PipeSegment,
    PositiveFlow,
    Rating,
    ShortText,
    Speed,
    Velocity,
    quantity,
)
from shared.surge_facts import ShipSurgeFacts
from vessels.berthing_facts import ShipBerthingFacts
from vessels.imo_number import check_imo_number

MOST_PUMPS = 12
MOST_CURVES = 6
MOST_POINTS = 30
MOST_SEGMENTS = 30

Key = Annotated[str, Field(min_length=1, max_length=20, pattern=r"^[A-Za-z0-9_.-]+$")]


class CurvePoint(Facts):
    """One tested point of a pump; head and flow always, the others where they are known."""

    flow_m3_per_h: Flow
    head_m: Head
    efficiency_percent: quantity("%", 1, 95, "Pump efficiency, shaft to liquid") | None = None
    npsh_required_m: quantity("m", 0, 100, "NPSH required (3 % head drop)") | None = None


class CurveCoefficients(Facts):
    """H = shut-off head - drop * Q^exponent, with Q in m3/h and H in m."""

    shut_off_head_m: quantity("m", 0.1, 3000, "Head at no flow")
    drop_at_1_m3_per_h_m: quantity("m", 1e-15, 3000, "Head lost at a flow of 1 m³/h: the b of H = a − b·Q^c")
    exponent: quantity("1", 0.5, 6, "Exponent c of H = a − b·Q^c")


class PumpCurve(Facts):
    """Head over flow at one tested speed: points, or coefficients."""

    speed_rpm: Speed
    points: Annotated[list[CurvePoint], Field(min_length=2, max_length=MOST_POINTS)] | None = None
    coefficients: CurveCoefficients | None = None

    @model_validator(mode="after")
    def _one_form_that_falls(self) -> Self:
        if (self.points is None) == (self.coefficients is None):
            raise ValueError("state the curve by points or by coefficients, one of the two.")
        if self.points is not None:
            check_falling_curve([point.flow_m3_per_h for point in self.points], [point.head_m for point in self.points])
        return self


class PumpFacts(Facts):
    """One cargo pump with its own suction and discharge line."""

    key: Key
    name: ShortText
    kind: Literal["centrifugal", "positive displacement", "eductor"] = "centrifugal"
    drive_liquid_m3_per_h: (
        quantity("m³/h", 0.1, 20_000, "Liquid that drives an eductor, taken from the cargo pumps") | None
    ) = None
    drive_head_m: (
        quantity(
            "m",
            1,
            3000,
            "Head of an eductor's drive over the tank that it strips, at which curve and drive liquid hold",
        )
        | None
    ) = None
    outlet_elevation_m: (
        quantity("m", -5, 60, "Height of an eductor's outlet, or of the surface over it, in the tank that it fills")
        | None
    ) = None
    drive: (
        Literal["steam turbine", "electric motor, fixed speed", "electric motor, variable speed", "hydraulic"] | None
    ) = None
    curves: Annotated[list[PumpCurve], Field(min_length=1, max_length=MOST_CURVES)]
    rated_flow_m3_per_h: PositiveFlow | None = None
    least_continuous_flow_m3_per_h: PositiveFlow | None = None
    greatest_continuous_flow_m3_per_h: PositiveFlow | None = None
    least_speed_rpm: Speed
    greatest_speed_rpm: Speed
    speed_step_rpm: quantity("rpm", 1, 5000, "Step in which the speed can be set; leave empty if it is free") | None = (
        None
    )
    moment_of_inertia_kg_m2: (
        quantity("kg·m²", 0.1, 5000, "Moment of inertia of pump and driver at the pump's speed, for surge after a trip")
        | None
    ) = None
    driver_power_limit_kw: quantity("kW", 1, 20_000, "Greatest shaft power of the driver") | None = None
    head_kept_percent: (
        quantity("%", 50, 110, "Head kept by a worn pump, of the head on its curve; leave empty if as on the curve")
        | None
    ) = None
    elevation_m: Elevation
    suction_line: Annotated[list[PipeSegment], Field(max_length=MOST_SEGMENTS)] = []
    discharge_line: Annotated[list[PipeSegment], Field(max_length=MOST_SEGMENTS)] = []

    @model_validator(mode="after")
    def _speeds_in_order(self) -> Self:
        if self.least_speed_rpm > self.greatest_speed_rpm:
            raise ValueError(
                f"least_speed_rpm {self.least_speed_rpm:g} rpm is above"
                f" greatest_speed_rpm {self.greatest_speed_rpm:g} rpm."
            )
        if self.kind != "centrifugal" and any(curve.coefficients for curve in self.curves):
            raise ValueError(f"kind {self.kind} is to be given by points, not by coefficients.")
        if self.kind == "eductor" and self.least_speed_rpm != self.greatest_speed_rpm:
            raise ValueError(
                "an eductor has no speed: give least_speed_rpm and greatest_speed_rpm the speed_rpm of its curve,"
                " which stands for its drive pressure."
            )
        least, greatest = self.least_continuous_flow_m3_per_h, self.greatest_continuous_flow_m3_per_h
        if least is not None and greatest is not None and least >= greatest:
            raise ValueError(
                f"least_continuous_flow_m3_per_h {least:g} m³/h is not below"
                f" greatest_continuous_flow_m3_per_h {greatest:g} m³/h."
            )
        speeds = [curve.speed_rpm for curve in self.curves]
        if len(set(speeds)) != len(speeds):
            raise ValueError("two curves are given for one speed; keep one of them.")
        if len(speeds) > 1 and any(curve.coefficients for curve in self.curves):
            raise ValueError("several tested speeds are to be given by points, not by coefficients.")
        return self


class ManifoldFacts(Facts):
    """The ship's cargo manifold on the side that will be connected."""

    elevation_m: Elevation
    rating_bar_gauge: Rating | None = None
    flange: FlangeKey | None = None
    bore_mm: quantity("mm", 50, 1000, "Bore of a manifold presentation flange") | None = None
    connections: Annotated[int, Field(ge=1, le=16), NotText] | None = None


class TankFacts(Facts):
    """Lowest and highest liquid surface in the cargo tanks, above the keel."""

    bottom_elevation_m: Elevation
    top_elevation_m: Elevation

    @model_validator(mode="after")
    def _top_above_bottom(self) -> Self:
        if self.top_elevation_m <= self.bottom_elevation_m:
            raise ValueError(
                f"top_elevation_m {self.top_elevation_m:g} m is not above"
                f" bottom_elevation_m {self.bottom_elevation_m:g} m."
            )
        return self


class ParticularFacts(Facts):
    """Size of the ship, for the checks of the berth; anything may be unknown."""

    length_overall_m: quantity("m", 20, 500, "Length overall") | None = None
    beam_m: quantity("m", 5, 80, "Moulded breadth") | None = None
    summer_draught_m: quantity("m", 1, 30, "Draught at the summer load line") | None = None
    summer_deadweight_t: quantity("t", 100, 600_000, "Deadweight at the summer load line") | None = None
    year_built: Annotated[int, Field(ge=1950, le=2100), NotText] | None = None


class ShipFacts(Facts):
    """Everything stated about one ship that an assessment uses."""

    name: ShortText
    imo_number: str | None = None
    particulars: ParticularFacts = ParticularFacts()
    pumps: Annotated[list[PumpFacts], Field(min_length=1, max_length=MOST_PUMPS)]
    common_line: Annotated[list[PipeSegment], Field(max_length=MOST_SEGMENTS)] = []
    ship_line_velocity_limit_m_per_s: Velocity | None = None
    manifold: ManifoldFacts
    cargo_tanks: TankFacts | None = None
    inert_gas_delivery_m3_per_h: PositiveFlow | None = None
    surge: ShipSurgeFacts | None = None
    berthing: ShipBerthingFacts | None = None
    source: OptionalText = ""

    @model_validator(mode="after")
    def _keys_and_number(self) -> Self:
        keys = [pump.key for pump in self.pumps]
        twice = sorted({key for key in keys if keys.count(key) > 1})
        if twice:
            raise ValueError(f"pump key {', '.join(twice)} is given twice; each pump needs a key of its own.")
        if self.imo_number is not None:
            check_imo_number(self.imo_number)
        return self
