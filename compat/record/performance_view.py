"""Pumping performance from a record, in the words of the usual warranty (pure: no Django)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from compat.calc.record.performance import Performance, Span, Warranty, performance
from compat.record.events import Kind
from compat.record.readings import MANIFOLD
from compat.record.timesheet import Sheet, hours_between
from shared.calc.units import BAR_PA

WARRANTY_HOURS, WARRANTY_BAR = 24.0, 7.0  # the usual ones; the charter party's own come first


@dataclass(frozen=True)
class Asked:
    """What performance is measured against: hours and pressure of the warranty, hours for washing, share of cargo."""

    hours: float = WARRANTY_HOURS
    pressure_bar_gauge: float = WARRANTY_BAR
    extra_hours: float = 0.0
    part: float = 1.0


@dataclass(frozen=True)
class Told:
    """Performance as pages and letters show it; pressures in bar gauge, rates in m3/h."""

    asked: Asked
    counted: Performance
    mean_bar_gauge: float | None
    discharged_m3: float | None
    mean_rate_m3_per_h: float | None
    planned_rate_m3_per_h: float | None
    planned_hours: float | None
    agreed_bar_gauge: float | None
    stopped_by_terminal_h: float
    stopped_by_ship_h: float
    ended: bool

    @property
    def restricted(self) -> bool:
        """Tell whether the agreed pressure lay below the warranted one."""
        return self.agreed_bar_gauge is not None and self.agreed_bar_gauge < self.asked.pressure_bar_gauge


def told(
    sheet: Sheet,
    manifold: Sequence[tuple[datetime, Mapping[str, str]]],
    *,
    asked: Asked,
    agreed_bar_gauge: float | None,
    planned: Mapping[str, Any] | None,
    discharged: tuple[datetime, float] | None,
    gauge_bar: float,
) -> Told | None:
    """Return the performance, None before flow has started; ``manifold`` are the ship's readings in order of time.

    ``discharged`` is when the ship last told her quantity, and that quantity in m3.
    """
    start = sheet.first(Kind.STARTED)
    if start is None:
        return None
    read = {hours_between(start, at): float(values[MANIFOLD]) for at, values in manifold if MANIFOLD in values}
    hours = sorted(read)
    counted = performance(
        hours,
        [read[hour] * BAR_PA for hour in hours],
        pumped=sheet.pumped(),
        bulk=sheet.bulk(),
        restrictions=sheet.restrictions(_below(agreed_bar_gauge, asked.pressure_bar_gauge)),
        warranty=Warranty(asked.hours, asked.pressure_bar_gauge * BAR_PA, asked.extra_hours, asked.part),
        gauge_pa=gauge_bar * BAR_PA,
    )
    rate = planned["total_flow_m3_per_h"] if planned else None
    mean = counted.mean_pressure_pa_gauge
    discharged_m3, pumped_h = None, 0.0
    if discharged is not None:
        discharged_m3, pumped_h = discharged[1], _before(sheet.pumped(), hours_between(start, discharged[0]))
    return Told(
        asked=asked,
        counted=counted,
        mean_bar_gauge=None if mean is None else mean / BAR_PA,
        discharged_m3=discharged_m3,
        mean_rate_m3_per_h=discharged_m3 / pumped_h if discharged_m3 and pumped_h else None,
        planned_rate_m3_per_h=rate,
        planned_hours=discharged_m3 / rate if discharged_m3 and rate else None,
        agreed_bar_gauge=agreed_bar_gauge,
        stopped_by_terminal_h=sheet.stopped_hours("terminal"),
        stopped_by_ship_h=sheet.stopped_hours("ship"),
        ended=sheet.first(Kind.ENDED) is not None,
    )


def _before(spans: Sequence[Span], hour: float) -> float:
    """Return the hours of spans that lie before an hour."""
    return sum(max(min(end, hour) - begin, 0.0) for begin, end in spans)


def _below(agreed: float | None, warranted: float) -> float | None:
    """Return the agreed pressure where it holds her back below the warranted one."""
    return agreed if agreed is not None and agreed < warranted else None


_KEPT = {
    "by time": "Kept by time: the cargo went ashore within the hours allowed.",
    "by pressure": "Kept by pressure: the warranted pressure stood at the manifold through the bulk discharge.",
    "within the terminal's restrictions": (
        "Kept as far as the terminal let her: below the warranted pressure only while it held her back."
    ),
    "not kept": "Not kept: longer than the hours allowed, and below the pressure that she could be asked for.",
    "not decided": "Not decided: longer than the hours allowed, and pressures are missing for a part of them.",
}


def verdict(found: Told) -> str:
    """Say whether the warranty was kept, or while flow goes on how it stands so far."""
    if found.ended:
        return _KEPT[found.counted.kept]
    if found.counted.kept == "by time":
        return "Flow has not ended; so far it is within the hours allowed."
    said = _KEPT[found.counted.kept]
    return f"Flow has not ended. So far {said[0].lower()}{said[1:]}"
