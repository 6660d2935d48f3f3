"""What is stated about a ship (pure: no Django). Elevations count from the ship's keel upward."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from shared.calc.curve import check_falling_curve
from shared.calc.units import GRAVITY_M_PER_S2, HOUR_S, KW_W
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
MOST_EFFICIENCY_PERCENT = 95
WATER_KG_PER_M3 = 1000.0
FIXED_SPEED = "electric motor, fixed speed"
_LEAST_EFFICIENCY = 0.01
_POLYNOMIAL_PIECES = 40

Key = Annotated[str, Field(min_length=1, max_length=20, pattern=r"^[A-Za-z0-9_.-]+$")]


class CurvePoint(Facts):
    """One tested point of a pump; head and flow always, the others where they are known."""

    flow_m3_per_h: Flow
    head_m: Head
    efficiency_percent: quantity("%", 1, MOST_EFFICIENCY_PERCENT, "Pump efficiency, shaft to liquid") | None = None
    shaft_power_kw: (
        quantity("kW", 0.01, 20_000, "Shaft power with water of 1,000 kg/m³, where the sheet has no efficiency") | None
    ) = None
    npsh_required_m: quantity("m", 0, 100, "NPSH required (3 % head drop)") | None = None

    @model_validator(mode="after")
    def _efficiency_or_power(self) -> Self:
        if self.shaft_power_kw is None:
            return self
        if self.efficiency_percent is not None:
            raise ValueError("state efficiency_percent or shaft_power_kw at a point, one of the two.")
        made = 100.0 * (efficiency_by_power(self) or 0.0)
        if made > MOST_EFFICIENCY_PERCENT:
            raise ValueError(
                f"shaft_power_kw {self.shaft_power_kw:g} kW at {self.flow_m3_per_h:g} m³/h and {self.head_m:g} m makes"
                f" an efficiency of {made:.0f} %; allowed: up to {MOST_EFFICIENCY_PERCENT:g} %. Check its unit, and"
                " that it is with water."
            )
        return self


def efficiency_by_power(point: CurvePoint) -> float | None:
    """Return the efficiency (a fraction) of a point from its shaft power with water; None without power or flow."""
    if point.shaft_power_kw is None or point.flow_m3_per_h == 0.0:
        return None
    water_w = WATER_KG_PER_M3 * GRAVITY_M_PER_S2 * float(point.flow_m3_per_h) / HOUR_S * float(point.head_m)
    efficiency = water_w / (float(point.shaft_power_kw) * KW_W)
    return max(efficiency, _LEAST_EFFICIENCY)


class CurveCoefficients(Facts):
    """H = shut-off head - drop * Q^exponent, with Q in m3/h and H in m."""

    shut_off_head_m: quantity("m", 0.1, 3000, "Head at no flow")
    drop_at_1_m3_per_h_m: quantity("m", 1e-15, 3000, "Head lost at a flow of 1 m³/h: the b of H = a − b·Q^c")
    exponent: quantity("1", 0.5, 6, "Exponent c of H = a − b·Q^c")


class CurvePolynomial(Facts):
    """H = a + b q + c q² + d q³ with H in m and q the flow in 1,000 m³/h, up to a greatest flow."""

    shut_off_head_m: quantity("m", 0.1, 3000, "Head at no flow: the a of H = a + b·q + c·q² + d·q³")
    linear_m: quantity("m", -3000, 3000, "The b of H = a + b·q + c·q² + d·q³, q in 1,000 m³/h; 0 where there is none")
    square_m: quantity("m", -30_000, 30_000, "The c of H = a + b·q + c·q² + d·q³, q in 1,000 m³/h")
    cube_m: (
        quantity("m", -300_000, 300_000, "The d of H = a + b·q + c·q² + d·q³; leave empty if there is none") | None
    ) = None
    greatest_flow_m3_per_h: quantity("m³/h", 1, 100_000, "Flow up to which the polynomial holds")

    def points(self) -> list[tuple[float, float]]:
        """Return flows in m³/h with heads in m, close enough for a curve through them to be the polynomial."""
        last = self.greatest_flow_m3_per_h
        flows = [last * place / _POLYNOMIAL_PIECES for place in range(_POLYNOMIAL_PIECES + 1)]
        return [(flow, self._head(flow / 1000.0)) for flow in flows]

    def _head(self, q: float) -> float:
        head: float = self.shut_off_head_m + q * (self.linear_m + q * (self.square_m + q * (self.cube_m or 0.0)))
        return head

    @model_validator(mode="after")
    def _falls(self) -> Self:
        flows, heads = zip(*self.points(), strict=True)
        check_falling_curve(flows, heads)
        if heads[-1] < 0.0:
            raise ValueError(
                f"the polynomial gives {heads[-1]:g} m at greatest_flow_m3_per_h {flows[-1]:g} m³/h; state the flow up"
                " to which it was fitted."
            )
        return self


class PumpCurve(Facts):
    """Head over flow at one tested speed: points, coefficients of a power, or a polynomial."""

    speed_rpm: Speed
    tested_viscosity_mm2_per_s: (
        quantity("mm²/s", 0.1, 5000, "Viscosity of the liquid that it was tested with; leave empty for water") | None
    ) = None
    points: Annotated[list[CurvePoint], Field(min_length=2, max_length=MOST_POINTS)] | None = None
    coefficients: CurveCoefficients | None = None
    polynomial: CurvePolynomial | None = None

    @model_validator(mode="after")
    def _one_form_that_falls(self) -> Self:
        if sum(form is not None for form in (self.points, self.coefficients, self.polynomial)) != 1:
            raise ValueError("state the curve by points, by coefficients or by a polynomial, one of these.")
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
        if self.drive == FIXED_SPEED and self.least_speed_rpm != self.greatest_speed_rpm:
            raise ValueError(
                f"drive is {self.drive!r}, but least_speed_rpm {self.least_speed_rpm:g} rpm and greatest_speed_rpm"
                f" {self.greatest_speed_rpm:g} rpm differ; give both the motor's speed, or state the drive otherwise."
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
    cargo_line_rating_bar_gauge: Rating | None = None
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
