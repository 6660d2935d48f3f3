"""Wear of pumps, and a berth's own resistance and static head, fitted to kept readings.

Unknown are one share of head for each pump, one factor on losses for each berth and, if asked for, one static head
for each berth. What was read is compared with what the model gives at the speeds read; speeds read wrongly move all
channels of a reading together, so residuals are freed of that by the covariance (generalised least squares), and
single wild readings are held back by a robust loss (scipy.optimize.least_squares, soft L1).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from compat.calc.record.comparison import Accuracy, covariances
from compat.calc.record.gauges import Change, Gauges, changed_system, gauges_at
from compat.calc.system import ShipShore
from shared.calc.arrays import take
from shared.calc.errors import InputError
from shared.calc.root import Array

LEAST_READINGS = 3
_RANGE_Z = 1.6448536269514722  # standard deviations either side that hold 90 of 100
_STEP = 1e-4
_MOST_STEPS = 60
_SOFT = 2.0  # a residual of this many standard deviations begins to count less
_LEAST_HEAD, _MOST_HEAD = 0.5, 1.1
_LEAST_LOSS, _MOST_LOSS = 0.2, 5.0
_MOST_STATIC_M = 50.0
_STATIC_SCALE_M = 10.0  # brings metres to the size of the shares beside them


@dataclass(frozen=True)
class Known:
    """Readings side by side, pumps apart, as stated and without anything learned before.

    ``pump_unknown`` (rows, pumps) numbers each pump's wear and ``berth_unknown`` (rows,) each row's berth, from 0.
    ``group`` (rows,) numbers the transfer records.
    """

    system: ShipShore
    speed_rpm: Array
    observed: Gauges
    pump_unknown: np.ndarray
    berth_unknown: np.ndarray
    group: np.ndarray
    accuracy: Accuracy

    def rows(self, chosen: np.ndarray) -> Known:
        """Return some of the rows."""
        return Known(
            take(self.system, chosen),
            self.speed_rpm[chosen],
            take(self.observed, chosen),
            self.pump_unknown[chosen],
            self.berth_unknown[chosen],
            self.group[chosen],
            self.accuracy,
        )


@dataclass(frozen=True)
class Estimate:
    """A fitted number with the range that holds the truth in 90 of 100, and whether a bound holds it."""

    value: float
    low: float
    high: float
    at_bound: bool


@dataclass(frozen=True)
class Fit:
    """What readings say: wear as share of head kept, resistance as a factor, static head in m; NaN-free.

    ``residual`` (rows, channels) is in standard deviations, 0 where nothing was read; ``converged`` tells whether the
    search settled. ``moved_together`` is the greatest correlation between resistance and static head of a berth.
    """

    head_kept: tuple[Estimate, ...]
    resistance: tuple[Estimate, ...]
    static_head_m: tuple[Estimate, ...]
    residual: Array
    readings: int
    converged: bool
    moved_together: float


def fit_known(known: Known, *, with_static: bool) -> Fit:
    """Fit the unknowns; raise InputError where fewer than three readings carry flow and manifold pressure."""
    unknown = _Unknown(known, with_static=with_static)
    return unknown.fit(*_searched(unknown, unknown.start))


def _searched(unknown: _Unknown, start: Array) -> tuple[Array, bool]:
    """Return the unknowns that fit best, and whether the search settled."""
    _check_enough(unknown.known, unknown.size)
    from scipy.optimize import least_squares  # noqa: PLC0415 - slow to import, and seldom needed

    found = least_squares(
        unknown.residuals,
        start,
        jac=unknown.jacobian,
        bounds=unknown.bounds,
        loss="soft_l1",
        f_scale=_SOFT,
        xtol=1e-7,
        ftol=1e-8,
        max_nfev=_MOST_STEPS,
    )
    return np.asarray(found.x), bool(found.success)


def _check_enough(known: Known, unknowns: int) -> None:
    observed = known.observed
    usable = np.isfinite(observed.flow_m3_per_s) & np.isfinite(observed.manifold_pa_gauge)
    needed = max(LEAST_READINGS, unknowns // 2)
    if usable.sum() < needed:
        raise InputError(
            f"{int(usable.sum())} readings carry a rate and a manifold pressure; needed: {needed} or more."
            " Keep more readings, with both, at different rates."
        )


class _Unknown:
    """The unknowns as one vector: head kept for each pump, resistance for each berth, static head over 10 m."""

    def __init__(self, known: Known, *, with_static: bool, whiten: Array | None = None) -> None:
        self.known, self.with_static = known, with_static
        self.pumps, self.berths = int(known.pump_unknown.max()) + 1, int(known.berth_unknown.max()) + 1
        self.size = self.pumps + self.berths * (2 if with_static else 1)
        self.read = known.observed.channels()
        self.seen = np.isfinite(self.read)
        self.whiten = self._whitening() if whiten is None else whiten
        self.count = int(self.seen.sum())
        static = [0.0] * (self.size - self.pumps - self.berths)
        self.start = np.array([1.0] * (self.pumps + self.berths) + static)
        edge = _MOST_STATIC_M / _STATIC_SCALE_M
        low = [_LEAST_HEAD] * self.pumps + [_LEAST_LOSS] * self.berths + [-edge] * len(static)
        high = [_MOST_HEAD] * self.pumps + [_MOST_LOSS] * self.berths + [edge] * len(static)
        self.bounds = (np.array(low), np.array(high))

    def change(self, x: Array) -> Change:
        """Return the change of each row for vectors x (vectors, unknowns), vectors after one another."""
        known = self.known
        head = x[:, known.pump_unknown].reshape(-1, known.pump_unknown.shape[1])
        loss = x[:, self.pumps + known.berth_unknown].reshape(-1)
        static = np.zeros_like(loss)
        if self.with_static:
            static = x[:, self.pumps + self.berths + known.berth_unknown].reshape(-1) * _STATIC_SCALE_M
        none = np.zeros_like(loss)
        return Change(head, loss, static, none, np.zeros_like(head))

    def channels(self, x: Array) -> Array:
        """Return what gauges read for vectors x: (vectors, rows, channels)."""
        rows = self.known.speed_rpm.shape[0]
        tiled = np.tile(np.arange(rows), len(x))
        system = changed_system(take(self.known.system, tiled), self.change(x))
        return gauges_at(system, self.known.speed_rpm[tiled]).channels().reshape(len(x), rows, -1)

    def _whitening(self) -> Array:
        """Return the inverse Cholesky factor of each row's covariance, what was not read taken as certain and equal."""
        known = self.known
        expected = gauges_at(known.system, known.speed_rpm).channels()
        covariance = covariances(known.system, known.speed_rpm, expected, known.accuracy)
        both = self.seen[:, :, None] & self.seen[:, None, :]
        covariance = np.where(both, covariance, np.eye(self.seen.shape[1]))
        return np.asarray(np.linalg.inv(np.linalg.cholesky(covariance)))

    def _white(self, away: Array) -> Array:
        return np.asarray(np.einsum("rcd,vrd->vrc", self.whiten, np.where(self.seen, away, 0.0)))

    def residuals(self, x: Array) -> Array:
        """Return residuals in standard deviations, flat."""
        return np.asarray(self._white(self.channels(x[None]) - self.read)[0].reshape(-1))

    def jacobian(self, x: Array) -> Array:
        """Return the slope of the residuals by finite differences, all unknowns in one call of the model."""
        moved = np.concatenate([x[None], x[None] + _STEP * np.eye(x.size)])
        channels = self.channels(moved)
        slope = self._white((channels[1:] - channels[:1]) / _STEP)
        return np.asarray(slope.reshape(x.size, -1).T)

    def covariance(self, x: Array) -> Array:
        """Return the covariance of the unknowns for the robust loss, its scale never below the gauges' own.

        Huber's form for M-estimates: the mean square of the loss' slope over the squared mean of its curvature
        (Huber and Ronchetti, Robust Statistics, ch. 7; from memory), times the inverse of J'J.
        """
        z = self.residuals(x)[self.seen.reshape(-1)]
        jacobian = self.jacobian(x)
        ratio = 1.0 + (z / _SOFT) ** 2
        slope, curvature = z / np.sqrt(ratio), ratio**-1.5
        free = max(z.size - x.size, 1)
        scale = float((slope**2).sum() / free / curvature.mean() ** 2)
        return np.asarray(max(scale, 1.0) * np.linalg.pinv(jacobian.T @ jacobian))

    def fit(self, x: Array, converged: bool) -> Fit:
        """Return the answer in its own units, with its ranges."""
        spread = self.covariance(x)
        sigma = np.sqrt(np.maximum(np.diagonal(spread), 0.0))
        unit = np.ones(self.size)
        unit[self.pumps + self.berths :] = _STATIC_SCALE_M
        found = [
            Estimate(
                float(value * one),
                float((value - _RANGE_Z * s) * one),
                float((value + _RANGE_Z * s) * one),
                bool(min(value - low, high - value) < 1e-6),
            )
            for value, s, one, low, high in zip(x, sigma, unit, *self.bounds, strict=True)
        ]
        first, second = self.pumps, self.pumps + self.berths
        together = 0.0
        if self.with_static:
            pairs = [(first + berth, second + berth) for berth in range(self.berths)]
            together = max(float(abs(spread[i, j]) / max(sigma[i] * sigma[j], 1e-30)) for i, j in pairs)
        return Fit(
            tuple(found[:first]),
            tuple(found[first:second]),
            tuple(found[second:]),
            self.residuals(x).reshape(self.seen.shape),
            int(self.seen[:, 0].sum()),
            converged,
            together,
        )


