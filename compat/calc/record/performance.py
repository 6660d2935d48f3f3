"""Pumping performance from a record: hours pumped, pressure kept at the manifold, and the usual warranty.

The usual warranty of a tanker: the whole cargo within 24 hours, or at least 7 bar kept at her manifold, if the
terminal's installation permits (wordings of charter forms as summarised in chartering references; some say 100 psi).
What the charter party itself says decides; this only counts hours.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np

from shared.calc.errors import InputError
from shared.calc.root import Array

Span = tuple[float, float]
Kept = Literal["by time", "by pressure", "within the terminal's restrictions", "not kept", "not decided"]


@dataclass(frozen=True)
class Warranty:
    """What was warranted: hours for the whole cargo, with extra hours for washing, or a pressure in Pa gauge.

    ``part`` is the share of her whole cargo that was discharged here; hours count pro rata.
    """

    hours: float
    pressure_pa_gauge: float
    extra_hours: float = 0.0
    part: float = 1.0


@dataclass(frozen=True)
class Restriction:
    """Hours in which the terminal held her back: to a pressure in Pa gauge, or (None) by rate or otherwise."""

    span: Span
    pressure_pa_gauge: float | None = None


@dataclass(frozen=True)
class Performance:
    """Hours counted, all from the record; ``excused`` are hours that she fell short within a restriction.

    ``unread_hours`` are bulk hours without a pressure reading on both sides of them.
    """

    pumping_hours: float
    allowed_hours: float
    bulk_hours: float
    unread_hours: float
    mean_pressure_pa_gauge: float | None
    hours_at_pressure: float
    excused_hours: float
    short_hours: float
    kept: Kept


def performance(
    hour: Sequence[float],
    pressure_pa_gauge: Sequence[float],
    *,
    pumped: Sequence[Span],
    bulk: Sequence[Span],
    restrictions: Sequence[Restriction],
    warranty: Warranty,
    gauge_pa: float = 0.0,
) -> Performance:
    """Count hours; times in hours from any zero, rising; ``gauge_pa`` is how sure the gauge is.

    ``pumped`` are spans with flow, ``bulk`` those of them in which pressure is to be kept (no start, topping off or
    stripping). Between readings the pressure is taken as a straight line. Raises InputError for hours out of order.
    """
    times, pressure = np.asarray(hour, dtype=float), np.asarray(pressure_pa_gauge, dtype=float)
    if (np.diff(times) <= 0).any():
        raise InputError("Readings are not in order of time, or two stand at one time; correct their times.")
    pumping = sum(end - begin for begin, end in pumped)
    allowed = warranty.hours * warranty.part + warranty.extra_hours
    at, excused, short, read, weight = 0.0, 0.0, 0.0, 0.0, 0.0
    for begin, end in _pieces(bulk, restrictions, times):
        if not times.size or begin < times[0] or end > times[-1]:
            continue
        low, high = np.interp([begin, end], times, pressure)
        needed, held_back = _needed((begin + end) / 2.0, restrictions, warranty.pressure_pa_gauge)
        length = end - begin
        whole = _above(float(low), float(high), warranty.pressure_pa_gauge - gauge_pa) * length
        here = _above(float(low), float(high), needed - gauge_pa) * length
        read, weight = read + length, weight + (float(low) + float(high)) / 2.0 * length
        at += whole
        excused += length - whole if needed == -np.inf else here - whole
        short += 0.0 if held_back and needed == -np.inf else length - here
    bulk_hours = sum(end - begin for begin, end in bulk)
    unread = max(bulk_hours - read, 0.0)
    mean = weight / read if read > 0 else None
    kept = _kept(pumping, allowed, short, excused, unread)
    return Performance(pumping, allowed, bulk_hours, unread, mean, at, excused, short, kept)


def _kept(pumping: float, allowed: float, short: float, excused: float, unread: float) -> Kept:
    little = 1e-6
    if pumping <= allowed + little:
        return "by time"
    if short > little:
        return "not kept"
    if unread > little:
        return "not decided"
    return "within the terminal's restrictions" if excused > little else "by pressure"


def _pieces(bulk: Sequence[Span], restrictions: Sequence[Restriction], times: Array) -> list[Span]:
    """Cut the bulk hours at every reading and at every end of a restriction."""
    cuts = {float(time) for time in times} | {end for one in restrictions for end in one.span}
    found = []
    for begin, end in bulk:
        inner = sorted(cut for cut in cuts if begin < cut < end)
        edges = [begin, *inner, end]
        found += [(low, high) for low, high in pairwise(edges) if high > low]
    return found


def _needed(moment: float, restrictions: Sequence[Restriction], warranted: float) -> tuple[float, bool]:
    """Return the pressure that she could be asked for at a moment (minus infinity: none), and if she was held back."""
    here = [one for one in restrictions if one.span[0] <= moment <= one.span[1]]
    if not here:
        return warranted, False
    limits = [-np.inf if one.pressure_pa_gauge is None else one.pressure_pa_gauge for one in here]
    return min(warranted, *limits), True


def _above(low: float, high: float, needed: float) -> float:
    """Return the share of a straight line from ``low`` to ``high`` that lies at ``needed`` or above."""
    least, most = min(low, high), max(low, high)
    if least >= needed:
        return 1.0
    if most < needed:
        return 0.0
    return (most - needed) / (most - least)
