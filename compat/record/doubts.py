"""Readings that are asked about before they are kept: outliers are asked about, never dropped (pure: no Django)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta

from compat.case.case_file import CaseFile
from compat.record.readings import (
    DISCHARGE,
    DISCHARGED,
    MANIFOLD,
    RATE,
    RECEIVED,
    SPEED,
    SUCTION,
    number_of,
    pump_keys,
)
from shared.quantities import display

AHEAD = timedelta(minutes=5)
LONG_AGO = timedelta(hours=12)
_JUMPS = {RATE: (0.4, 150.0), MANIFOLD: (0.35, 1.5), SPEED: (0.3, 100.0), DISCHARGE: (0.35, 2.0)}
"""How far a value may go from the one before, as a share and at least in its unit, before it is asked about."""
_UNIT_SLIPS = {14.5038: "psi typed as bar", 6.28981: "barrels typed as cubic metres", 10.0: "a digit more"}


def doubts(
    case: CaseFile, values: Mapping[str, str], before: Mapping[str, str] | None, *, at: datetime, now: datetime
) -> list[str]:
    """Return a question for its time and for each value that does not look right."""
    return [*_of_time(at, now), *value_doubts(case, values, before)]


def value_doubts(case: CaseFile, values: Mapping[str, str], before: Mapping[str, str] | None) -> list[str]:
    """Return a question for each value that does not look right beside the reading before or its own others."""
    return [*_of_pumps(case, values), *(_of_steps(values, before) if before else ())]


def _of_time(at: datetime, now: datetime) -> Iterator[str]:
    if at > now + AHEAD:
        yield f"The time {at:%H:%M} UTC lies ahead of now ({now:%H:%M} UTC). Is it right?"
    if at < now - LONG_AGO:
        yield f"The time {at:%d %B %H:%M} UTC lies more than 12 hours back. Is it right?"


def _of_pumps(case: CaseFile, values: Mapping[str, str]) -> Iterator[str]:
    pumps = {pump.key: pump for pump in case.ship.pumps}
    for key in pump_keys(case):
        suction, discharge = (number_of(values, f"{name}:{key}") for name in (SUCTION, DISCHARGE))
        speed = number_of(values, f"{SPEED}:{key}")
        if suction is not None and discharge is not None and speed and discharge <= suction:
            yield f"{pumps[key].name} runs, but its discharge is not above its suction. Were they swapped?"
        if speed and speed > 1.02 * pumps[key].greatest_speed_rpm:
            greatest = pumps[key].greatest_speed_rpm
            yield f"{pumps[key].name}: {speed:g} rpm is above its greatest speed of {greatest:g} rpm. Is it right?"


def _of_steps(values: Mapping[str, str], before: Mapping[str, str]) -> Iterator[str]:
    for key in values:
        now, last = number_of(values, key), number_of(before, key)
        if now is None or last is None:
            continue
        name = key.partition(":")[0]
        if name in (DISCHARGED, RECEIVED) and now < last:
            yield f"The quantity fell from {display(last, 'm³')} to {display(now, 'm³')}. Is it right?"
        elif name in _JUMPS:
            yield from _jump(key, name, now, last)


def _jump(key: str, name: str, now: float, last: float) -> Iterator[str]:
    share, least = _JUMPS[name]
    if abs(now - last) <= max(share * abs(last), least) or min(now, last) == 0:
        return
    unit = {RATE: "m³/h", SPEED: "rpm"}.get(name, "bar")
    words = {RATE: "Rate", MANIFOLD: "Manifold pressure", SPEED: "Speed", DISCHARGE: "Discharge pressure"}[name]
    pump = key.partition(":")[2]
    where = f"{words} of {pump}" if pump else words
    ratio = max(now / last, last / now) if last else 0.0
    slip = next((said for factor, said in _UNIT_SLIPS.items() if said and abs(ratio / factor - 1.0) < 0.06), "")
    asked = f" Could it be {slip}?" if slip else " Is it right?"
    yield f"{where} went from {display(last, unit)} to {display(now, unit)} since the reading before.{asked}"
