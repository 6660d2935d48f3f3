"""What values on the table mean on the frozen case, and why a value can't be accepted (pure: no Django)."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from typing import Any, cast

from compat.accord.checklist.conditions import TransferConditions
from compat.accord.value_kinds import Given, NumberValue
from compat.accord.value_rules import contradictions
from compat.accord.values import DEFINITIONS, case_with, definition_of
from compat.case.case_file import CaseError, CaseFile, check_case
from compat.case.withholding import SHORE_LIMIT
from compat.surge.asking import stated_valves
from compat.surge.closing import ClosingRate, ClosingTimes, times_for
from compat.surge.limiting import KEYS as SURGE_LIMIT
from compat.surge.limiting import WithinSurge, answer_within_surge
from shared.calc.gas_and_static import INERT_GAS_FACTOR
from shared.calc.units import HOUR_S
from shared.pipe_arrays import area_m2
from shared.quantities import display

PRESSURE = "manifold_pressure_bar_gauge"
HIGHEST_RATE = "highest_rate_m3_per_h"
START_RATE = "start_rate_m3_per_h"
CLOSING_TIME = "closing_time_s"
BULK_RATE = "bulk_rate_m3_per_h"
LEAST_PRESSURE = "least_pressure_bar_gauge"
PUMPS, PUMPS_AT_START, SPEED = "pumps_in_bulk", "pumps_at_start", "highest_speed_rpm"
NOTHING_STATED = TransferConditions()
NEAR = 1e-6
"""Part of a value by which the engine's answer may miss it: its own rounding, not a tolerance of the agreement."""
ANSWERS_KEPT = 200
_ONLY_REPORTED = ("shut-valve", "slack-line", "least-flow-")
"""How keys of limits begin that no lower value keeps: where exceeded, the plan warns and nothing is refused."""


@dataclass(frozen=True)
class Worked:
    """The engine's answer with certain values agreed; ``problems`` says why there is none."""

    values: Mapping[str, Given]
    answer: dict[str, Any] | None
    problems: tuple[str, ...] = ()

    @property
    def limits(self) -> list[dict[str, Any]]:
        """Return every limit of the answer."""
        return self.answer["limits"] if self.answer else []

    @property
    def exceeded(self) -> list[dict[str, Any]]:
        """Return the limits that are broken."""
        return [limit for limit in self.limits if limit["state"] == "exceeded"]


def work_out(case: Mapping[str, Any], values: Mapping[str, Given]) -> Worked:
    """Answer the frozen case with exactly these values agreed."""
    if PRESSURE not in values and case["operation"]["speed"] != "as stated":
        return Worked(values, None, ("The answer follows as soon as a highest manifold pressure is on the table.",))
    try:
        return Worked(values, _answered(_case_text(case, values)))
    except CaseError as error:
        return Worked(values, None, tuple(error.problems))


def _case_text(case: Mapping[str, Any], values: Mapping[str, Given]) -> str:
    return json.dumps(case_with(case, values), sort_keys=True)


@lru_cache(maxsize=ANSWERS_KEPT)
def _within(case_text: str) -> WithinSurge:
    """Answer a case once: a page asks for the same values several times."""
    return answer_within_surge(check_case(json.loads(case_text), "With these values the case"))


@lru_cache(maxsize=ANSWERS_KEPT)
def _answered(case_text: str) -> dict[str, Any]:
    """Return the answer as a document. It is shared; nobody changes it."""
    return _within(case_text).answer.document()


@lru_cache(maxsize=ANSWERS_KEPT)
def _times(case_text: str, key: str) -> ClosingTimes:
    """Return the shortest closing time of a valve at the rate before surge is asked."""
    study = _within(case_text).free_study
    valve = next(valve for valve in stated_valves(study.case) if valve.key == key)
    return times_for(study, valve, safe=False)


def refusals(
    case: Mapping[str, Any],
    key: str,
    value: Given,
    others: Mapping[str, Given],
    conditions: TransferConditions = NOTHING_STATED,
) -> list[str]:
    """Return a sentence for each limit that ``value`` of ``key`` breaks, with ``others`` as they stand."""
    values = {**others, definition_of(key).key: value}
    found = list(contradictions(key, values, conditions))
    if key in _CAPS:
        found = [*_over_stated(case, key, Decimal(value), others), *found]
    if key in _WORKED_OUT and not found:
        found = list(_unworkable(case, values))
    return list(dict.fromkeys(found))


def _over_stated(case: Mapping[str, Any], key: str, value: Decimal, others: Mapping[str, Given]) -> Iterator[str]:
    """Yield what is stated of ship and berth that a value passes, whatever the engine answers."""
    told = {name: other for name, other in others.items() if name != SPEED}
    told.setdefault(PRESSURE, cast(NumberValue, DEFINITIONS[PRESSURE]).greatest)
    try:
        stated = check_case(case_with(case, told), "With these values the case")
    except CaseError as error:
        yield from error.problems
        return
    yield from _over_caps(key, value, _CAPS[key](stated))
    if key == SPEED:
        yield from _under_least_speed(stated, value)


