"""Likely causes of a drift: one thing changed at a time, as far as it brings the model nearest to what was read.

Each cause is one number (a wear, a resistance, a static head, a loss of a valve, an error of one gauge), found by
Gauss-Newton steps over all channels with their covariance, within physical bounds. What is left unexplained is its
misfit; causes whose misfits differ by less than chance would make them differ can't be told apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from compat.calc.record.comparison import Accuracy, covariances
from compat.calc.record.gauges import Change, Gauges, changed_system, gauges_at
from compat.calc.system import ShipShore
from shared.calc.arrays import repeat_row
from shared.calc.root import Array

Places = NDArray[np.intp]
Kind = Literal["shore resistance", "shore head", "ship's valve", "pump's valve", "worn pump", "wrong gauge"]
APART = 2.706  # misfits this far apart are told apart in 90 of 100 (chi-square, one degree of freedom)
_STEPS = 8
_BOUNDS: dict[Kind, tuple[float, float, float]] = {  # least, greatest, step of the slope; SI
    "shore resistance": (0.05, 30.0, 1e-3),
    "shore head": (-60.0, 60.0, 1e-2),
    "ship's valve": (0.0, 2000.0, 1e-1),
    "pump's valve": (0.0, 8000.0, 1e-1),
    "worn pump": (0.4, 1.1, 1e-4),
}
_START: dict[Kind, float] = {"shore resistance": 1.0, "worn pump": 1.0}


@dataclass(frozen=True)
class Cause:
    """One cause: ``estimate`` in SI (a share, m, m per (m3/s)^2 or the gauge's error), and what it leaves unexplained.

    ``place`` is the pump, or the channel of a wrong gauge. ``explained`` is the share of the misfit that it takes
    away; ``predicted`` are the channels as they would read if it were so.
    """

    kind: Kind
    place: int
    estimate: float
    misfit: float
    explained: float
    predicted: Array


@dataclass(frozen=True)
class Causes:
    """Causes of one reading, best first; ``misfit`` with no cause at all, and how many causes can't be told apart."""

    misfit: float
    degrees: int
    found: tuple[Cause, ...]
    alike: int


def likely_causes(system: ShipShore, speed_rpm: Array, observed: Gauges, accuracy: Accuracy) -> Causes:
    """Return what may explain one reading (a system of one row), best first.

    A cause that would turn the wrong way (a valve that opens further than open) stays at no change.
    """
    read = observed.channels()[0]
    seen = np.flatnonzero(np.isfinite(read))
    expected = gauges_at(system, speed_rpm).channels()
    covariance = covariances(system, speed_rpm, expected, accuracy)[0][np.ix_(seen, seen)]
    inverse = np.linalg.inv(covariance)
    away = (read - expected[0])[seen]
    misfit = float(away @ inverse @ away)
    tried = _tried(speed_rpm[0])
    found = _changed(system, speed_rpm, tried, read, seen, inverse) if seen.size > 1 else []
    found += [_gauge(read, expected[0], seen, place, inverse) for place in range(seen.size)]
    causes = [
        Cause(kind, at, estimate, left, 1.0 - left / misfit if misfit > 0 else 0.0, predicted)
        for kind, at, estimate, left, predicted in found
    ]
    causes.sort(key=lambda cause: cause.misfit)
    alike = sum(cause.misfit < causes[0].misfit + APART for cause in causes)
    return Causes(misfit, max(seen.size - 1, 0), tuple(causes), alike)


def _tried(speed_rpm: Array) -> list[tuple[Kind, int]]:
    runs = [int(pump) for pump in np.flatnonzero(speed_rpm > 0)]
    found: list[tuple[Kind, int]] = [("shore resistance", -1), ("shore head", -1), ("ship's valve", -1)]
    found += [("worn pump", pump) for pump in runs]
    found += [("pump's valve", pump) for pump in runs] if len(runs) > 1 else []
    return found


_Found = tuple[Kind, int, float, float, Array]


def _changed(
    system: ShipShore, speed: Array, tried: Sequence[tuple[Kind, int]], read: Array, seen: Places, inverse: Array
) -> list[_Found]:
    rows = len(tried)
    both, speeds = repeat_row(system, 2 * rows), np.repeat(speed, 2 * rows, axis=0)
    bounds = np.array([_BOUNDS[kind] for kind, _ in tried])
    low, high, step = bounds.T
    value = np.array([_START.get(kind, 0.0) for kind, _ in tried])
    best, left = value, np.full(rows, np.inf)
    shown = np.zeros((rows, read.size))
    for _ in range(_STEPS):
        at = np.concatenate([value, value + step])
        channels = gauges_at(changed_system(both, _change(tried, at, speed.shape[1])), speeds).channels()
        here = channels[:rows]
        away = (read - here)[:, seen]
        slope = ((channels[rows:] - here) / step[:, None])[:, seen]
        misfit = np.einsum("rc,cd,rd->r", away, inverse, away)
        better = misfit < left
        best, left = np.where(better, value, best), np.where(better, misfit, left)
        shown = np.where(better[:, None], here, shown)
        pull = np.einsum("rc,cd,rd->r", slope, inverse, away)
        stiff = np.maximum(np.einsum("rc,cd,rd->r", slope, inverse, slope), 1e-30)
        value = np.clip(np.where(better, value + pull / stiff, 0.5 * (value + best)), low, high - step)
    return [(*one, float(best[i]), float(left[i]), shown[i]) for i, one in enumerate(tried)]


def _change(tried: Sequence[tuple[Kind, int]], value: Array, pumps: int) -> Change:
    change = Change.none(value.size, pumps)
    for row, number in enumerate(value.tolist()):
        kind, pump = tried[row % len(tried)]
        if kind == "shore resistance":
            change.resistance[row] = number
        elif kind == "shore head":
            change.static_head_m[row] = number
        elif kind == "ship's valve":
            change.ship_loss[row] = number
        elif kind == "worn pump":
            change.head_kept[row, pump] = number
        else:
            change.pump_loss[row, pump] = number
    return change


def _gauge(read: Array, expected: Array, seen: Places, place: int, inverse: Array) -> _Found:
    """Return a wrong gauge: its error is what makes the others fit best, given how errors go together."""
    away = (read - expected)[seen]
    error = float(inverse[place] @ away / inverse[place, place])
    corrected = away.copy()
    corrected[place] -= error
    shown = expected.copy()
    shown[seen[place]] += error
    return ("wrong gauge", int(seen[place]), error, float(corrected @ inverse @ corrected), shown)


@dataclass(frozen=True)
class Trend:
    """How the resistance ashore went from reading to reading: its factor at each, and its growth by the hour."""

    resistance: Array
    growth_per_h: float
    sure_per_h: float

    @property
    def grows(self) -> bool:
        """Tell whether it grows by more than the scatter of the readings explains (95 of 100)."""
        return self.growth_per_h > self.sure_per_h


def resistance_trend(system: ShipShore, observed: Gauges, hours: Array) -> Trend | None:
    """Return the trend of the shore's resistance over at least four readings with flow and manifold pressure.

    The factor is what was lost between manifold and far end over what the stated line loses at the flow that was read.
    """
    flow, pressure = observed.flow_m3_per_s, observed.manifold_pa_gauge
    usable = np.isfinite(flow) & np.isfinite(pressure) & (np.where(np.isfinite(flow), flow, 0.0) > 0)
    if usable.sum() < 4:
        return None
    at_rest = system.point_pressures(np.zeros_like(flow))[0][:, 0]
    stated = system.point_pressures(np.where(usable, flow, 0.0))[0][:, 0] - at_rest
    factor = ((pressure - at_rest) / np.where(stated > 0, stated, np.nan))[usable]
    hour = hours[usable]
    if not np.isfinite(factor).all() or np.ptp(hour) <= 0:
        return None
    (growth, _), covariance = np.polyfit(hour, factor, 1, cov="unscaled")
    scatter = np.std(factor - np.polyval(np.polyfit(hour, factor, 1), hour), ddof=2)
    return Trend(factor, float(growth), float(2.0 * scatter * np.sqrt(covariance[0, 0])))
