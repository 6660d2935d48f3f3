"""The answer to one case: rate, speeds, gauges, every limit, and which one binds (pure: no Django)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any, Literal

import numpy as np

from compat.calc.achievable import achievable_flow
from compat.calc.operating_point import OperatingPoint, point_at_speeds
from compat.calc.system import ShipShore
from compat.case_arrays import BAR_PA, HOUR_S, CaseArrays, arrays_of, pump_kinds
from compat.case_file import CaseFile
from compat.limit_rows import LimitRow, limit_rows, with_binding
from compat.questions import cautions_of, questions_of
from shared.cargo_facts import Liquid, liquid_of
from terminals.calc.berth_line import arm_flows, heads_along
from vessels.calc.pump import beyond_curve, pump_head
from vessels.calc.suction import npsh_available_m, npsh_required_m

FORMAT = "berth-accord-answer/1"
Outcome = Literal["found", "throttling needed", "no operating point"]


@dataclass(frozen=True)
class PumpReading:
    """What one pump does, and what its gauges should read."""

    pump: str
    name: str
    running: bool
    speed_rpm: float | None
    flow_m3_per_h: float
    head_m: float | None
    suction_pressure_bar_gauge: float | None
    discharge_pressure_bar_gauge: float | None
    npsh_available_m: float | None
    npsh_required_m: float | None
    beyond_curve: bool


@dataclass(frozen=True)
class ArmFlow:
    """What goes through each arm of one kind."""

    name: str
    count: int
    flow_each_m3_per_h: float
    velocity_m_per_s: float


@dataclass(frozen=True)
class ProfilePoint:
    """One point between manifold and the end of the shore line."""

    name: str
    distance_m: float
    elevation_m: float
    head_m: float
    pressure_bar_gauge: float
    rating_bar_gauge: float | None


@dataclass(frozen=True)
class Answer:
    """One case answered; ``reason`` says in a sentence why, where there is no plain operating point."""

    title: str
    outcome: Outcome
    reason: str
    converged: bool
    residual_m: float
    total_flow_m3_per_h: float | None
    common_speed_rpm: float | None
    throttled_head_m: float
    manifold_pressure_bar_gauge: float | None
    manifold_pressure_at_rest_bar_gauge: float
    pumps: tuple[PumpReading, ...]
    arms: tuple[ArmFlow, ...]
    limits: tuple[LimitRow, ...]
    binding: str | None
    questions: tuple[str, ...]
    cautions: tuple[str, ...]
    profile: tuple[ProfilePoint, ...]
    liquid: Liquid

    def document(self) -> dict[str, Any]:
        """Return the answer as a JSON document."""
        return {"format": FORMAT, **_lists(asdict(self))}


def _lists(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _lists(item) for key, item in value.items()}
    return [_lists(item) for item in value] if isinstance(value, tuple) else value


def answer_case(case: CaseFile) -> Answer:
    """Answer one case."""
    return answer_cases([case])[0]


def answer_cases(cases: Sequence[CaseFile]) -> list[Answer]:
    """Answer cases side by side; each comes out as it would alone."""
    stated = [i for i, case in enumerate(cases) if case.operation.speed == "as stated"]
    free = [i for i, case in enumerate(cases) if case.operation.speed != "as stated"]
    answers: dict[int, Answer] = {}
    for chosen, solve in ((stated, _solve_stated), (free, _solve_free)):
        if chosen:
            group = [cases[i] for i in chosen]
            arrays = arrays_of(group)
            solved = solve(arrays)
            answers |= {
                i: _answer(case, arrays, solved, row) for row, (i, case) in enumerate(zip(chosen, group, strict=True))
            }
    return [answers[i] for i in range(len(cases))]


@dataclass(frozen=True)
class _Solved:
    point: OperatingPoint
    setting: np.ndarray | None
    static_excess_pa: np.ndarray


def _solve_stated(arrays: CaseArrays) -> _Solved:
    point = point_at_speeds(arrays.system, np.where(arrays.system.pumps.count > 0, arrays.stated_rpm, 1.0))
    return _Solved(point, None, np.full(point.flow_m3_per_s.shape, -np.inf))


def _solve_free(arrays: CaseArrays) -> _Solved:
    found = achievable_flow(arrays.system, arrays.rule, arrays.limits)
    return _Solved(found.point, found.setting, found.static_excess_pa)


def _answer(case: CaseFile, arrays: CaseArrays, solved: _Solved, row: int) -> Answer:
    system, point = arrays.system, solved.point
    flow = float(point.flow_m3_per_s[row])
    rest, _ = system.point_pressures(np.zeros_like(point.flow_m3_per_s))
    at_rest_bar = float(rest[row, 0]) / BAR_PA
    reason = _no_point_reason(case, arrays, solved, row, at_rest_bar)
    profile = _profile(case, system, point.flow_m3_per_s, row)
    pumps = _pump_readings(case, arrays, point, row)
    arms = _arm_flows(case, system, point, row)
    outcome: Outcome = "no operating point" if reason else "found"
    throttled = float(point.throttled_head_m[row])
    if not reason and throttled > 0:
        outcome = "throttling needed"
        reason = (
            f"Even at their least speed the pumps would pass a limit: {throttled:.1f} m of head has to be taken away"
            " at the discharge valves, or fewer pumps run."
        )
    limits = limit_rows(case, flow * HOUR_S, profile, pumps, arms)
    free = case.operation.speed != "as stated"
    limits, binding = with_binding(limits, searched=free and outcome != "no operating point")
    found = outcome != "no operating point"
    speeds = {reading.speed_rpm for reading in pumps if reading.running}
    return Answer(
        title=case.title,
        outcome=outcome,
        reason=reason,
        converged=bool(point.converged[row]),
        residual_m=float(point.residual_m[row]),
        total_flow_m3_per_h=flow * HOUR_S if found else None,
        common_speed_rpm=speeds.pop() if found and len(speeds) == 1 else None,
        throttled_head_m=throttled,
        manifold_pressure_bar_gauge=profile[0].pressure_bar_gauge if found else None,
        manifold_pressure_at_rest_bar_gauge=at_rest_bar,
        pumps=pumps,
        arms=arms,
        limits=limits,
        binding=binding,
        questions=questions_of(case),
        cautions=cautions_of(pumps),
        profile=profile,
        liquid=liquid_of(case.cargo),
    )


def _no_point_reason(case: CaseFile, arrays: CaseArrays, solved: _Solved, row: int, at_rest_bar: float) -> str:
    if solved.static_excess_pa[row] > 0:
        return _static_reason(case, at_rest_bar)
    if solved.point.flow_m3_per_s[row] * HOUR_S > 1e-3:
        return ""
    speed = solved.point.speed_rpm[row : row + 1]
    head = pump_head(arrays.system.pumps.curves, np.zeros_like(solved.point.speed_rpm), solved.point.speed_rpm)[0][row]
    needed, _ = arrays.system.junction_head(np.zeros_like(solved.point.flow_m3_per_s))
    here = arrays.system.pumps.count[row] > 0
    lift = (needed[row] - arrays.system.pumps.tank_head_m[row])[here].min()
    if head[here].max() > lift:
        return (
            "No flow is left within the limits of the pumps: the suction head available is too low;"
            " see the limits below."
        )
    return (
        f"The pumps give at most {head[here].max():.1f} m of head at no flow ({speed[0][here].max():.0f} rpm), but"
        f" {lift:.1f} m is needed before anything moves ashore. Raise the speed, or ask for a lower shore tank."
    )


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


def _pump_readings(case: CaseFile, arrays: CaseArrays, point: OperatingPoint, row: int) -> tuple[PumpReading, ...]:
    system = arrays.system
    flow, speed = point.pump_flow_m3_per_s, point.speed_rpm
    head = pump_head(system.pumps.curves, flow, speed)[0]
    suction_head = system.pumps.tank_head_m - system.pumps.suction_loss(flow)[0]
    suction = system.pressure_pa_gauge(suction_head, system.pumps.elevation_m)
    discharge = system.pressure_pa_gauge(suction_head + head, system.pumps.elevation_m)
    available = npsh_available_m(system.pumps, arrays.limits.suction, flow)
    required = npsh_required_m(arrays.limits.suction, flow, speed)
    beyond = beyond_curve(system.pumps.curves, flow, speed)
    place = {key: k for k, kind in enumerate(pump_kinds(case)) for key in kind.keys}
    vapour_known = liquid_of(case.cargo).vapour_pressure_kpa_abs is not None
    readings = []
    for pump in case.ship.pumps:
        k = place.get(pump.key)
        if k is None:
            readings.append(PumpReading(pump.key, pump.name, False, None, 0.0, None, None, None, None, None, False))
            continue
        readings.append(
            PumpReading(
                pump=pump.key,
                name=pump.name,
                running=True,
                speed_rpm=float(speed[row, k]),
                flow_m3_per_h=float(flow[row, k]) * HOUR_S,
                head_m=float(head[row, k]),
                suction_pressure_bar_gauge=float(suction[row, k]) / BAR_PA,
                discharge_pressure_bar_gauge=float(discharge[row, k]) / BAR_PA,
                npsh_available_m=float(available[row, k]) if vapour_known else None,
                npsh_required_m=float(required[row, k]) if arrays.limits.suction.known[row, k] else None,
                beyond_curve=bool(beyond[row, k]),
            )
        )
    return tuple(readings)


def _arm_flows(case: CaseFile, system: ShipShore, point: OperatingPoint, row: int) -> tuple[ArmFlow, ...]:
    flows, _ = arm_flows(system.berth, point.flow_m3_per_s)
    area = system.berth.arms.area_m2
    return tuple(
        ArmFlow(arm.name, arm.count, float(flows[row, a]) * HOUR_S, float(flows[row, a] / area[row, a]))
        for a, arm in enumerate(case.berth.arms)
    )


def _profile(case: CaseFile, system: ShipShore, flow: np.ndarray, row: int) -> tuple[ProfilePoint, ...]:
    heads = heads_along(system.berth, flow)[0]
    pressures = system.pressure_pa_gauge(heads, system.point_elevation_m)
    arms = max(arm.length_m for arm in case.berth.arms)
    names = ["Ship's manifold", "Shore end of the arms", *(segment.name for segment in case.berth.shore_line)]
    lengths = [0.0, arms, *(segment.length_m for segment in case.berth.shore_line)]
    ratings = [case.ship.manifold.rating_bar_gauge, _least([arm.rating_bar_gauge for arm in case.berth.arms])]
    ratings += [segment.rating_bar_gauge for segment in case.berth.shore_line]
    return tuple(
        ProfilePoint(
            name=name,
            distance_m=float(distance),
            elevation_m=float(system.point_elevation_m[row, i]),
            head_m=float(heads[row, i]),
            pressure_bar_gauge=float(pressures[row, i]) / BAR_PA,
            rating_bar_gauge=ratings[i],
        )
        for i, (name, distance) in enumerate(zip(names, np.cumsum(lengths), strict=True))
    )


def _least(ratings: list[float | None]) -> float | None:
    return min((rating for rating in ratings if rating is not None), default=None)
