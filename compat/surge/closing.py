"""What a valve's closing has to be: the highest rate for its time, and the shortest time for the rate (pure)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from compat.calc.surge.study import (
    LONGEST_CLOSING_S,
    Margins,
    Verdict,
    confirmed_closing,
    highest_flow,
    margins_in,
    shortest_closing,
)
from compat.calc.surge.system import Event, System
from compat.calc.surge.valves import SOURCES
from compat.surge.asking import StatedValve
from compat.surge.found import Found
from compat.surge.studying import SurgeStudy
from shared.calc.errors import InputError
from shared.calc.units import HOUR_S

_LEAST_RATE = 0.02  # part of the rate: a time that does not keep a rating at this one keeps it at none


@dataclass(frozen=True)
class ClosingRate:
    """What the rate may be for the time in which a valve shuts; all None where no time is agreed or stated.

    ``verdict`` is what closing comes to at the answered rate. ``highest_m3_per_h`` is the highest rate that keeps the
    ratings, or where only the vapour pressure is reached, the highest that keeps clear of that too; None where none
    does. ``every_rate``: even all that the pumps can give is kept.
    """

    valve: StatedValve
    closing_time_s: float | None
    verdict: Verdict | None = None
    highest_m3_per_h: float | None = None
    every_rate: bool = False


@dataclass(frozen=True)
class ClosingTimes:
    """The shortest whole seconds, up to 600, for the answered rate; None where no time does.

    ``within_ratings_s`` keeps every known rating, ``safe_s`` the liquid above its vapour pressure too; that takes
    longer to find, and ``safe_s`` is None as well where it was not ``safe_searched``. ``verdict`` is what closing in
    the time that counts comes to, None where none does.
    """

    within_ratings_s: int | None
    verdict: Verdict | None
    safe_s: int | None = None
    safe_searched: bool = False


@dataclass(frozen=True)
class SafeClosing:
    """What a valve's closing has to be, as ClosingRate and ClosingTimes say it, in one record."""

    key: str
    label: str
    owner: str
    law: str
    source: str
    closing_time_s: float | None
    verdict: Verdict | None
    shortest_within_ratings_s: int | None
    shortest_safe_s: int | None
    highest_rate_m3_per_h: float | None
    every_rate: bool


def safe_closing(study: SurgeStudy, valve: StatedValve, found: Found | None = None) -> SafeClosing:
    """Search a valve's shortest times, and the highest rate for the time that counts.

    Raises SearchPausedError where the time given to ``found`` is used up; the same one takes the search up again.
    """
    asked = found or Found()
    return recorded(rate_for(study, valve, asked), times_for(study, valve, asked))


def recorded(rate: ClosingRate, times: ClosingTimes) -> SafeClosing:
    """Return both answers on a valve as one record."""
    valve = rate.valve
    return SafeClosing(
        key=valve.key,
        label=valve.label,
        owner=valve.owner,
        law=valve.facts.law,
        source=valve.facts.source or SOURCES[valve.facts.law],
        closing_time_s=rate.closing_time_s,
        verdict=rate.verdict,
        shortest_within_ratings_s=times.within_ratings_s,
        shortest_safe_s=times.safe_s,
        highest_rate_m3_per_h=rate.highest_m3_per_h,
        every_rate=rate.every_rate,
    )


def rate_for(study: SurgeStudy, valve: StatedValve, found: Found | None = None, *, covered: bool = True) -> ClosingRate:
    """Return the highest rate for the time in which a valve shuts, and what closing comes to at the answered one.

    Where only the liquid boils, the rate that these figures still cover is searched if ``covered`` is asked for.
    """
    asked, time = found or Found(), study.closing_time_s(valve)
    if time is None:
        return ClosingRate(valve, None)
    event = Event(valve.label, (valve.key,), time)
    now, most = _system(study).flow_m3_per_s, study.most_flow_m3_per_s

    def at(flow: float) -> Margins:
        def find() -> Margins:
            return margins_in(_system(study) if flow == now else study.at_flow(flow), event)

        return asked.of(f"{valve.key}: {flow:.6f} m3/s", find)

    verdict = at(now).verdict

    def margin(flow: float) -> float:
        return at(flow).rating_m if verdict == "exceeded" else at(flow).least_m

    if verdict == "kept":
        every = most <= now or margin(most) >= 0.0
        flow = most if every else highest_flow(margin, now, most)
        return ClosingRate(valve, time, verdict, flow * HOUR_S, every)
    if (verdict == "boils" and not covered) or margin(_LEAST_RATE * now) < 0.0:
        return ClosingRate(valve, time, verdict)
    return ClosingRate(valve, time, verdict, highest_flow(margin, _LEAST_RATE * now, now) * HOUR_S)


def times_for(study: SurgeStudy, valve: StatedValve, found: Found | None = None, *, safe: bool = True) -> ClosingTimes:
    """Return the shortest times in which a valve may shut at the answered rate; without ``safe`` for ratings alone."""
    asked, system, time = found or Found(), _system(study), study.closing_time_s(valve)
    event = Event(valve.label, (valve.key,), 1.0)
    # The rate is part of the name: it was lowered where a closing time asked for that.
    rate = f"{valve.key}: {system.flow_m3_per_s:.6f} m3/s"

    coarse = study.coarse()

    def shuts_in(seconds: int, on: System) -> Verdict:
        shuts = replace(event, closing_s=float(seconds))
        name = f"{rate}, {seconds} s{', fine' if on is system else ''}"
        return asked.of(name, lambda: margins_in(on, shuts, only_verdict=True)).verdict

    def shortest(passes: Callable[[Verdict], bool]) -> int | None:
        near = shortest_closing(lambda seconds: passes(shuts_in(seconds, coarse)), start)
        return confirmed_closing(near or LONGEST_CLOSING_S, lambda seconds: passes(shuts_in(seconds, system)))

    timed = replace(event, closing_s=time)
    verdict = None if time is None else asked.of(rate, lambda: margins_in(system, timed)).verdict
    start = 8 if time is None else round(time)
    within = shortest(lambda verdict: verdict != "exceeded")
    if not safe:
        return ClosingTimes(within, verdict)
    return ClosingTimes(within, verdict, shortest(lambda verdict: verdict == "kept"), safe_searched=True)


def _system(study: SurgeStudy) -> System:
    if study.system is None:
        raise InputError(study.problem)
    return study.system
