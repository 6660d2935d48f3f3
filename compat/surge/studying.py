"""A case as a line with its events, worked out part by part (pure: no Django)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from compat.calc.surge.march import Envelope
from compat.calc.surge.study import EventResult, study_event
from compat.calc.surge.system import Event, System
from compat.case.case_file import CaseFile
from compat.case.flange_ratings import with_flange_ratings
from compat.surge.asking import StatedValve, needs, stated_valves
from compat.surge.cautions import filling_velocities, stiffness_of_cargo
from compat.surge.lining import LineMaker, SurgeLine
from shared.calc.errors import InputError
from shared.calc.units import HOUR_S

START_S = 30.0  # common practice, no source: not longer than 30 seconds against a closed valve


@dataclass(frozen=True)
class Studied:
    """An event with all that its pictures need."""

    key: str
    result: EventResult
    system: System

    @property
    def envelope(self) -> Envelope:
        """Return greatest and least heads."""
        return self.result.envelope


class SurgeStudy:
    """The surge of one case, worked out part by part; ``problem`` says why nothing can be."""

    def __init__(self, case: CaseFile, answer: Mapping[str, Any]) -> None:
        self.case = with_flange_ratings(case)
        self.answer = answer
        self.questions = tuple(needs(self.case))
        self.problem = ""
        self.notes: tuple[str, ...] = ()
        self.maker: LineMaker | None = None
        self.system: System | None = None
        if self.questions:
            self.problem = "Surge is not decided: what it needs is not stated."
        elif answer["outcome"] == "no operating point":
            self.problem = "Surge is not decided: there is no operating point to start from."
        else:
            self._make()

    def _make(self) -> None:
        speeds = {pump["pump"]: pump["speed_rpm"] for pump in self.answer["pumps"] if pump["running"]}
        try:
            self.maker = LineMaker(self.case, speeds)
            line = self._line(self.maker)
            line.system.check_steady()
        except InputError as error:
            self.problem = str(error)
            return
        self.system, self.notes = (
            line.system,
            (
                *line.notes,
                *stiffness_of_cargo(self.case),
                *filling_velocities(self.case),
            ),
        )

    def _line(self, maker: LineMaker, *, coarse: bool = False) -> SurgeLine:
        if self.answer["throttled_head_m"] > 0:
            return maker.at_flow(self.answer["total_flow_m3_per_h"] / HOUR_S, coarse=coarse)
        return maker.at_speeds(coarse=coarse)

    def coarse(self) -> System:
        """Return the line as answered on a coarse grid, to search on; raise InputError where there is none."""
        if self.maker is None:
            raise InputError(self.problem)
        return self._line(self.maker, coarse=True).system

    def at_flow(self, flow_m3_per_s: float) -> System:
        """Return the line at another flow [m3/s], pumps at other speeds; raise InputError where there is none."""
        if self.maker is None:
            raise InputError(self.problem)
        return self.maker.at_flow(flow_m3_per_s).system

    @property
    def most_flow_m3_per_s(self) -> float:
        """Flow at the pumps' greatest speeds; as answered where their speeds are stated."""
        if self.maker is None or self.system is None:
            raise InputError(self.problem)
        if self.case.operation.speed == "as stated":
            return self.system.flow_m3_per_s
        return max(self.maker.most_flow_m3_per_s, self.system.flow_m3_per_s)

    def closing_time_s(self, valve: StatedValve) -> float | None:
        """Return the time that counts for a valve: as agreed, else as it is set."""
        agreed = self.case.agreed.closing_time_s
        return valve.facts.closing_time_s if agreed is None else agreed

    def events(self) -> dict[str, Event]:
        """Return the events that can be worked out, by key."""
        found: dict[str, Event] = {}
        timed = [(valve, self.closing_time_s(valve)) for valve in stated_valves(self.case)]
        for valve, time in timed:
            if time is not None:
                found[valve.key] = Event(f"{valve.label} shuts in {time:g} s", (valve.key,), time)
        found["trip"] = Event("All pumps trip", trip=True)
        for valve, time in timed[-1:]:
            if time is not None:
                label = f"All pumps trip and {valve.named} shuts in {time:g} s"
                found[f"trip-and-{valve.key}"] = Event(label, (valve.key,), time, trip=True)
            label = f"Start while {valve.named} is shut, speed raised over {START_S:g} s"
            found["start"] = Event(label, starts_against=valve.key, start_s=START_S)
        return found

    def studied(self, key: str, watch_all: bool = True) -> Studied:
        """Return one event worked out; raise InputError where there is no such event or nothing to work on."""
        event = self.events().get(key)
        if event is None or self.system is None:
            raise InputError(self.problem or f"Event “{key}” is not one of this case.")
        watch = [*self.system.grid.first, self.system.grid.nodes - 1] if watch_all else []
        return Studied(key, study_event(self.system, event, watch), self.system)
