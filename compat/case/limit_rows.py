"""Every limit of a case with its value, margin, owner and source, and the one that binds (pure: no Django)."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import NamedTuple

from compat.case.answer_parts import LimitRow, Owner, PumpReading, Readings, State
from compat.case.berth_arrays import segment_fed
from compat.case.case_file import CaseFile, OwnLimit
from compat.case.flange_ratings import rating_source
from shared.calc.gas_and_static import INERT_GAS_FACTOR
from shared.calc.units import ATMOSPHERE_PA, BAR_PA, GRAVITY_M_PER_S2, HOUR_S, KPA_PA
from shared.cargo_facts import Liquid
from shared.pipe_arrays import area_m2
from vessels.facts import PumpFacts

_CLOSE = 1e-6  # fraction of a limit within which it counts as reached
_SOURCES: dict[Owner, str] = {
    "ship": "stated for the ship",
    "terminal": "stated for the berth",
    "both": "agreed for this transfer",
}


class _Limit(NamedTuple):
    """A limit before it is judged; made by the hundred thousand where a case is sampled."""

    key: str
    label: str
    owner: Owner
    unit: str
    value: float | None
    allowed: float | None
    ask: str = ""
    source: str = ""

    @property
    def relative_margin(self) -> float:
        if self.value is None or not self.allowed:
            return float("inf")
        return (self.allowed - self.value) / abs(self.allowed)


def limit_rows(case: CaseFile, readings: Readings, liquid: Liquid) -> tuple[LimitRow, ...]:
    """Return every limit of a case at its operating point, not decided where the limit is not known."""
    return tuple(map(_judged, _limits(case, readings, liquid)))


def binding_at(case: CaseFile, readings: Readings, liquid: Liquid) -> str | None:
    """Return the key of the limit with no margin left at an operating point; as ``binding_key`` of its rows."""
    return binding_key(_limits(case, readings, liquid))


def binding_key(rows: Iterable[LimitRow | _Limit]) -> str | None:
    """Return the key of the limit with no margin left, where the rate was searched up to it.

    A pump's greatest speed comes last: one of fixed speed always runs at it, whatever holds the rate.
    """
    searched = (row for row in rows if not row.key.startswith(("shut-valve", "slack-line", "least-flow")))
    met = [row for row in searched if abs(row.relative_margin) <= _CLOSE]
    first = min(met, key=lambda row: (row.key.startswith("speed-"), row.relative_margin), default=None)
    return None if first is None else first.key


def _limits(case: CaseFile, readings: Readings, liquid: Liquid) -> Iterator[_Limit]:
    yield from _manifold_rows(case, readings)
    yield from _ship_line_rows(case, readings)
    yield from _arm_rows(case, readings)
    yield from _shore_rows(case, readings)
    yield from _shut_valve_rows(case, readings, liquid)
    yield from _vapour_rows(readings, liquid)
    yield from _rate_rows(case, readings.total_flow_m3_per_h)
    yield from _ship_velocity_rows(case, readings)
    for pump, reading in zip(case.ship.pumps, readings.pumps, strict=True):
        if reading.running:
            yield from _pump_rows(pump, reading)
    yield from _own_rows(case, readings)


def marked(rows: tuple[LimitRow, ...], binding: str | None) -> tuple[LimitRow, ...]:
    """Return the rows with the binding one marked, unless it is exceeded."""
    return tuple(
        replace(row, state="binding") if row.key == binding and row.state != "exceeded" else row for row in rows
    )


def _judged(limit: _Limit) -> LimitRow:
    key, label, owner, unit, value, allowed, ask, source = limit
    source = source or _SOURCES[owner]
    if allowed is None or value is None:
        return LimitRow(key, label, owner, source, "not decided", unit, value, allowed, None, ask)
    margin = allowed - value
    state: State = "exceeded" if margin < -_CLOSE * abs(allowed) else "kept"
    return LimitRow(key, label, owner, source, state, unit, value, allowed, margin)


def _manifold_rows(case: CaseFile, readings: Readings) -> Iterator[_Limit]:
    pressure = readings.manifold_pressure_bar_gauge
    agreed, berth = case.agreed.manifold_pressure_bar_gauge, case.berth.manifold_pressure_limit_bar_gauge
    yield _Limit(
        "agreed-manifold-pressure",
        "Agreed manifold pressure",
        "both",
        "bar",
        pressure,
        agreed,
        "Ship and terminal have to agree a manifold pressure.",
    )
    yield _Limit(
        "berth-manifold-pressure",
        "Berth's own manifold pressure limit",
        "terminal",
        "bar",
        pressure,
        berth,
        "Ask the terminal for the highest manifold pressure of the berth.",
    )
    yield _Limit(
        "ship-manifold-rating",
        "Rating of the ship's manifold",
        "ship",
        "bar",
        pressure,
        case.ship.manifold.rating_bar_gauge,
        "Ask the ship for the working pressure of her manifold.",
        rating_source(case.ship.manifold.rating_bar_gauge, case.ship.manifold.flange, case.cargo.temperature_c),
    )


def _ship_line_rows(case: CaseFile, readings: Readings) -> Iterator[_Limit]:
    rating = case.ship.cargo_line_rating_bar_gauge
    if rating is not None:
        label = "Rating of the ship's lines, where the pumps meet"
        yield _Limit("ship-line-rating", label, "ship", "bar", readings.ship_line_pressure_bar_gauge, rating)


def _arm_rows(case: CaseFile, readings: Readings) -> Iterator[_Limit]:
    pressure = max(point.pressure_bar_gauge for point in readings.profile[:2])
    for i, (arm, flow) in enumerate(zip(case.berth.arms, readings.arms, strict=True)):
        yield _Limit(
            f"arm-rating-{i + 1}",
            f"Rating of {arm.name}",
            "terminal",
            "bar",
            pressure,
            arm.rating_bar_gauge,
            f"Ask the terminal for the working pressure of {arm.name}.",
            rating_source(arm.rating_bar_gauge, arm.flange, case.cargo.temperature_c),
        )
        yield _Limit(
            f"arm-velocity-{i + 1}",
            f"Velocity in {arm.name}",
            "terminal",
            "m/s",
            flow.velocity_m_per_s,
            arm.velocity_limit_m_per_s,
            f"Ask the terminal for the highest velocity in {arm.name}.",
        )


def _shore_rows(case: CaseFile, readings: Readings) -> Iterator[_Limit]:
    for i, segment in enumerate(case.berth.shore_line):
        pressures = [point.pressure_bar_gauge for point in readings.profile[1 + i : 3 + i]]
        if readings.booster is not None and i == segment_fed(case.berth):
            pressures.append(readings.booster.discharge_pressure_bar_gauge)
        pressure = max(pressures)
        yield _Limit(
            f"shore-rating-{i + 1}",
            f"Rating of shore segment {segment.name}",
            "terminal",
            "bar",
            pressure,
            segment.rating_bar_gauge,
            f"Ask the terminal for the working pressure of shore segment {segment.name}.",
            rating_source(segment.rating_bar_gauge, segment.flange, case.cargo.temperature_c),
        )
        if segment.velocity_limit_m_per_s is not None:
            velocity = readings.total_flow_m3_per_h / HOUR_S / area_m2(segment)
            label = f"Velocity in shore segment {segment.name}"
            limit = segment.velocity_limit_m_per_s
            yield _Limit(f"shore-velocity-{i + 1}", label, "terminal", "m/s", velocity, limit)


def _shut_valve_rows(case: CaseFile, readings: Readings, liquid: Liquid) -> Iterator[_Limit]:
    """Hold the ratings against the pressure of pumps that run on against a valve shut at the far end."""
    weight = liquid.density_kg_per_m3 * GRAVITY_M_PER_S2
    names = ["the ship's manifold", "the arms", *(f"shore segment {segment.name}" for segment in case.berth.shore_line)]
    boosted_from = 2 + segment_fed(case.berth)
    found = []
    own = case.ship.cargo_line_rating_bar_gauge
    if own is not None:
        pressure = (readings.shut_off_head_m - readings.lowest_pump_m) * weight / BAR_PA
        found.append((own - pressure, "the ship's lines", pressure, own))
    for i, (name, point) in enumerate(zip(names, readings.profile, strict=False)):  # an observed shore has no profile
        if point.rating_bar_gauge is not None:
            boost = readings.booster.shut_off_head_m if readings.booster is not None and i >= boosted_from else 0.0
            lowest = min(end.elevation_m for end in readings.profile[max(i - 1, 0) : i + 1])
            pressure = (readings.shut_off_head_m + boost - lowest) * weight / BAR_PA
            found.append((point.rating_bar_gauge - pressure, name, pressure, point.rating_bar_gauge))
    if found:
        _, name, pressure, rating = min(found)
        yield _Limit(
            "shut-valve",
            f"Pumps on against a shut valve: {name}",
            "terminal",
            "bar",
            pressure,
            rating,
            source="ratings",
        )


def _vapour_rows(readings: Readings, liquid: Liquid) -> Iterator[_Limit]:
    """Hold the vapour pressure against the lowest pressure on the shore line, where the line may run slack."""
    if len(readings.profile) <= 2:
        return
    lowest = min(readings.profile, key=lambda point: point.pressure_bar_gauge)
    absolute_kpa = (lowest.pressure_bar_gauge * BAR_PA + ATMOSPHERE_PA) / KPA_PA
    yield _Limit(
        "slack-line",
        f"Vapour pressure against the lowest pressure ashore, at the end of {lowest.name}",
        "terminal",
        "kPa",
        liquid.vapour_pressure_kpa_abs,
        absolute_kpa,
        "Ask the ship for the vapour pressure of the cargo.",
        "vapour pressure of the cargo, absolute; profile of the shore line",
    )


def _rate_rows(case: CaseFile, flow_m3_per_h: float) -> Iterator[_Limit]:
    agreed, start = case.agreed.highest_rate_m3_per_h, case.agreed.start_rate_m3_per_h
    inert = case.ship.inert_gas_delivery_m3_per_h
    if agreed is not None:
        yield _Limit("agreed-highest-rate", "Agreed highest rate", "both", "m³/h", flow_m3_per_h, agreed)
    if start is not None:
        yield _Limit("agreed-start-rate", "Agreed start rate against the rate", "both", "m³/h", start, flow_m3_per_h)
    yield _Limit(
        "receiving-rate",
        "Highest receiving rate ashore",
        "terminal",
        "m³/h",
        flow_m3_per_h,
        case.berth.receiving_rate_m3_per_h,
        "Ask the terminal for the highest rate it can receive.",
    )
    yield _Limit(
        "inert-gas",
        "Inert gas delivery over 1.25",
        "ship",
        "m³/h",
        flow_m3_per_h,
        None if inert is None else inert / INERT_GAS_FACTOR,
        "Ask the ship for the delivery of her inert gas plant.",
        "stated for the ship; 1.25 × rate: SOLAS II-2/4.5.5, FSS Code ch. 15 (from memory)",
    )


def _ship_velocity_rows(case: CaseFile, readings: Readings) -> Iterator[_Limit]:
    flows = [(segment, readings.total_flow_m3_per_h) for segment in case.ship.common_line]
    for pump, reading in zip(case.ship.pumps, readings.pumps, strict=True):
        flows += [(segment, reading.flow_m3_per_h) for segment in [*pump.suction_line, *pump.discharge_line]]
    if flows:
        yield _Limit(
            "ship-line-velocity",
            "Velocity in the ship's lines",
            "ship",
            "m/s",
            max(flow / HOUR_S / area_m2(segment) for segment, flow in flows),
            case.ship.ship_line_velocity_limit_m_per_s,
            "Ask the ship for the highest velocity in her cargo lines.",
        )


def _pump_rows(pump: PumpFacts, reading: PumpReading) -> Iterator[_Limit]:
    key, name, flow = pump.key, pump.name, reading.flow_m3_per_h
    rated, most, least = (
        pump.rated_flow_m3_per_h,
        pump.greatest_continuous_flow_m3_per_h,
        pump.least_continuous_flow_m3_per_h,
    )
    ask = f"Ask the ship for the rated flow of {name}."
    yield _Limit(f"rated-flow-{key}", f"Rated flow of {name}", "ship", "m³/h", flow, rated, ask)
    if most is not None:
        yield _Limit(f"greatest-flow-{key}", f"Greatest continuous flow of {name}", "ship", "m³/h", flow, most)
    if least is not None:
        yield _Limit(
            f"least-flow-{key}", f"Least continuous flow of {name} against its flow", "ship", "m³/h", least, flow
        )
    speed = reading.speed_rpm
    yield _Limit(f"speed-{key}", f"Greatest speed of {name}", "ship", "rpm", speed, pump.greatest_speed_rpm)
    if pump.driver_power_limit_kw is not None:
        ask = f"Ask the ship for the efficiency of {name}."
        power, limit = reading.shaft_power_kw, pump.driver_power_limit_kw
        yield _Limit(f"power-{key}", f"Driver of {name}", "ship", "kW", power, limit, ask)
    missing = f"NPSH required of {name}" if reading.npsh_available_m is not None else "vapour pressure of the cargo"
    yield _Limit(
        f"npsh-{key}",
        f"NPSH required of {name} against NPSH available",
        "ship",
        "m",
        reading.npsh_required_m,
        reading.npsh_available_m,
        f"Ask the ship for the {missing}.",
        "curve of the pump; vapour pressure of the cargo",
    )


def _own_rows(case: CaseFile, readings: Readings) -> Iterator[_Limit]:
    for i, limit in enumerate(case.own_limits):
        value, allowed, unit = _own_value(limit, readings)
        yield _Limit(
            limit.row_key(i + 1), limit.name, limit.owner, unit, value, allowed, source=limit.source or "stated"
        )


def _own_value(limit: OwnLimit, readings: Readings) -> tuple[float, float | None, str]:
    if limit.rate_m3_per_h is not None:
        return readings.total_flow_m3_per_h, limit.rate_m3_per_h, "m³/h"
    if limit.manifold_pressure_bar_gauge is not None:
        return readings.manifold_pressure_bar_gauge, limit.manifold_pressure_bar_gauge, "bar"
    return max(reading.speed_rpm or 0.0 for reading in readings.pumps), limit.speed_rpm, "rpm"
