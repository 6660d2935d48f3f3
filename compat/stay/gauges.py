"""What the gauges should read along a worked-out stay: one call for all its moments (pure: no Django)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from compat.calc.stay.moments import (
    FIRST_OF_LISTS,
    NOTHING,
    RATE,
    SPEED,
    STAGE,
    THROTTLED,
    Moments,
    joined,
    moved,
    rates_at,
)
from compat.calc.stay.nodes import nodes_of
from compat.calc.stay.plan import Stay
from compat.calc.stay.track import Stretch, Track, matrix_at, part_at
from compat.case.case_file import CaseFile
from compat.stay.planning import Planned
from shared.calc.gas_and_static import INERT_GAS_FACTOR
from shared.calc.root import Array
from shared.calc.units import BAR_PA, HOUR_S, KW_W
from vessels.calc.power import shaft_power_w
from vessels.calc.pump import pump_head


@dataclass(frozen=True)
class Seen:
    """One moment of a stay as the gauges show it; arrays run over the kinds of pump of the base row."""

    stretch: Stretch
    time_s: float
    part: float
    rate_m3_per_s: float
    ashore_m3: float
    ashore_kg: float
    receiver_m3: float
    stripped_m3: float
    group_m3: Array
    row: int
    code: int
    speed_rpm: Array
    pump_m3_per_s: Array
    suction_bar: Array
    discharge_bar: Array
    manifold_bar: float
    power_kw: Array
    junction_bar: float


def seen_along(plan: Planned, index: int, track: Track, times_s: Array) -> list[Seen]:
    """Return what is seen at the points of every stretch, and at the given times, each list in order of time."""
    stay = plan.stays[index]
    wanted = [(stretch, nodes_of(stretch.time_s.size).points) for stretch in track.stretches]
    for time in times_s:
        stretch = track.stretch_at(float(time))
        wanted.append((stretch, part_at(stretch, np.array([time]))))
    pumped = [(stretch, parts) for stretch, parts in wanted if stretch.pumped]
    solved: list[Seen] = []
    if pumped:
        solved = _solved(plan, stay, pumped)
    ready = iter(solved)
    return [
        next(ready) if stretch.pumped else _still(stay, stretch, float(part))
        for stretch, parts in wanted
        for part in parts
    ]


def _row(stay: Stay, stretch: Stretch) -> int:
    parcel = stay.parcels[stretch.parcel]
    stage = parcel.stages[stretch.stage]
    return parcel.row if stage.kinds is None or stretch.name != "stripping" else stage.row


def _moments(plan: Planned, stay: Stay, stretch: Stretch, parts: Array) -> Moments:
    matrix = matrix_at(stretch, parts)
    parcel, row = stay.parcels[stretch.parcel], _row(stay, stretch)
    groups = matrix @ stretch.group_m3
    surface = np.tile(plan.circuit.surface_m[row], (parts.size, 1))
    if row == parcel.row:
        for number, group in enumerate(parcel.groups):
            if stretch.drawn[number] < len(group.draws):
                draw = group.draws[stretch.drawn[number]]
                surface[:, group.kinds] = np.interp(groups[:, number], draw.volume_m3, draw.surface_m)[:, None]
    cap = np.where(np.isfinite(stretch.cap_m3_per_s).all(), matrix @ _finite(stretch.cap_m3_per_s), np.inf)
    return Moments(
        row=np.full(parts.size, row),
        keel_m=stay.water.keel(matrix @ stretch.time_s, matrix @ stretch.ashore_kg),
        surface_m=surface,
        shore_m=parcel.receivers[stretch.receiver].surface(matrix @ stretch.receiver_m3),
        running=np.tile(stretch.running, (parts.size, 1)),
        cap_m3_per_s=cap + np.zeros(parts.size),
        drawn_off_m3_per_s=np.full(parts.size, stretch.drawn_off_m3_per_s),
    )


def _finite(values: Array) -> Array:
    return np.where(np.isfinite(values), values, 0.0)


def _solved(plan: Planned, stay: Stay, pumped: list[tuple[Stretch, Array]]) -> list[Seen]:
    moments = joined([_moments(plan, stay, stretch, parts) for stretch, parts in pumped])
    rates = rates_at(plan.circuit, moments)
    system, _, limits = moved(plan.circuit, moments)
    flow, speed = rates.point.pump_flow_m3_per_s, rates.point.speed_rpm
    head = pump_head(system.pumps.curves, flow, speed)[0]
    suction_head = system.pumps.tank_head_m - system.pumps.suction_loss(flow)[0]
    suction = system.pressure_pa_gauge(suction_head, system.pumps.elevation_m) / BAR_PA
    discharge = system.pressure_pa_gauge(suction_head + head, system.pumps.elevation_m) / BAR_PA
    manifold = system.point_pressures(rates.point.flow_m3_per_s)[0][:, 0] / BAR_PA
    density = system.density_kg_per_m3
    junction = system.pressure_pa_gauge(rates.point.junction_head_m, system.point_elevation_m[:, 0]) / BAR_PA
    power = shaft_power_w(limits.power, flow, head, speed, density[:, None]) * system.pumps.count / KW_W
    found, at = [], 0
    for stretch, parts in pumped:
        for part in parts:
            still = _still(stay, stretch, float(part))
            found.append(
                Seen(
                    **{name: getattr(still, name) for name in _OF_TRACK},
                    row=int(moments.row[at]),
                    code=still.code if stretch.name == "ramp" else int(rates.code[at]),
                    speed_rpm=np.where(system.pumps.count[at] > 0, speed[at], np.nan),
                    pump_m3_per_s=flow[at],
                    suction_bar=suction[at],
                    discharge_bar=discharge[at],
                    manifold_bar=float(manifold[at]),
                    power_kw=np.where(system.pumps.count[at] > 0, power[at], 0.0),
                    junction_bar=float(junction[at]),
                )
            )
            at += 1
    return found


_OF_TRACK = (
    "stretch",
    "time_s",
    "part",
    "rate_m3_per_s",
    "ashore_m3",
    "ashore_kg",
    "receiver_m3",
    "stripped_m3",
    "group_m3",
)


def _still(stay: Stay, stretch: Stretch, part: float) -> Seen:
    """Return what the track alone knows of a moment; no pump of the ship's is read."""
    line = matrix_at(stretch, np.array([part]))[0]
    none = np.full(stretch.running.size, np.nan)
    return Seen(
        stretch=stretch,
        time_s=float(line @ stretch.time_s),
        part=part,
        rate_m3_per_s=float(line @ stretch.rate_m3_per_s),
        ashore_m3=float(line @ stretch.ashore_m3),
        ashore_kg=float(line @ stretch.ashore_kg),
        receiver_m3=float(line @ stretch.receiver_m3),
        stripped_m3=float(line @ stretch.ashore_m3) - stretch.stage_begun_m3,
        group_m3=line @ stretch.group_m3,
        row=_row(stay, stretch),
        code=int(stretch.code[min(round(part * (stretch.code.size - 1)), stretch.code.size - 1)]),
        speed_rpm=none,
        pump_m3_per_s=np.zeros(none.size),
        suction_bar=none,
        discharge_bar=none,
        manifold_bar=float("nan"),
        power_kw=np.zeros(none.size),
        junction_bar=float("nan"),
    )


