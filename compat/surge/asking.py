"""What surge needs to know and does not, and who can tell (pure: no Django)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from compat.case.case_file import CaseFile
from shared.cargo_facts import bulk_modulus_of
from shared.facts import PipeSegment
from shared.surge_facts import BerthSurgeFacts, RunWallFacts, ShipSurgeFacts, ValveFacts, WallFacts

SHIP_LINE = "the ship's common line"


@dataclass(frozen=True)
class StatedRun:
    """A run of pipe as stated, with its wall; ``owner`` is who can tell."""

    name: str
    owner: str
    pipe: PipeSegment
    wall: WallFacts | None


@dataclass(frozen=True)
class StatedValve:
    """A valve as stated; ``behind`` names what it stands behind."""

    key: str
    label: str
    owner: str
    facts: ValveFacts

    @property
    def named(self) -> str:
        """Return what it is called amid a sentence: the ship's manifold valve."""
        return f"the {self.label[:1].lower()}{self.label[1:]}"


def ship_surge(case: CaseFile) -> ShipSurgeFacts:
    """Return what the ship states for surge, empty where she states nothing."""
    return case.ship.surge or ShipSurgeFacts()


def berth_surge(case: CaseFile) -> BerthSurgeFacts:
    """Return what the berth states for surge, empty where it states nothing."""
    return case.berth.surge or BerthSurgeFacts()


def stated_runs(case: CaseFile) -> list[StatedRun]:
    """Return every run between the pumps' junction and the end of the shore line, in the liquid's order."""
    walls: dict[str, RunWallFacts] = {wall.run: wall for wall in berth_surge(case).walls}
    own = ship_surge(case).common_line_wall
    runs = [StatedRun(SHIP_LINE, "ship", pipe, own) for pipe in case.ship.common_line]
    runs += [StatedRun(arm.name, "terminal", arm, walls.get(arm.name)) for arm in case.berth.arms]
    return runs + [StatedRun(run.name, "terminal", run, walls.get(run.name)) for run in case.berth.shore_line]


def stated_valves(case: CaseFile) -> list[StatedValve]:
    """Return the valves that may shut, from ship to shore; one without a place in a line is left out."""
    ship, berth = ship_surge(case), berth_surge(case)
    found = []
    if ship.manifold_valve is not None and case.ship.common_line:
        found.append(StatedValve("ship-valve", "Ship's manifold valve", "ship", ship.manifold_valve))
    if berth.arm_valve is not None and case.berth.shore_line:
        found.append(StatedValve("arm-valve", "Valve at the arms' shore end", "terminal", berth.arm_valve))
    if berth.shore_valve is not None:
        found.append(StatedValve("shore-valve", "Shore valve", "terminal", berth.shore_valve))
    return found


def needs(case: CaseFile) -> list[str]:
    """Return a sentence for each fact without which no surge can be worked out; empty where all are known."""
    if case.berth.shore_end.observed is not None:
        return ["The shore is known by observed pairs only: ask the terminal for its piping, run by run."]
    kinds = {pump.key: pump.kind for pump in case.ship.pumps}
    if any(state.running and kinds[state.pump] != "centrifugal" for state in case.operation.pumps):
        return ["Surge is worked out for centrifugal pumps alone; ask for a specialist surge study for the others."]
    return list(dict.fromkeys(_needs(case)))


def _needs(case: CaseFile) -> Iterator[str]:
    runs = stated_runs(case)
    by_wall = [run for run in runs if run.wall is None or run.wall.wave_speed_m_per_s is None]
    bulk = bulk_modulus_of(case.cargo)
    if by_wall and bulk.value_mpa is None:
        yield (
            "Bulk modulus of the cargo is not stated: ask the ship for it from the shipper's or the laboratory's data;"
            " crude and fuel oil usually have 1,300 to 1,700 MPa, gasoline 900 to 1,500. Or state the density at 15 °C,"
            f" the group of oil and the temperature, from which it follows. {bulk.question}".rstrip()
        )
    for run in by_wall:
        missing = list(_missing_of(run.wall))
        if missing:
            verb = "is" if len(missing) == 1 else "are"
            yield (
                f"{' and '.join(missing).capitalize()} of {run.name} {verb} not stated: ask the {run.owner};"
                " or state the wave speed in it."
            )


def _missing_of(wall: WallFacts | None) -> Iterator[str]:
    if wall is None or wall.wall_thickness_mm is None:
        yield "wall thickness"
    if wall is None or (wall.material is None and wall.elastic_modulus_mpa is None):
        yield "material"
    if wall is None or wall.restraint is None:
        yield "restraint"


def asks(case: CaseFile) -> list[str]:
    """Return what surge would be better for, but is worked out without."""
    found = []
    if case.cargo.vapour_pressure_kpa_abs is None and case.cargo.laboratory is None:
        found.append("Vapour pressure of the cargo is not stated: ask the ship; vacuum is taken as the bound instead.")
    if not stated_valves(case):
        found.append("No valve is stated that may shut: ask ship and terminal for their valves and closing times.")
    found += [
        f"Closing time of {valve.named} is neither agreed nor stated: ask the {valve.owner}."
        for valve in stated_valves(case)
        if case.agreed.closing_time_s is None and valve.facts.closing_time_s is None
    ]
    if case.ship.manifold.rating_bar_gauge is None and case.ship.cargo_line_rating_bar_gauge is None:
        found.append("Rating of the ship's manifold and line is not stated: ask the ship.")
    rated = [(arm.name, arm.rating_bar_gauge) for arm in case.berth.arms]
    rated += [(run.name, run.rating_bar_gauge) for run in case.berth.shore_line]
    found += [f"Rating of {name} is not stated: ask the terminal." for name, rating in rated if rating is None]
    if ship_surge(case).manifold_valve is not None and not case.ship.common_line:
        found.append("The ship's common line is not stated, so her manifold valve has no place: ask the ship.")
    known = {name for name, _ in rated}
    berth = berth_surge(case)
    places = []
    if berth.relief_valve is not None:
        places.append(("The relief valve", berth.relief_valve.run))
    if berth.shore_valve_behind:
        places.append(("The shore valve", berth.shore_valve_behind))
    found += [
        f"{what} names {name}, which is no run of this line: check the name."
        for what, name in places
        if name not in known
    ]
    return found