def _under_least_speed(case: CaseFile, value: Decimal) -> Iterator[str]:
    running = {state.pump for state in case.operation.pumps if state.running}
    for pump in case.ship.pumps:
        if pump.key in running and float(value) < pump.least_speed_rpm:
            shown, least = DEFINITIONS[SPEED].shown(value), display(pump.least_speed_rpm, "rpm")
            yield f"{shown} is below the least speed of {pump.name}, {least} (ship)."


def warnings(limits: Iterable[Mapping[str, Any]]) -> list[str]:
    """Return a sentence for each limit that the plan has to warn of: exceeded ones that no value keeps, open surge."""
    stated = list(limits)
    exceeded = [
        f"Exceeded, and not kept by any agreed value: {limit['label']}. Settle before flow starts how it is dealt with."
        for limit in stated
        if limit["state"] == "exceeded" and limit["key"].startswith(_ONLY_REPORTED)
    ]
    return exceeded + [
        f"Not decided: {limit['label']}. {limit['ask']}"
        for limit in stated
        if limit["state"] == "not decided" and limit["key"].startswith(SURGE_LIMIT)
    ]


def settle_refusals(
    case: Mapping[str, Any], values: Mapping[str, Given], conditions: TransferConditions = NOTHING_STATED
) -> list[str]:
    """Return a sentence for each limit that keeps agreed values from being settled."""
    found = [sentence for key, value in values.items() for sentence in refusals(case, key, value, values, conditions)]
    return list(dict.fromkeys(found))


@dataclass(frozen=True)
class Cap:
    """A stated limit on a value: what it is, whose it is, and how much it allows."""

    label: str
    owner: str
    allowed: float


def _pressure_caps(case: CaseFile) -> Iterator[Cap]:
    """Yield what is stated about pressure at the manifold."""
    berth = case.berth
    stated = [
        ("the berth's own manifold pressure limit", "terminal", berth.manifold_pressure_limit_bar_gauge),
        ("the rating of the ship's manifold", "ship", case.ship.manifold.rating_bar_gauge),
        *((f"the rating of {arm.name}", "terminal", arm.rating_bar_gauge) for arm in berth.arms),
    ]
    yield from (Cap(label, owner, allowed) for label, owner, allowed in stated if allowed is not None)


def _rate_caps(case: CaseFile) -> Iterator[Cap]:
    """Yield the rates above which something stated is surely broken, whatever the pumps do."""
    berth, ship = case.berth, case.ship
    if berth.receiving_rate_m3_per_h is not None:
        yield Cap("the highest receiving rate ashore", "terminal", berth.receiving_rate_m3_per_h)
    if ship.inert_gas_delivery_m3_per_h is not None:
        yield Cap("inert gas delivery over 1.25", "ship", ship.inert_gas_delivery_m3_per_h / INERT_GAS_FACTOR)
    # No segment is named: the ship may read this and the terminal may keep its line data to itself.
    shore = [(segment.velocity_limit_m_per_s, area_m2(segment)) for segment in berth.shore_line]
    rates = [limit * area * HOUR_S for limit, area in shore if limit is not None]
    if rates:
        yield Cap("the velocity limit of the shore line", "terminal", min(rates))
    if ship.ship_line_velocity_limit_m_per_s is not None:
        for segment in ship.common_line:
            rate = ship.ship_line_velocity_limit_m_per_s * area_m2(segment) * HOUR_S
            yield Cap(f"the velocity limit in the ship's {segment.name or 'common line'}", "ship", rate)
    arms = [(arm.velocity_limit_m_per_s, area_m2(arm), arm.count) for arm in berth.arms]
    if all(limit is not None for limit, _, _ in arms):
        rate = sum((limit or 0.0) * area * count for limit, area, count in arms) * HOUR_S
        yield Cap("the velocity limit of the connected arms or hoses", "terminal", rate)
    yield from _rated_flow_cap(case)


def _pump_count_caps(case: CaseFile) -> Iterator[Cap]:
    yield Cap("the number of pumps that the case names with their tanks", "ship", len(case.operation.pumps))


def _speed_caps(case: CaseFile) -> Iterator[Cap]:
    running = {state.pump for state in case.operation.pumps if state.running}
    for pump in case.ship.pumps:
        if pump.key in running:
            yield Cap(f"the greatest speed of {pump.name}", "ship", pump.greatest_speed_rpm)


def _rated_flow_cap(case: CaseFile) -> Iterator[Cap]:
    running = {state.pump for state in case.operation.pumps if state.running}
    rated = [pump.rated_flow_m3_per_h for pump in case.ship.pumps if pump.key in running]
    if all(flow is not None for flow in rated):
        yield Cap("the rated flow of the running pumps together", "ship", sum(flow or 0.0 for flow in rated))


