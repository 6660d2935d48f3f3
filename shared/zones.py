"""Zones of time: UTC, a fixed offset as ships keep, or a named zone as ports keep (pure: no Django)."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from functools import cache
from zoneinfo import ZoneInfo, available_timezones

from shared.calc.errors import InputError

UTC_NAME = "UTC"
LONGEST_ZONE = 40
OF_TERMINAL, OF_SHIP = "terminal", "ship"
ZONES_OF_PAGES = frozenset({OF_TERMINAL, OF_SHIP})
"""What a person may choose besides a zone: that of the terminal or the ship which a page is about."""
_OFFSET = re.compile(r"UTC([+-])(\d{2}):(\d{2})", re.ASCII)
_LEAST_H, _GREATEST_H = -12, 14


@cache
def offsets() -> tuple[str, ...]:
    """Return the offsets that a ship's clocks may keep, west to east, by half hours."""
    halves = range(2 * _LEAST_H, 2 * _GREATEST_H + 1)
    return tuple(_offset_name(timedelta(minutes=30 * half)) for half in halves if half)


@cache
def places() -> tuple[str, ...]:
    """Return the zones of places that this machine knows, such as Europe/Oslo."""
    return tuple(
        sorted(name for name in available_timezones() if "/" in name and not name.startswith(("Etc/", "posix")))
    )


@cache
def zone_named(name: str) -> tzinfo:
    """Return a zone by its name; raise InputError for one that is not known."""
    if name in {"", UTC_NAME}:
        return UTC
    found = _OFFSET.fullmatch(name)
    if found and name in offsets():
        hours, minutes = int(found[2]), int(found[3])
        offset = timedelta(hours=hours, minutes=minutes)
        return timezone(offset if found[1] == "+" else -offset, name)
    if name in places():
        return ZoneInfo(name)
    raise InputError(
        f"Zone “{name[:40]}” is not known; write UTC, an offset such as UTC+03:00, or a place such as Europe/Oslo."
    )


def checked_zone(name: str) -> str:
    """Return a zone's name as it is kept, or nothing for nothing; raise InputError for one that is not known."""
    told = name.strip()
    zone_named(told)
    return told


def zone_words(at: datetime, name: str) -> str:
    """Say which zone a moment is told in: UTC, or the zone with its offset at that moment."""
    zone = zone_named(name)
    if zone is UTC:
        return UTC_NAME
    offset = _offset_name(at.astimezone(zone).utcoffset() or timedelta())
    return offset if isinstance(zone, timezone) else f"{offset}, {name.replace('_', ' ')}"


def moment_words(at: datetime, name: str = UTC_NAME, *, short: bool = False) -> str:
    """Write a moment with its zone, as 4 March 2031 14:30 UTC+01:00; ``short`` shortens the month and the zone."""
    local = at.astimezone(zone_named(name))
    month = f"{local:%b}" if short else f"{local:%B}"
    zone = zone_words(at, name)
    return f"{local.day} {month} {local.year} {local:%H:%M} {zone.partition(',')[0] if short else zone}"


def _offset_name(offset: timedelta) -> str:
    minutes = round(offset.total_seconds() / 60)
    if not minutes:
        return UTC_NAME
    return f"UTC{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02}:{abs(minutes) % 60:02}"
