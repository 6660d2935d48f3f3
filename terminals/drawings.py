"""The picture of a berth's shore line: its elevations and ratings, from the arms to the end."""

from __future__ import annotations

from shared.pictures import PictureUnits, ProfilePoint, profile_picture
from terminals.facts import BerthFacts


def line_picture(facts: BerthFacts, units: PictureUnits) -> bytes:
    """Draw the shore line as stated; nothing is worked out for it."""
    end = facts.shore_end
    tanks = [end.tank] if end.tank is not None else end.tanks
    levels = [(f"surface in {tank.name or 'the tank'}", tank.surface_elevation_m) for tank in tanks]
    return profile_picture(line_points(facts), f"{facts.name}: shore line", levels=levels, units=units)


def line_points(facts: BerthFacts) -> list[ProfilePoint]:
    """Return the points of the shore line, distance counted from the arms' shore end."""
    points = [ProfilePoint("Shore end of the arms", 0.0, facts.arm_shore_end_elevation_m)]
    distance_m = 0.0
    for run in facts.shore_line:
        distance_m += run.length_m
        points.append(ProfilePoint(run.name, distance_m, run.end_elevation_m, rating_bar_gauge=run.rating_bar_gauge))
    return points