_CAPS: dict[str, Callable[[CaseFile], Iterator[Cap]]] = {
    PRESSURE: _pressure_caps,
    LEAST_PRESSURE: _pressure_caps,
    **dict.fromkeys(
        (HIGHEST_RATE, START_RATE, BULK_RATE, "stripping_rate_m3_per_h", "topping_rate_m3_per_h"), _rate_caps
    ),
    PUMPS: _pump_count_caps,
    PUMPS_AT_START: _pump_count_caps,
    SPEED: _speed_caps,
}
_WORKED_OUT = frozenset({PRESSURE, HIGHEST_RATE, BULK_RATE, LEAST_PRESSURE, PUMPS, SPEED, CLOSING_TIME})
"""The values for which the whole case is worked out before they are accepted."""


def _over_caps(key: str, value: Decimal, caps: Iterator[Cap]) -> Iterator[str]:
    definition = cast(NumberValue, DEFINITIONS[key])
    note = "gauge" if definition.gauge else ""
    for cap in caps:
        if float(value) > cap.allowed * (1 + 1e-9):
            allowed = display(cap.allowed, definition.unit, note=note)
            yield f"{definition.shown(value)} is above {cap.label}, {allowed} ({cap.owner})."


def _rate_missed(key: str, values: Mapping[str, Given], rate_m3_per_h: float) -> Iterator[str]:
    """Yield that a rate is above what she makes, unless it is above another agreed rate, which is told already."""
    definition, highest = DEFINITIONS[key], values.get(HIGHEST_RATE)
    if highest is None or Decimal(values[key]) <= Decimal(highest):
        made = display(rate_m3_per_h, "m³/h")
        asked = f"The {definition.label.lower()} of {definition.shown(values[key])}"
        yield f"{asked} is above the {made} that she makes with these values."


def _unworkable(case: Mapping[str, Any], values: Mapping[str, Given]) -> Iterator[str]:
    worked = work_out(case, values)
    if worked.answer is None:
        if PRESSURE in values:
            yield from worked.problems
        return
    if worked.answer["outcome"] == "no operating point":
        yield worked.answer["reason"]
        return
    if CLOSING_TIME in values:
        yield from _closing_too_quick(_case_text(case, values))
    for limit in worked.exceeded:
        if limit["key"].startswith((*_ONLY_REPORTED, SURGE_LIMIT)):
            continue
        if limit["key"] == "agreed-start-rate":
            yield from _rate_missed(START_RATE, values, limit["allowed"])
            continue
        if limit["key"].startswith(SHORE_LIMIT):
            yield "A limit of the shore line would be passed (terminal)."
            continue
        value, allowed = (display(limit[part], limit["unit"]) for part in ("value", "allowed"))
        yield f"{limit['label']} would come to {value}; allowed: {allowed} ({limit['owner']})."
    yield from _short_of_agreed(worked.answer, values)


def _short_of_agreed(answer: Mapping[str, Any], values: Mapping[str, Given]) -> Iterator[str]:
    """Yield where the answer stays below a bulk rate or a least pressure that is agreed."""
    rate, least = values.get(BULK_RATE), values.get(LEAST_PRESSURE)
    if rate is not None and answer["total_flow_m3_per_h"] < float(rate) * (1 - NEAR):
        yield from _rate_missed(BULK_RATE, values, answer["total_flow_m3_per_h"])
    if least is not None and answer["manifold_pressure_bar_gauge"] < float(least) * (1 - NEAR):
        reached = display(answer["manifold_pressure_bar_gauge"], "bar", note="gauge")
        shown = DEFINITIONS[LEAST_PRESSURE].shown(least)
        yield f"The manifold would stand at {reached}, below the least pressure of {shown}."


def _closing_too_quick(case_text: str) -> Iterator[str]:
    """Yield a sentence for each valve that the agreed time shuts too quickly at the rate of these values."""
    within = _within(case_text)
    for rate in within.refused:
        needed = _times(case_text, rate.valve.key).within_ratings_s
        yield _too_quick(rate, needed, within.free.total_flow_m3_per_h or 0.0)


def _too_quick(rate: ClosingRate, needed_s: int | None, at_m3_per_h: float) -> str:
    what, time = rate.valve.named, f"{rate.closing_time_s:g} s"
    told = "no time up to 600 s keeps the ratings" if needed_s is None else f"the shortest safe one is {needed_s} s"
    left = rate.highest_m3_per_h
    other = "" if left is None else f", or a highest rate of no more than {display(left, 'm³/h')}"
    return (
        f"At {display(at_m3_per_h, 'm³/h')} a closing time of {time} is too short for {what} ({rate.valve.owner}):"
        f" {told}. Agree a longer time{other}."
    )
