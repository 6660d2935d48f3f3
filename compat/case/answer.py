"""The answer to a case: rate, speeds, gauges, every limit, and which one binds (pure: no Django)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from compat.calc.achievable import achievable_flow
from compat.calc.operating_point import OperatingPoint, point_at_speeds
from compat.calc.stepped import point_on_steps
from compat.case.answer_parts import FORMAT, Answer, LimitRow, Outcome, Readings
from compat.case.case_arrays import CaseArrays, Searched, arrays_of
from compat.case.case_file import CaseFile
from compat.case.eductors import eductor_readings, with_drives
from compat.case.flange_ratings import with_flange_ratings
from compat.case.limit_rows import binding_at, binding_key, limit_rows, marked
from compat.case.questions import cautions_of, questions_of
from compat.case.readings import SolvedArrays, readings_of, solved_arrays
from compat.case.shore_fit import shore_fit_of
from shared.calc.root import Array, Flags
from shared.calc.units import BAR_PA, HOUR_S

__all__ = ["FORMAT", "Answer", "answer_case", "answer_cases"]

NO_FLOW_M3_PER_H = 1e-3


def answer_case(case: CaseFile) -> Answer:
    """Answer one case; raise InputError where a correction that it asks for can't be made."""
    return answer_cases([case])[0]


def answer_cases(cases: Sequence[CaseFile]) -> list[Answer]:
    """Answer cases side by side; each comes out as it would alone."""
    cases = [with_flange_ratings(case) for case in cases]
    answers: dict[int, Answer] = {}
    for stated in (True, False):
        chosen = [i for i, case in enumerate(cases) if (case.operation.speed == "as stated") == stated]
        if chosen:
            answers |= zip(chosen, _answer_alike([cases[i] for i in chosen], stated=stated), strict=True)
    return [answers[i] for i in range(len(cases))]


def binding_of_each(cases: Sequence[CaseFile]) -> tuple[Array, list[str]]:
    """Return the rate in m3/h and the key of the binding limit of cases alike but for their numbers.

    The rate is 0 and the key empty where there is no operating point; with stated speeds the key is "stated".
    """
    cases = [with_flange_ratings(case) for case in cases]
    stated = cases[0].operation.speed == "as stated"
    arrays, found = _solved(arrays_of(cases), stated=stated)
    solved = solved_arrays(arrays, found.searched or found.point, stated=stated)
    ashore = arrays.system.ashore(found.point.flow_m3_per_s) * HOUR_S
    here = (found.static_excess_pa <= 0) & (ashore > NO_FLOW_M3_PER_H)
    keys = []
    for row, case in enumerate(cases):
        if not here[row]:
            keys.append("")
        elif stated:
            keys.append("stated")
        else:
            readings = readings_of(case, arrays, solved, row)
            keys.append(binding_at(case, readings, arrays.pumps.liquids[row]) or "none")
    return np.where(here, ashore, 0.0), keys


def _answer_alike(cases: Sequence[CaseFile], *, stated: bool) -> list[Answer]:
    arrays, found = _solved(arrays_of(cases), stated=stated)
    solved = solved_arrays(arrays, found.point, stated=stated)
    searched = solved if found.searched is found.point else None
    if found.searched is not None and searched is None:
        searched = solved_arrays(arrays, found.searched, stated=stated)
    return [_answer(case, arrays, found, solved, searched, row) for row, case in enumerate(cases)]


@dataclass(frozen=True)
class Found:
    """``searched`` is the point at which a limit binds, before speeds were held to the steps of their drives."""

    point: OperatingPoint
    searched: OperatingPoint | None
    static_excess_pa: Array


def _solved(arrays: CaseArrays, *, stated: bool) -> tuple[CaseArrays, Found]:
    """Return the points of cases, and their arrays with the liquid drawn off that drives eductors."""
    return with_drives(arrays, _at_stated_speeds if stated else at_free_speeds, lambda found: found.point)


def _at_stated_speeds(arrays: CaseArrays) -> Found:
    point = point_at_speeds(arrays.system, arrays.stated_rpm)
    return Found(point, None, np.full(point.flow_m3_per_s.shape, -np.inf))


def at_free_speeds(arrays: Searched) -> Found:
    """Return the highest flow within every limit, its speeds held to the steps of their drives."""
    found = achievable_flow(arrays.system, arrays.rule, arrays.limits)
    point = point_on_steps(arrays.system, arrays.rule, arrays.limits, arrays.steps, found)
    return Found(point, found.point, found.static_excess_pa)