def binding_words(plan: Planned, row: int, code: int) -> str:
    """Return in words which limit binds, by the code of a moment of a base row."""
    case, limits = plan.arrays.pumps.cases[row], plan.circuit.limits
    plain = {
        STAGE: "rate of this stage",
        SPEED: "greatest pump speed",
        THROTTLED: "least pump speed, throttled",
        NOTHING: "nothing",
    }
    if code in plain:
        return plain[code]
    if code == RATE:
        return _rate_words(case, float(limits.flow_m3_per_s[row]))
    words = [_pressure_words(case, point) for point in range(limits.pressure_pa_gauge.shape[-1])]
    arms = [arm.name for arm in case.berth.arms]
    words += [f"velocity in {arms[min(at, len(arms) - 1)]}" for at in range(limits.arm_flow_m3_per_s.shape[-1])]
    words += ["rating behind the booster pump"] * limits.booster_pa_gauge.shape[-1]
    words += ["rating of the ship's lines"] * limits.ship_line_pa_gauge.shape[-1]
    which, kind = divmod(code - FIRST_OF_LISTS - len(words), plan.arrays.pumps.most)
    if which < 0:
        return words[code - FIRST_OF_LISTS]
    names = ", ".join(plan.arrays.pumps.kinds[row][kind].keys)
    return f"{('rated flow', 'NPSH', 'driver power')[which]} of pump {names}"


def _pressure_words(case: CaseFile, point: int) -> str:
    if point == 0:
        named: dict[str, float | None] = {
            "agreed manifold pressure": case.agreed.manifold_pressure_bar_gauge,
            "berth's manifold pressure limit": case.berth.manifold_pressure_limit_bar_gauge,
            "rating of the ship's manifold": case.ship.manifold.rating_bar_gauge,
            **{f"rating of {arm.name}": arm.rating_bar_gauge for arm in case.berth.arms},
            **{limit.name: limit.manifold_pressure_bar_gauge for limit in case.own_limits},
        }
        return _least_named(named, "pressure at the manifold")
    return "rating at the arms' shore end" if point == 1 else "rating of the shore line"


def _rate_words(case: CaseFile, cap_m3_per_s: float) -> str:
    named: dict[str, float | None] = {
        "agreed highest rate": case.agreed.highest_rate_m3_per_h,
        "receiving rate of the terminal": case.berth.receiving_rate_m3_per_h,
        **{limit.name: limit.rate_m3_per_h for limit in case.own_limits},
    }
    gas = case.ship.inert_gas_delivery_m3_per_h
    if gas is not None:
        named["inert gas delivery"] = gas / INERT_GAS_FACTOR
    stated = _least_named(named, "")
    least = min((rate for rate in named.values() if rate is not None), default=np.inf)
    return stated if stated and least <= cap_m3_per_s * HOUR_S * (1 + 1e-9) else "velocity in the lines"


def _least_named(named: dict[str, float | None], otherwise: str) -> str:
    known = {name: value for name, value in named.items() if value is not None}
    return min(known, key=lambda name: known[name]) if known else otherwise
