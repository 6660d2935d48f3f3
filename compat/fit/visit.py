"""What is stated about a visit: when she comes, how deep, for how long, in which water (pure: no Django)."""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from shared.facts import Day, Facts, NotText, quantity

MOST_WATERS = 60
VisitDraught = quantity("m", 0.5, 30, "Mean draught")


class VisitWater(Facts):
    """A high or low water; hours count from her arrival, before it below zero."""

    hour_h: quantity("h", -24, 500, "Hours after arrival; before it below zero")
    height_m: quantity("m", -20, 30, "Height over the berth's zero")


class VisitFacts(Facts):
    """One visit of a ship to a berth; anything may be unknown."""

    arrives_on: Day | None = None
    arrival_hour_h: quantity("h", 0, 24, "Hour of the day at which she comes alongside, UTC") | None = None
    stay_h: quantity("h", 1, 500, "Hours alongside") | None = None
    arrival_draught_m: VisitDraught | None = None
    departure_draught_m: VisitDraught | None = None
    arrival_displacement_t: quantity("t", 100, 800_000, "Displacement on arrival") | None = None
    water_level_m: quantity("m", -20, 30, "Water level over the berth's zero at the time of the assessment") | None = (
        None
    )
    tank_washing: Literal["none", "crude oil washing", "water washing"] | None = None
    grades: Annotated[int, Field(ge=1, le=20), NotText] | None = None
    waters: Annotated[list[VisitWater], Field(max_length=MOST_WATERS)] = []

    @model_validator(mode="after")
    def _waters_by_turns(self) -> Self:
        if len(self.waters) == 1:
            raise ValueError("waters holds one water; state two or more, high and low by turns, or none.")
        for one, other in pairwise(self.waters):
            if other.hour_h <= one.hour_h:
                raise ValueError(
                    f"the water at hour {other.hour_h:g} h stands after hour {one.hour_h:g} h; put them in order."
                )
        steps = [other.height_m - one.height_m for one, other in pairwise(self.waters)]
        if any(one * other >= 0 for one, other in pairwise(steps)):
            raise ValueError(
                "a water is neither high nor low beside its neighbours; give high and low waters by turns."
            )
        return self