def _answer(
    case: CaseFile,
    arrays: CaseArrays,
    found: Found,
    solved: SolvedArrays,
    searched: SolvedArrays | None,
    row: int,
) -> Answer:
    readings = readings_of(case, arrays, solved, row)
    throttled = float(found.point.throttled_head_m[row])
    outcome, reason = _outcome(case, arrays, found, solved, row)
    here = outcome != "no operating point"
    limits: tuple[LimitRow, ...] = limit_rows(case, readings, arrays.pumps.liquids[row])
    binding = None
    if here and searched is not None:
        before = limits if searched is solved else _limits_before(case, arrays, searched, row)
        binding = binding_key(before)
        limits = marked(limits, binding)
    speeds = {reading.speed_rpm for reading in readings.pumps if reading.running}
    return Answer(
        title=case.title,
        outcome=outcome,
        reason=reason,
        converged=bool(found.point.converged[row]),
        residual_m=float(found.point.residual_m[row]),
        total_flow_m3_per_h=readings.total_flow_m3_per_h if here else None,
        common_speed_rpm=speeds.pop() if here and len(speeds) == 1 else None,
        throttled_head_m=throttled,
        manifold_pressure_bar_gauge=readings.manifold_pressure_bar_gauge if here else None,
        manifold_pressure_at_rest_bar_gauge=float(solved.at_rest_pa_gauge[row, 0]) / BAR_PA,
        pumps=readings.pumps,
        arms=readings.arms,
        limits=limits,
        binding=binding,
        questions=questions_of(case),
        cautions=cautions_of(case, readings, arrays.pumps.notes(row), arrays.pumps.liquids[row]),
        profile=readings.profile,
        tanks=readings.tanks,
        shore_fit=shore_fit_of(case),
        liquid=arrays.pumps.liquids[row],
        eductors=eductor_readings(case, arrays.pumps.liquids[row], float(found.point.junction_head_m[row])),
    )


def _limits_before(case: CaseFile, arrays: CaseArrays, searched: SolvedArrays, row: int) -> tuple[LimitRow, ...]:
    readings: Readings = readings_of(case, arrays, searched, row)
    return limit_rows(case, readings, arrays.pumps.liquids[row])


def _outcome(case: CaseFile, arrays: CaseArrays, found: Found, solved: SolvedArrays, row: int) -> tuple[Outcome, str]:
    if found.static_excess_pa[row] > 0:
        return "no operating point", _static_reason(case, float(solved.at_rest_pa_gauge[row, 0]) / BAR_PA)
    if found.point.flow_m3_per_s[row] * HOUR_S <= NO_FLOW_M3_PER_H:
        return "no operating point", _no_flow_reason(arrays, found, solved, row)
    if arrays.system.ashore(found.point.flow_m3_per_s)[row] * HOUR_S <= NO_FLOW_M3_PER_H:
        return "no operating point", (
            "All that the pumps give drives the eductors, and nothing is left to go ashore. Run one pump more, or stop"
            " an eductor."
        )
    throttled = float(found.point.throttled_head_m[row])
    if throttled > 0:
        here = arrays.system.pumps.count[row] > 0
        at_least = (found.point.speed_rpm[row] <= arrays.rule.least_rpm[row])[here].all()
        when = "Even at their least speed" if at_least else "At every step of their drives that still moves liquid"
        return "throttling needed", (
            f"{when} the pumps would pass a limit: {throttled:.1f} m of head has to be taken away"
            " at the discharge valves, or fewer pumps run."
        )
    if not found.point.converged[row]:
        return "found", (
            f"The calculation did not settle: {found.point.residual_m[row]:.2g} m of head is left over between pumps"
            " and shore. Don't use these figures; check the pump curves for stretches that are nearly flat."
        )
    return "found", ""


def _static_reason(case: CaseFile, at_rest_bar: float) -> str:
    agreed = case.agreed.manifold_pressure_bar_gauge
    if agreed is not None and at_rest_bar > agreed:
        return (
            f"The agreed manifold pressure of {agreed:g} bar is below the {at_rest_bar:.2f} bar that the shore holds"
            " against the manifold at rest; agree a higher pressure or a lower shore tank."
        )
    return (
        f"A rating is exceeded even at rest: the shore holds {at_rest_bar:.2f} bar against the manifold;"
        " see the limits below."
    )


def _no_flow_reason(arrays: CaseArrays, found: Found, solved: SolvedArrays, row: int) -> str:
    here: Flags = arrays.system.pumps.count[row] > 0
    speed = solved.point.speed_rpm[row][here].max()
    held, needed = float(solved.shut_off_head_m[row]), float(solved.junction_head_at_rest_m[row])
    slowed = found.searched is not None and speed < arrays.rule.greatest_rpm[row][here].max()
    if held > needed or slowed:
        return (
            "No flow is left within the limits of the pumps: the suction head available is too low;"
            " see the limits below."
        )
    lift = needed - float(arrays.system.pumps.tank_head_m[row][here].max())
    return (
        f"The pumps give at most {lift + held - needed:.1f} m of head at no flow ({speed:.0f} rpm), but {lift:.1f} m is"
        " needed before anything moves ashore. Raise the speed, or ask for a lower shore tank."
    )
