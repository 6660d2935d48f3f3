"""What is stated about a berth (pure: no Django). Elevations count from the berth's own zero, usually chart datum."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from shared.facts import (
    Elevation,
    Facts,
    GaugePressure,
    OptionalText,
    PipeSegment,
    PositiveFlow,
    Rating,
    ShortText,
    Velocity,
    quantity,
)

MOST_ARMS = 12
MOST_SEGMENTS = 60


class ArmFacts(PipeSegment):
    """A kind of loading arm or hose, and how many of it are connected side by side."""

    name: ShortText
    kind: Literal["arm", "hose"] = "arm"
    count: Annotated[int, Field(ge=1, le=MOST_ARMS)]
    rating_bar_gauge: Rating | None = None
    velocity_limit_m_per_s: Velocity | None = None


class ShoreSegment(PipeSegment):
    """A run of the shore line, from the end of the one before it to its own end elevation."""

    name: ShortText
    end_elevation_m: Elevation
    rating_bar_gauge: Rating | None = None
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
                f"surface_elevation_m {self.surface_elevation_m:g} m is above the tank's top at {self.top_elevation_m:g} m."
            )
        if self.bottom_elevation_m is not None and self.surface_elevation_m < self.bottom_elevation_m:
            raise ValueError(
                f"surface_elevation_m {self.surface_elevation_m:g} m is below the tank's bottom at {self.bottom_elevation_m:g} m."
            )
        return self


class ShoreEnd(Facts):
    """Where the shore line ends: a tank, or a stated pressure at the end of the last segment."""

    tank: ShoreTankFacts | None = None
    back_pressure_bar_gauge: GaugePressure | None = None

    @model_validator(mode="after")
    def _one_of_the_two(self) -> Self:
        if (self.tank is None) == (self.back_pressure_bar_gauge is None):
            raise ValueError("state the receiving tank or a fixed back-pressure, one of the two.")
        return self


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
    manifold_pressure_limit_bar_gauge: Rating | None = None
    receiving_rate_m3_per_h: PositiveFlow | None = None
    source: OptionalText = ""
