"""What is stated for pressure surge (pure: no Django): walls of pipes, valves that shut, a relief valve.

All of it may be not known; then surge is not decided, and the answer says who can tell.
"""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from shared.facts import Facts, OptionalText, ShortText, quantity

Material = Literal["carbon steel", "stainless steel", "ductile iron", "glass-reinforced plastic"]
Restraint = Literal["anchored throughout", "anchored upstream", "expansion joints"]
ValveLaw = Literal["linear", "ball", "butterfly", "gate"]
LONGEST_CLOSING_S = 600
ClosingTime = quantity("s", 0.1, LONGEST_CLOSING_S, "Time in which the valve shuts, from the order to shut")
SurgeAllowance = quantity("%", 0, 33, "Part by which a surge may exceed a rating; leave empty for none")


class WallFacts(Facts):
    """The wall of a pipe, from which the speed of a pressure wave in it follows; or that speed itself, as of a hose."""

    wall_thickness_mm: quantity("mm", 0.5, 200, "Thickness of the wall") | None = None
    material: Material | None = None
    elastic_modulus_mpa: (
        quantity("MPa", 10, 400_000, "Young's modulus, where it is not that of a material named here") | None
    ) = None
    restraint: Restraint | None = None
    wave_speed_m_per_s: (
        quantity("m/s", 100, 1500, "Speed of a pressure wave, where it is known; counts before the wall") | None
    ) = None


class RunWallFacts(WallFacts):
    """The wall of one run of the shore line, or of one kind of arm or hose."""

    run: ShortText


class ValveFacts(Facts):
    """A valve that may shut during the transfer: how it closes, and the time it takes as it is set now."""

    law: ValveLaw
    closing_time_s: ClosingTime | None = None
    source: OptionalText = ""


class ReliefFacts(Facts):
    """A relief valve on a run of the shore line: opens evenly from one pressure to the other, then passes its flow."""

    run: ShortText
    distance_m: quantity("m", 0, 200_000, "From the start of the run, on the ship's side")
    opens_at_bar_gauge: quantity("bar", 0.1, 400, "Pressure above atmosphere at which it begins to open")
    full_at_bar_gauge: quantity("bar", 0.1, 400, "Pressure above atmosphere at which it is fully open")
    full_flow_m3_per_h: quantity("m³/h", 0.1, 100_000, "What it passes fully open")

    @model_validator(mode="after")
    def _opens_before_it_is_full(self) -> Self:
        if self.full_at_bar_gauge <= self.opens_at_bar_gauge:
            raise ValueError(
                f"full_at_bar_gauge {self.full_at_bar_gauge:g} bar is not above"
                f" opens_at_bar_gauge {self.opens_at_bar_gauge:g} bar."
            )
        return self


class ShipSurgeFacts(Facts):
    """What the ship states for pressure surge: the wall of her common line, and her manifold valve."""

    common_line_wall: WallFacts | None = None
    manifold_valve: ValveFacts | None = None


class BerthSurgeFacts(Facts):
    """What the terminal states for pressure surge; the shore valve stands at the end of the line unless a run is named.

    The arm valve stands where the arms end ashore.
    """

    walls: Annotated[list[RunWallFacts], Field(max_length=80)] = []
    arm_valve: ValveFacts | None = None
    shore_valve: ValveFacts | None = None
    shore_valve_behind: OptionalText = ""
    relief_valve: ReliefFacts | None = None
