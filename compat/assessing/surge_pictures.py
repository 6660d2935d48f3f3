"""The two drawings of a surge event: heads along the line, and pressure over time at its points (pure: no Django)."""

from __future__ import annotations

import io
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from compat.surge.curves import Along, OverTime
from shared.calc.root import Array
from shared.calc.units import convert
from shared.pictures import ALARM, INK, LAND, PAPER, SEA, PictureUnits, shortened

_GREATEST, _LEAST, _STEADY, _RATING = "solid", (0, (6, 2)), (0, (1.5, 1.5)), (0, (8, 2, 1.5, 2))
_DASHES = ("solid", (0, (6, 2)), (0, (2, 1.5)), (0, (6, 2, 1.5, 2)), (0, (10, 3)), (0, (1, 2)))
_HEIGHT_IN = 4.6
_LONGEST_NAME = 34


def envelope_picture(along: Along, title: str, units: PictureUnits, height_in: float = _HEIGHT_IN) -> bytes:
    """Draw greatest, least and steady head, what the ratings allow, and the pipe's elevation along the line; SVG."""
    factor = _factor("m", units.length)
    figure, axes = _sheet(title, f"Distance from the pumps [{units.length}]", f"Head [{units.length}]", height_in)

    def line(heads: Sequence[float | None], label: str, **style: Any) -> None:
        axes.plot(_scaled(along.distance_m, factor), _scaled(heads, factor), label=label, **style)

    line(along.elevation_m, "elevation of the pipe", color=LAND, linewidth=2.4)
    line(along.greatest_m, "greatest head", color=SEA, linewidth=2, linestyle=_GREATEST)
    line(along.steady_m, "steady head", color=INK, linewidth=1.2, linestyle=_STEADY)
    line(along.least_m, "least head", color=SEA, linewidth=1.6, linestyle=_LEAST)
    if any(head is not None for head in along.allowed_m):
        line(along.allowed_m, "allowed by ratings", color=ALARM, linewidth=1.5, linestyle=_RATING)
    line(along.boils_below_m, "boils below", color=ALARM, linewidth=1, linestyle=_STEADY)
    _legend(axes)
    return _svg(figure, title)


def pressures_picture(
    points: Sequence[OverTime], title: str, units: PictureUnits, height_in: float = _HEIGHT_IN
) -> bytes:
    """Draw gauge pressure over time at the pumps, the joints and the end of the line; SVG."""
    factor = _factor("bar", units.pressure)
    figure, axes = _sheet(title, "Time [s]", f"Pressure [{units.pressure} gauge]", height_in)
    for number, point in enumerate(points):
        axes.plot(
            point.time_s,
            _scaled(point.pressure_bar_gauge, factor),
            color=SEA if number % 2 else INK,
            linewidth=1.4,
            linestyle=_DASHES[number % len(_DASHES)],
            label=shortened(point.name, _LONGEST_NAME),
        )
    _legend(axes)
    return _svg(figure, title)


def _scaled(values: Sequence[float | None], factor: float) -> Array:
    """Return numbers in the shown unit; what is not known leaves a gap."""
    return np.array([np.nan if value is None else value * factor for value in values])


def _factor(unit: str, shown: str) -> float:
    return float(convert(Decimal(1), unit, shown))


def _sheet(title: str, across: str, upward: str, height_in: float) -> tuple[Figure, Axes]:
    figure = Figure(figsize=(10.0, height_in), layout="constrained", facecolor=PAPER)
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
