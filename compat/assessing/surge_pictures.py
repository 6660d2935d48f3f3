"""The two drawings of a surge event: greatest and least head along the line, and pressure over time at its points."""

from __future__ import annotations

import io
from decimal import Decimal

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from compat.surge.studying import Studied
from shared.calc.root import Array
from shared.calc.units import BAR_PA, convert
from shared.pictures import ALARM, INK, LAND, PAPER, SEA, PictureUnits, shortened

_GREATEST, _LEAST, _STEADY, _RATING = "solid", (0, (6, 2)), (0, (1.5, 1.5)), (0, (8, 2, 1.5, 2))
_DASHES = ("solid", (0, (6, 2)), (0, (2, 1.5)), (0, (6, 2, 1.5, 2)), (0, (10, 3)), (0, (1, 2)))
_MOST_LINES = 6
_MOST_POINTS = 1500


def envelope_picture(studied: Studied, title: str, units: PictureUnits) -> bytes:
    """Draw greatest, least and steady head, what the ratings allow, and the pipe's elevation along the line; SVG."""
    system, met = studied.system, studied.envelope
    factor = _factor("m", units.length)
    along = system.grid.distance_m * factor
    figure, axes = _sheet(title, f"Distance from the pumps [{units.length}]", f"Head [{units.length}]")
    axes.plot(along, system.grid.elevation_m * factor, color=LAND, linewidth=2.4, label="elevation of the pipe")
    axes.plot(along, met.greatest_head_m * factor, color=SEA, linewidth=2, linestyle=_GREATEST, label="greatest head")
    axes.plot(along, system.steady_head_m * factor, color=INK, linewidth=1.2, linestyle=_STEADY, label="steady head")
    axes.plot(along, met.least_head_m * factor, color=SEA, linewidth=1.6, linestyle=_LEAST, label="least head")
    allowed = np.where(np.isfinite(system.allowed_head_m), system.allowed_head_m, np.nan) * factor
    if np.isfinite(allowed).any():
        axes.plot(along, allowed, color=ALARM, linewidth=1.5, linestyle=_RATING, label="allowed by ratings")
    boils = system.least_head_m * factor
    axes.plot(along, boils, color=ALARM, linewidth=1, linestyle=_STEADY, label="boils below")
    _legend(axes)
    return _svg(figure, title)


def pressures_picture(studied: Studied, title: str, units: PictureUnits) -> bytes:
    """Draw gauge pressure over time at the pumps, the joints and the end of the line; SVG."""
    system, met, grid = studied.system, studied.envelope, studied.system.grid
    factor = _factor("bar", units.pressure)
    figure, axes = _sheet(title, "Time [s]", f"Pressure [{units.pressure} gauge]")
    chosen = _points(studied)
    every = max(1, len(met.time_s) // _MOST_POINTS)
    for number, (node, name) in enumerate(chosen):
        column = studied.result.watched.index(node)
        pressure = (met.watched_head_m[:, column] - grid.elevation_m[node]) * system.weight_pa_per_m / BAR_PA * factor
        times, shown = _thinned(met.time_s, pressure, every)
        axes.plot(times, shown, color=SEA if number % 2 else INK, linewidth=1.4, linestyle=_DASHES[number], label=name)
    _legend(axes)
    return _svg(figure, title)


def _thinned(times: Array, values: Array, every: int) -> tuple[Array, Array]:
    """Keep the greatest and the least of every few values, so that no peak is lost in drawing."""
    whole = len(values) // every * every
    if every == 1 or not whole:
        return times, values
    rows = values[:whole].reshape(-1, every)
    high, low = rows.argmax(1), rows.argmin(1)
    start = np.arange(0, whole, every)
    places = np.sort(np.stack([start + high, start + low]), axis=0).T.ravel()
    return times[places], values[places]


def _points(studied: Studied) -> list[tuple[int, str]]:
    grid = studied.system.grid
    named = [(first, f"start of {shortened(run.name)}") for run, first in zip(grid.runs, grid.first, strict=True)]
    found = [*named[: _MOST_LINES - 1], (grid.nodes - 1, "end of the line")]
    return [(node, name) for node, name in found if node in studied.result.watched]


def _factor(unit: str, shown: str) -> float:
    return float(convert(Decimal(1), unit, shown))


def _sheet(title: str, across: str, upward: str) -> tuple[Figure, Axes]:
    figure = Figure(figsize=(10.0, 4.6), layout="constrained", facecolor=PAPER)
    axes = figure.add_subplot()
    axes.set_title(title, loc="left", color=INK, fontsize=11, fontweight="bold")
    axes.set_xlabel(across)
    axes.set_ylabel(upward)
    axes.grid(visible=True)
    axes.set_axisbelow(True)
    return figure, axes


def _legend(axes: Axes) -> None:
    axes.legend(loc="upper left", bbox_to_anchor=(1.0, 1.0), frameon=False, fontsize=9, handlelength=3.4)


def _svg(figure: Figure, title: str) -> bytes:
    FigureCanvasSVG(figure)
    held = io.BytesIO()
    figure.savefig(held, format="svg", metadata={"Title": title, "Date": None, "Creator": None})
    return held.getvalue()