@dataclass(frozen=True)
class Forecast:
    """How far forecasts of rate and manifold pressure lay off, as root mean squares, before and after.

    Each group of readings was left out in turn and forecast from the others. ``by_record`` tells whether groups are
    whole transfer records; else each reading was left out.
    """

    rate_before_m3_per_s: float
    rate_after_m3_per_s: float
    pressure_before_pa: float
    pressure_after_pa: float
    left_out: int
    by_record: bool


def forecast_errors(known: Known, before: Array, fit: Fit, *, with_static: bool) -> Forecast:
    """Return forecast errors; ``before`` is the vector of unknowns in use now, in the order of ``vector_of``.

    ``fit`` is that of all readings, from which each search starts. A record that is left out and holds pumps or a
    berth seen nowhere else is forecast with what is in use now.
    """
    unknown = _Unknown(known, with_static=with_static)
    by_record = np.unique(known.group).size > 1
    group = known.group if by_record else np.arange(known.group.size)
    after = np.empty_like(unknown.read)
    inside = np.clip(vector_of(fit), unknown.bounds[0] + _STEP, unknown.bounds[1] - _STEP)
    for one in np.unique(group):
        out, rest = np.flatnonzero(group == one), np.flatnonzero(group != one)
        part = _Unknown(known.rows(rest), with_static=with_static, whiten=unknown.whiten[rest])
        x = before
        if (part.pumps, part.berths) == (unknown.pumps, unknown.berths):
            x = _found_or(part, inside, before)
        after[out] = unknown.channels(x[None])[0][out]
    now = unknown.channels(before[None])[0]
    errors = [_root_mean_square(values - unknown.read) for values in (now, after)]
    (rate_before, pressure_before), (rate_after, pressure_after) = errors
    return Forecast(rate_before, rate_after, pressure_before, pressure_after, int(np.unique(group).size), by_record)


def _found_or(part: _Unknown, start: Array, otherwise: Array) -> Array:
    try:
        return _searched(part, start)[0]
    except InputError:  # too few readings are left
        return otherwise


def _root_mean_square(away: Array) -> tuple[float, float]:
    found = [float(np.sqrt(np.nanmean(away[:, channel] ** 2))) for channel in (0, 1)]
    return found[0], found[1]


def vector_of(fit: Fit) -> Array:
    """Return the fitted numbers as the vector that is searched: shares, factors, static heads over 10 m."""
    static = [one.value / _STATIC_SCALE_M for one in fit.static_head_m]
    return np.array([one.value for one in (*fit.head_kept, *fit.resistance)] + static)


def vector(head_kept: Array, resistance: Array, static_head_m: Array | None) -> Array:
    """Return numbers in use as the vector that is searched."""
    static = np.zeros(0) if static_head_m is None else static_head_m / _STATIC_SCALE_M
    return np.concatenate([head_kept, resistance, static])
