"""What is stated about a berth (pure: no Django). Elevations count from the berth's own zero, usually chart datum."""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from shared.calc.curve import check_falling_curve
from shared.facts import (
    Elevation,
    Facts,
    FlangeKey,
    Flow,
    GaugePressure,
    Head,
    NotText,
    OptionalText,
    PipeSegment,
    PositiveFlow,
    Rating,
    ShortText,
    Velocity,
    quantity,
)
from shared.surge_facts import BerthSurgeFacts
from terminals.berthing_facts import BerthBerthingFacts

MOST_ARMS = 12
MOST_SEGMENTS = 60
MOST_TANKS = 8
MOST_PAIRS = 200
MOST_POINTS = 30


class ArmFacts(PipeSegment):
    """A kind of loading arm or hose, and how many of it are connected side by side."""

    name: ShortText
    kind: Literal["arm", "hose"] = "arm"
    flange: FlangeKey | None = None
    count: Annotated[int, Field(ge=1, le=MOST_ARMS), NotText]
    rating_bar_gauge: Rating | None = None
    velocity_limit_m_per_s: Velocity | None = None


class ShoreSegment(PipeSegment):
    """A run of the shore line, from the end of the one before it to its own end elevation."""

    name: ShortText
    end_elevation_m: Elevation
    rating_bar_gauge: Rating | None = None
    flange: FlangeKey | None = None
    velocity_limit_m_per_s: Velocity | None = None


class ShoreTankFacts(Facts):
    """The receiving tank as it stands now."""

    name: OptionalText = ""
    surface_elevation_m: Elevation
    gas_pressure_bar_gauge: GaugePressure
    bottom_elevation_m: Elevation | None = None
    top_elevation_m: Elevation | None = None

    @model_validator(mode="after")
    def _surface_inside(self) -> Self:
        if self.top_elevation_m is not None and self.surface_elevation_m > self.top_elevation_m:
            raise ValueError(
                f"surface_elevation_m {self.surface_elevation_m:g} m is above the tank's top"
                f" at {self.top_elevation_m:g} m."
            )
        if self.bottom_elevation_m is not None and self.surface_elevation_m < self.bottom_elevation_m:
            raise ValueError(
                f"surface_elevation_m {self.surface_elevation_m:g} m is below the tank's bottom"
                f" at {self.bottom_elevation_m:g} m."
            )
        return self


class TankBranch(PipeSegment):
    """One of several tanks that receive at the same time, with the pipe of its own that leads to it."""

    name: ShortText
    surface_elevation_m: Elevation
    gas_pressure_bar_gauge: GaugePressure


class ObservedPair(Facts):
    """One observation: the rate, and the pressure that the ship's manifold gauge showed at it."""

    rate_m3_per_h: PositiveFlow
    manifold_pressure_bar_gauge: GaugePressure


class ObservedFacts(Facts):
    """A shore known only from earlier discharges with the same line-up; arms and line are in the pairs."""

    pairs: Annotated[list[ObservedPair], Field(min_length=2, max_length=MOST_PAIRS)]
    manifold_elevation_m: Elevation
    density_kg_per_m3: quantity("kg/m³", 500, 1200, "Density of the liquid that was observed")
    kinematic_viscosity_mm2_per_s: quantity("mm²/s", 0.1, 5000, "Kinematic viscosity of the liquid that was observed")

    @model_validator(mode="after")
    def _pressure_rises_with_rate(self) -> Self:
        for one, other in pairwise(self.pairs):
            if other.rate_m3_per_h <= one.rate_m3_per_h:
                raise ValueError(
                    f"the pair at {other.rate_m3_per_h:g} m³/h stands after {one.rate_m3_per_h:g} m³/h;"
                    " put the rates in rising order, each once."
                )
            if other.manifold_pressure_bar_gauge <= one.manifold_pressure_bar_gauge:
                raise ValueError(
                    f"the pressure does not rise from {one.manifold_pressure_bar_gauge:g} bar at"
                    f" {one.rate_m3_per_h:g} m³/h to {other.manifold_pressure_bar_gauge:g} bar at"
                    f" {other.rate_m3_per_h:g} m³/h; correct the pairs or take the stray one out."
                )
        return self


