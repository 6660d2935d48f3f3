"""Which pumps, at which speeds, make the same rate with the least shaft power (pure: no Django)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

from compat.case.answer import answer_cases
from compat.case.answer_parts import Answer
from compat.case.case_file import CaseFile, PumpState
from compat.case.pump_arrays import driven_eductors, pump_kinds

_SAME_RATE = 1e-6
MOST_WAYS = 400


@dataclass(frozen=True)
class Way:
    """One way of making a rate: the pumps that run, each with its speed, and their shaft power together."""

    pumps: tuple[str, ...]
    speeds_rpm: tuple[float, ...]
    shaft_power_kw: float
    rate_m3_per_h: float


@dataclass(frozen=True)
class Ways:
    """Ways of making the same rate, least power first; ``reason`` says why there is none to compare."""

    ways: tuple[Way, ...]
    reason: str = ""


def ways_to_make(case: CaseFile, answer: Answer) -> Ways:
    """Return the ways of making the answered rate within every limit, least shaft power first.

    Pumps run at one common speed, and dissimilar ones also at one common fraction of their tested speeds. Needs
    the efficiency of every pump that runs.
    """
    rate = answer.total_flow_m3_per_h
    if rate is None or case.operation.speed == "as stated":
        return Ways((), "The speeds are as stated, or there is no operating point.")
    cases = list(_variants(case, rate))
    if len(cases) > MOST_WAYS:
        return Ways((), f"There are {len(cases):,} ways to choose the pumps; at most {MOST_WAYS} are compared.")
    tried = [answer for answer in answer_cases(cases) if _makes(answer, rate)]
    found = [way for answer in tried if (way := _way(answer)) is not None]
    if not tried:
        return Ways((), "No choice of pumps makes this rate without throttling.")
    if not found:
        return Ways((), "The efficiency of the pumps is not known; ask the ship for it.")
    unlike = {(way.pumps, tuple(round(speed, 3) for speed in way.speeds_rpm)): way for way in found}
    return Ways(tuple(sorted(unlike.values(), key=lambda way: way.shaft_power_kw)))


def _variants(case: CaseFile, rate: float) -> Iterator[CaseFile]:
    agreed = case.agreed.model_copy(update={"highest_rate_m3_per_h": rate})
    driven = {pump.key for pump, _ in driven_eductors(case)}
    everything = [state.model_copy(update={"running": True}) for state in case.operation.pumps]
    whole = case.model_copy(update={"operation": case.operation.model_copy(update={"pumps": everything})})
    groups = [kind.keys for kind in pump_kinds(whole)]
    rules = ("one common speed", "one common fraction") if len(groups) > 1 else (case.operation.speed,)
    for counts in product(*(range(len(keys) + 1) for keys in groups)):
        running = {key for keys, count in zip(groups, counts, strict=True) for key in keys[:count]}
        if not running:
            continue
        states: list[PumpState] = [
            state.model_copy(update={"running": state.pump in running | driven}) for state in everything
        ]
        for rule in rules:
            operation = case.operation.model_copy(update={"pumps": states, "speed": rule})
            yield case.model_copy(update={"operation": operation, "agreed": agreed})


def _makes(answer: Answer, rate: float) -> bool:
    """Tell whether an answer makes the rate with every one of its pumps at work."""
    reached = answer.total_flow_m3_per_h
    if answer.outcome != "found" or reached is None or abs(reached / rate - 1.0) > _SAME_RATE:
        return False
    return all(pump.flow_m3_per_h > 0 for pump in answer.pumps if pump.running)


def _way(answer: Answer) -> Way | None:
    running = [pump for pump in answer.pumps if pump.running]
    powers = [pump.shaft_power_kw for pump in running if pump.shaft_power_kw is not None]
    if len(powers) < len(running):
        return None
    return Way(
        tuple(pump.pump for pump in running),
        tuple(pump.speed_rpm or 0.0 for pump in running),
        sum(powers),
        answer.total_flow_m3_per_h or 0.0,
    )
