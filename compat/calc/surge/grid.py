"""The grid of a line: every run in whole reaches that a wave crosses in one step, so that Courant's number is 1."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from compat.calc.surge.formulae import checked_wave_speed
from shared.calc.errors import InputError
from shared.calc.root import Array
from shared.calc.units import GRAVITY_M_PER_S2

MOST_ADJUSTMENT = 0.02
MOST_REACHES = 20_000
_FINEST, _STEPS_TRIED = 30.0, 3000  # parts of the wanted step, tried one after the other


@dataclass(frozen=True)
class Run:
    """A run of pipe of one bore: ``area_m2`` and steady loss are those of all pipes that lie side by side in it.

    ``loss_m`` is the head lost along it at the flow ``loss_at_m3_per_s`` of the whole line; rating in Pa gauge,
    infinite where none is known.
    """

    name: str
    length_m: float
    area_m2: float
    wave_speed_m_per_s: float
    loss_m: float
    loss_at_m3_per_s: float
    start_elevation_m: float
    end_elevation_m: float
    rating_pa_gauge: float = np.inf

    @property
    def travel_s(self) -> float:
        """Return the time a wave needs from end to end."""
        return self.length_m / self.wave_speed_m_per_s


@dataclass(frozen=True)
class Grid:
    """Runs cut into reaches; nodes ``first[j]`` to ``last[j]`` are those of run j.

    Each run has nodes of its own at both ends: a joint has no length.
    """

    runs: tuple[Run, ...]
    reaches: tuple[int, ...]
    step_s: float

    @cached_property
    def first(self) -> tuple[int, ...]:
        """First node of each run."""
        return tuple(sum(self.reaches[:j]) + j for j in range(len(self.reaches)))

    @cached_property
    def last(self) -> tuple[int, ...]:
        """Last node of each run."""
        return tuple(first + reaches for first, reaches in zip(self.first, self.reaches, strict=True))

    @property
    def nodes(self) -> int:
        """Number of nodes."""
        return self.last[-1] + 1

    @cached_property
    def wave_speeds_m_per_s(self) -> Array:
        """Wave speed of each run as the grid has it."""
        return np.array([run.length_m / (n * self.step_s) for run, n in zip(self.runs, self.reaches, strict=True)])

    @property
    def adjustment(self) -> float:
        """Return the greatest change of a run's wave speed, as a part of it."""
        stated = np.array([run.wave_speed_m_per_s for run in self.runs])
        return float(np.abs(self.wave_speeds_m_per_s / stated - 1.0).max())

    @cached_property
    def impedance_s_per_m2(self) -> Array:
        """B = a / (g A) of each run: head per flow of a wave."""
        areas = np.array([run.area_m2 for run in self.runs])
        return np.asarray(self.wave_speeds_m_per_s / (GRAVITY_M_PER_S2 * areas))

    @cached_property
    def distance_m(self) -> Array:
        """Distance of each node from the start of the line."""
        ends = np.concatenate([[0.0], np.cumsum([run.length_m for run in self.runs])])
        return self._along(ends[:-1], ends[1:])

    @cached_property
    def elevation_m(self) -> Array:
        """Elevation of each node, straight from end to end of a run."""
        starts = np.array([run.start_elevation_m for run in self.runs])
        return self._along(starts, np.array([run.end_elevation_m for run in self.runs]))

    @cached_property
    def rating_pa_gauge(self) -> Array:
        """Rating at each node, that of its own run."""
        return self.per_node(np.array([run.rating_pa_gauge for run in self.runs]))

    def per_node(self, values: Array) -> Array:
        """Return a value of each run for each of its nodes."""
        return np.repeat(values, np.array(self.reaches) + 1)

    def _along(self, starts: Array, ends: Array) -> Array:
        found = np.zeros(self.nodes)
        for start, end, first, last in zip(starts, ends, self.first, self.last, strict=True):
            found[first : last + 1] = np.linspace(start, end, last - first + 1)
        return found


def make_grid(runs: Sequence[Run], step_s: float) -> Grid:
    """Return the grid at a time step [s], wave speeds adjusted to whole reaches.

    Raises InputError for a run shorter than half the way of a wave in one step, for no run at all, for a wave speed
    outside 100 to 1,500 m/s and for more than 20,000 reaches.
    """
    if not runs:
        raise InputError("The line has no pipe run; state at least one between the pumps and the shore tank.")
    for run in runs:
        checked_wave_speed(f"Wave speed in {run.name}", run.wave_speed_m_per_s)
        if run.travel_s < 0.5 * step_s:
            raise InputError(
                f"{run.name} is {run.length_m:g} m long, shorter than the grid of"
                f" {run.wave_speed_m_per_s * step_s:.3g} m; choose a finer grid or join it to its neighbour."
            )
    reaches = tuple(max(1, round(run.travel_s / step_s)) for run in runs)
    if sum(reaches) > MOST_REACHES:
        raise InputError(f"The grid has {sum(reaches):,} reaches; allowed: {MOST_REACHES:,}. Choose a coarser grid.")
    return Grid(tuple(runs), reaches, step_s)


def fitted_grid(runs: Sequence[Run], wanted_reaches: int, most_adjustment: float = MOST_ADJUSTMENT) -> Grid:
    """Return the coarsest grid of about ``wanted_reaches`` or more that changes no wave speed by ``most_adjustment``.

    Where even the finest one allowed changes one by more, that is returned: look at ``adjustment``. Raises InputError
    as ``make_grid`` does, and for a run without length or too short beside the others.
    """
    travel = np.array([run.travel_s for run in runs])
    if not runs or travel.min() <= 0.0:
        raise InputError("A pipe run has no length; state its length or leave it out.")
    step = min(float(travel.sum()) / wanted_reaches, 2.0 * float(travel.min()))
    finest = float(travel.sum()) / MOST_REACHES
    if step <= finest:
        raise InputError(
            f"The shortest run lets a wave through in {travel.min():.2g} s, too short beside {travel.sum():.3g} s of"
            " the whole line; join it to its neighbour."
        )
    steps = step / np.geomspace(1.0, min(step / finest, _FINEST), _STEPS_TRIED)
    reaches = np.maximum(1.0, np.round(travel / steps[:, None]))
    worst = np.abs(travel / (reaches * steps[:, None]) - 1.0).max(-1)
    fits = np.flatnonzero(worst < most_adjustment)
    return make_grid(runs, float(steps[fits[0] if fits.size else int(worst.argmin())]))
