"""What values on the table mean on the frozen case, and why a value can't be accepted (pure: no Django)."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from typing import Any

from compat.accord.values import DEFINITIONS, case_with, definition_of
from compat.case.answer import answer_case
from compat.case.case_file import CaseError, CaseFile, check_case
from compat.case.withholding import SHORE_LIMIT
from shared.calc.gas_and_static import INERT_GAS_FACTOR
from shared.calc.units import HOUR_S
from shared.pipe_arrays import area_m2
from shared.quantities import display

PRESSURE = "manifold_pressure_bar_gauge"
HIGHEST_RATE = "highest_rate_m3_per_h"
START_RATE = "start_rate_m3_per_h"
ANSWERS_KEPT = 200
_ONLY_REPORTED = ("shut-valve", "slack-line", "least-flow-")
"""How keys of limits begin that no lower value keeps: where exceeded, the plan warns and nothing is refused."""


@dataclass(frozen=True)
class Worked:
    """The engine's answer with certain values agreed; ``problems`` says why there is none."""

    values: Mapping[str, Decimal]
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


def work_out(case: Mapping[str, Any], values: Mapping[str, Decimal]) -> Worked:
    """Answer the frozen case with exactly these values agreed."""
    if PRESSURE not in values and case["operation"]["speed"] != "as stated":
        return Worked(values, None, ("The answer follows as soon as a highest manifold pressure is on the table.",))
    try:
        return Worked(values, _answered(json.dumps(case_with(case, values), sort_keys=True)))
    except CaseError as error:
        return Worked(values, None, tuple(error.problems))


@lru_cache(maxsize=ANSWERS_KEPT)
def _answered(case_text: str) -> dict[str, Any]:
    """Answer a case once: a page asks for the same values several times. The document is shared; nobody changes it."""
    return answer_case(check_case(json.loads(case_text), "With these values the case")).document()


def refusals(case: Mapping[str, Any], key: str, value: Decimal, others: Mapping[str, Decimal]) -> list[str]:
    """Return a sentence for each limit that ``value`` of ``key`` breaks, with ``others`` as they stand."""
    definition_of(key)
    stated = check_case(
        case_with(case, {**others, PRESSURE: others.get(PRESSURE, DEFINITIONS[PRESSURE].greatest)}), "The case"
    )
    values = {**others, key: value}
    if key == START_RATE:
        return [*_over_caps(key, value, _rate_caps(stated)), *_start_over_highest(values)]
    if key == HIGHEST_RATE:
        return [*_over_caps(key, value, _rate_caps(stated)), *_start_over_highest(values), *_unworkable(case, values)]
    if key == PRESSURE:
        return [*_over_caps(key, value, _pressure_caps(stated)), *_unworkable(case, values)]
    return []


def warnings(limits: Iterable[Mapping[str, Any]]) -> list[str]:
    """Return a sentence for each exceeded limit that the plan has to warn of."""
    return [
        f"Exceeded, and not kept by any agreed value: {limit['label']}. Settle before flow starts how it is dealt with."
        for limit in limits
        if limit["state"] == "exceeded" and limit["key"].startswith(_ONLY_REPORTED)
    ]


def settle_refusals(case: Mapping[str, Any], values: Mapping[str, Decimal]) -> list[str]:
    """Return a sentence for each limit that keeps agreed values from being settled."""
    found = [sentence for key, value in values.items() for sentence in refusals(case, key, value, values)]
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


def _rated_flow_cap(case: CaseFile) -> Iterator[Cap]:
    running = {state.pump for state in case.operation.pumps if state.running}
    rated = [pump.rated_flow_m3_per_h for pump in case.ship.pumps if pump.key in running]
    if all(flow is not None for flow in rated):
        yield Cap("the rated flow of the running pumps together", "ship", sum(flow or 0.0 for flow in rated))


def _over_caps(key: str, value: Decimal, caps: Iterator[Cap]) -> Iterator[str]:
    definition = DEFINITIONS[key]
    note = "gauge" if definition.gauge else ""
    for cap in caps:
        if float(value) > cap.allowed * (1 + 1e-9):
            allowed = display(cap.allowed, definition.unit, note=note)
            yield f"{definition.shown(value)} is above {cap.label}, {allowed} ({cap.owner})."


def _start_over_highest(values: Mapping[str, Decimal]) -> Iterator[str]:
    start, highest = values.get(START_RATE), values.get(HIGHEST_RATE)
    if start is not None and highest is not None and start > highest:
        shown = DEFINITIONS[START_RATE].shown
        yield f"The start rate of {shown(start)} is above the highest rate of {shown(highest)}."


def _start_over_rate(values: Mapping[str, Decimal], rate_m3_per_h: float) -> Iterator[str]:
    if not any(_start_over_highest(values)):
        start, rate = DEFINITIONS[START_RATE].shown(values[START_RATE]), display(rate_m3_per_h, "m³/h")
        yield f"The start rate of {start} is above the {rate} that she makes with these values."


def _unworkable(case: Mapping[str, Any], values: Mapping[str, Decimal]) -> Iterator[str]:
    worked = work_out(case, values)
    if worked.answer is None:
        return
    if worked.answer["outcome"] == "no operating point":
        yield worked.answer["reason"]
        return
    for limit in worked.exceeded:
        if limit["key"].startswith(_ONLY_REPORTED):
            continue
        if limit["key"] == "agreed-start-rate":
            yield from _start_over_rate(values, limit["allowed"])
            continue
        if limit["key"].startswith(SHORE_LIMIT):
            yield "A limit of the shore line would be passed (terminal)."
            continue
        value, allowed = (display(limit[part], limit["unit"]) for part in ("value", "allowed"))
        yield f"{limit['label']} would come to {value}; allowed: {allowed} ({limit['owner']})."
