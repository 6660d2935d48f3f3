"""Every limit of a case with its value, margin, owner and source, and the one that binds (pure: no Django)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from compat.case_arrays import HOUR_S, INERT_GAS_FACTOR, area_m2
from compat.case_file import CaseFile

if TYPE_CHECKING:
    from compat.answer import ArmFlow, ProfilePoint, PumpReading

State = Literal["kept", "binding", "exceeded", "not decided"]
Owner = Literal["ship", "terminal", "both"]
_CLOSE = 1e-6  # fraction of a limit within which it counts as reached


@dataclass(frozen=True)
class LimitRow:
    """One limit: what is allowed, what it comes to, and what is left; ``ask`` says who can tell what is missing."""

    key: str
    label: str
    owner: Owner
    source: str
    state: State
    unit: str
    value: float | None
    allowed: float | None
    margin: float | None
    ask: str = ""

    @property
    def relative_margin(self) -> float:
        """Margin as a fraction of what is allowed; infinite where it is not decided."""
        if self.margin is None or not self.allowed:
            return float("inf")
        return self.margin / abs(self.allowed)


def limit_rows(
    case: CaseFile,
    flow_m3_per_h: float,
    profile: tuple[ProfilePoint, ...],
    pumps: tuple[PumpReading, ...],
    arms: tuple[ArmFlow, ...],
) -> tuple[LimitRow, ...]:
    """Return every limit of a case at its operating point, not decided where the limit is not known."""
    return tuple(
        row
        for rows in (
            _manifold_rows(case, profile),
            _arm_rows(case, profile, arms),
            _shore_rows(case, profile, flow_m3_per_h),
            _rate_rows(case, flow_m3_per_h),
            _ship_line_rows(case, flow_m3_per_h, pumps),
            _pump_rows(case, pumps),
        )
        for row in rows
    )


def with_binding(rows: tuple[LimitRow, ...], *, searched: bool) -> tuple[tuple[LimitRow, ...], str | None]:
    """Mark the limit that binds: where the rate was searched, the one with no margin left."""
    nearest = min(rows, key=lambda row: row.relative_margin, default=None)
    if not searched or nearest is None or abs(nearest.relative_margin) > _CLOSE:
        return rows, None
    return tuple(replace(row, state="binding") if row is nearest else row for row in rows), nearest.key


def _row(
    key: str, label: str, owner: Owner, source: str, unit: str, value: float | None, allowed: float | None, ask: str
) -> LimitRow:
    if allowed is None or value is None:
        return LimitRow(key, label, owner, source, "not decided", unit, value, allowed, None, ask)
    margin = allowed - value
    state: State = "exceeded" if margin < -_CLOSE * abs(allowed) else "kept"
    return LimitRow(key, label, owner, source, state, unit, value, allowed, margin)


def _manifold_rows(case: CaseFile, profile: tuple[ProfilePoint, ...]) -> Iterator[LimitRow]:
    pressure = profile[0].pressure_bar_gauge
    agreed, berth, rating = (
        case.agreed.manifold_pressure_bar_gauge,
        case.berth.manifold_pressure_limit_bar_gauge,
        case.ship.manifold.rating_bar_gauge,
    )
    yield _row(
        "agreed-manifold-pressure",
        "Agreed manifold pressure",
        "both",
        "agreed for this transfer",
        "bar",
        pressure,
        agreed,
        "Ship and terminal have to agree a manifold pressure.",
    )
    yield _row(
        "berth-manifold-pressure",
        "Berth's own manifold pressure limit",
        "terminal",
        "stated for the berth",
        "bar",
        pressure,
        berth,
        "Ask the terminal for the highest manifold pressure of the berth.",
    )
    yield _row(
        "ship-manifold-rating",
        "Rating of the ship's manifold",
        "ship",
        "stated for the ship",
        "bar",
        pressure,
        rating,
        "Ask the ship for the working pressure of her manifold.",
    )


def _arm_rows(case: CaseFile, profile: tuple[ProfilePoint, ...], arms: tuple[ArmFlow, ...]) -> Iterator[LimitRow]:
    pressure = max(profile[0].pressure_bar_gauge, profile[1].pressure_bar_gauge)
    for i, (arm, flow) in enumerate(zip(case.berth.arms, arms, strict=True)):
        ask = f"Ask the terminal for the working pressure of {arm.name}."
        yield _row(
            f"arm-rating-{i + 1}",
            f"Rating of {arm.name}",
            "terminal",
            "stated for the berth",
            "bar",
            pressure,
            arm.rating_bar_gauge,
            ask,
        )
        ask = f"Ask the terminal for the highest velocity in {arm.name}."
        yield _row(
            f"arm-velocity-{i + 1}",
            f"Velocity in {arm.name}",
            "terminal",
            "stated for the berth",
            "m/s",
            flow.velocity_m_per_s,
            arm.velocity_limit_m_per_s,
            ask,
        )


def _shore_rows(case: CaseFile, profile: tuple[ProfilePoint, ...], flow_m3_per_h: float) -> Iterator[LimitRow]:
    for i, segment in enumerate(case.berth.shore_line):
        pressure = max(profile[1 + i].pressure_bar_gauge, profile[2 + i].pressure_bar_gauge)
        ask = f"Ask the terminal for the working pressure of shore segment {segment.name}."
        yield _row(
            f"shore-rating-{i + 1}",
            f"Rating of shore segment {segment.name}",
            "terminal",
            "stated for the berth",
            "bar",
            pressure,
            segment.rating_bar_gauge,
            ask,
        )
        velocity = flow_m3_per_h / HOUR_S / area_m2(segment)
        if segment.velocity_limit_m_per_s is not None:
            yield _row(
                f"shore-velocity-{i + 1}",
                f"Velocity in shore segment {segment.name}",
                "terminal",
                "stated for the berth",
                "m/s",
                velocity,
                segment.velocity_limit_m_per_s,
                "",
            )


def _rate_rows(case: CaseFile, flow_m3_per_h: float) -> Iterator[LimitRow]:
    agreed, receiving = case.agreed.highest_rate_m3_per_h, case.berth.receiving_rate_m3_per_h
    inert = case.ship.inert_gas_delivery_m3_per_h
    if agreed is not None:
        yield _row(
            "agreed-highest-rate",
            "Agreed highest rate",
            "both",
            "agreed for this transfer",
            "m³/h",
            flow_m3_per_h,
            agreed,
            "",
        )
    yield _row(
        "receiving-rate",
        "Highest receiving rate ashore",
        "terminal",
        "stated for the berth",
        "m³/h",
        flow_m3_per_h,
        receiving,
        "Ask the terminal for the highest rate it can receive.",
    )
    source = "stated for the ship; 1.25 × rate: SOLAS II-2/4.5.5, FSS Code ch. 15 (from memory)"
    allowed = None if inert is None else inert / INERT_GAS_FACTOR
    yield _row(
        "inert-gas",
        "Inert gas delivery over 1.25",
        "ship",
        source,
        "m³/h",
        flow_m3_per_h,
        allowed,
        "Ask the ship for the delivery of her inert gas plant.",
    )


def _ship_line_rows(case: CaseFile, flow_m3_per_h: float, pumps: tuple[PumpReading, ...]) -> Iterator[LimitRow]:
    limit = case.ship.ship_line_velocity_limit_m_per_s
    flows = [(segment, flow_m3_per_h) for segment in case.ship.common_line]
    for pump, reading in zip(case.ship.pumps, pumps, strict=True):
        flows += [(segment, reading.flow_m3_per_h) for segment in [*pump.suction_line, *pump.discharge_line]]
    if flows:
        velocity = max(flow / HOUR_S / area_m2(segment) for segment, flow in flows)
        yield _row(
            "ship-line-velocity",
            "Velocity in the ship's lines",
            "ship",
            "stated for the ship",
            "m/s",
            velocity,
            limit,
            "Ask the ship for the highest velocity in her cargo lines.",
        )


def _pump_rows(case: CaseFile, pumps: tuple[PumpReading, ...]) -> Iterator[LimitRow]:
    for pump, reading in zip(case.ship.pumps, pumps, strict=True):
        if not reading.running:
            continue
        key, name = pump.key, pump.name
        yield _row(
            f"rated-flow-{key}",
            f"Rated flow of {name}",
            "ship",
            "stated for the ship",
            "m³/h",
            reading.flow_m3_per_h,
            pump.rated_flow_m3_per_h,
            f"Ask the ship for the rated flow of {name}.",
        )
        yield _row(
            f"speed-{key}",
            f"Greatest speed of {name}",
            "ship",
            "stated for the ship",
            "rpm",
            reading.speed_rpm,
            pump.greatest_speed_rpm,
            "",
        )
        missing = f"NPSH required of {name}" if reading.npsh_available_m is not None else "vapour pressure of the cargo"
        yield _row(
            f"npsh-{key}",
            f"NPSH required of {name} against NPSH available",
            "ship",
            "curve of the pump; vapour pressure of the cargo",
            "m",
            reading.npsh_required_m,
            reading.npsh_available_m,
            f"Ask the ship for the {missing}.",
        )