class ShoreEnd(Facts):
    """Where the shore line ends: a tank, several at once, or a stated pressure; or the whole shore as observed."""

    tank: ShoreTankFacts | None = None
    tanks: Annotated[list[TankBranch], Field(max_length=MOST_TANKS)] = []
    back_pressure_bar_gauge: GaugePressure | None = None
    observed: ObservedFacts | None = None

    @model_validator(mode="after")
    def _one_of_these(self) -> Self:
        stated = (self.tank is not None, bool(self.tanks), self.back_pressure_bar_gauge is not None)
        if sum((*stated, self.observed is not None)) != 1:
            raise ValueError(
                "state the receiving tank, several tanks, a fixed back-pressure, or observed pairs: one of these."
            )
        if len(self.tanks) == 1:
            raise ValueError("tanks lists a single tank; state it as tank, and its pipe as the last shore segment.")
        return self


class BoosterPoint(Facts):
    """One point of a booster pump at the speed at which it runs."""

    flow_m3_per_h: Flow
    head_m: Head


class BoosterFacts(Facts):
    """A pump on the shore line that runs during this transfer."""

    name: ShortText
    feeds_segment: ShortText
    points: Annotated[list[BoosterPoint], Field(min_length=2, max_length=MOST_POINTS)]

    @model_validator(mode="after")
    def _curve_falls(self) -> Self:
        check_falling_curve([point.flow_m3_per_h for point in self.points], [point.head_m for point in self.points])
        return self


class FoundFacts(Facts):
    """What kept records of transfers showed of arms and line; it counts on top of what is stated."""

    resistance_percent: (
        quantity("%", 20, 500, "Head lost in arms and line as found, of what follows from the stated pipes") | None
    ) = None
    static_head_m: quantity("m", -50, 50, "Static head as found, over (+) or under (-) the stated one") | None = None


class BerthSizeFacts(Facts):
    """The size of ship that the berth takes; anything may be unknown."""

    greatest_length_overall_m: quantity("m", 20, 500, "Greatest length overall accepted") | None = None
    greatest_beam_m: quantity("m", 5, 80, "Greatest beam accepted") | None = None
    greatest_draught_m: quantity("m", 1, 30, "Greatest draught accepted") | None = None
    greatest_deadweight_t: quantity("t", 100, 600_000, "Greatest deadweight accepted") | None = None
    depth_below_zero_m: quantity("m", 1, 60, "Depth of water below the berth's zero") | None = None


class BerthFacts(Facts):
    """Everything stated about one berth that an assessment uses."""

    name: ShortText
    terminal: OptionalText = ""
    port: OptionalText = ""
    size: BerthSizeFacts = BerthSizeFacts()
    arms: Annotated[list[ArmFacts], Field(min_length=1, max_length=MOST_ARMS)]
    arm_shore_end_elevation_m: Elevation
    shore_line: Annotated[list[ShoreSegment], Field(max_length=MOST_SEGMENTS)] = []
    shore_end: ShoreEnd
    booster: BoosterFacts | None = None
    found: FoundFacts | None = None
    surge: BerthSurgeFacts | None = None
    berthing: BerthBerthingFacts | None = None
    manifold_pressure_limit_bar_gauge: Rating | None = None
    receiving_rate_m3_per_h: PositiveFlow | None = None
    source: OptionalText = ""

    @model_validator(mode="after")
    def _parts_fit(self) -> Self:
        names = [segment.name for segment in self.shore_line]
        if self.booster is not None and names.count(self.booster.feeds_segment) != 1:
            raise ValueError(
                f"booster.feeds_segment names {self.booster.feeds_segment!r}, which is not the name of one shore"
                f" segment; it has {', '.join(names) or 'none'}."
            )
        if self.shore_end.observed is not None and self.shore_line:
            raise ValueError("shore_line is given beside observed pairs, which already hold the whole shore; keep one.")
        return self
