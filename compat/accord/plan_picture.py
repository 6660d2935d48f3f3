"""The operating diagram of a plan as SVG: gauge pressure at the manifold over rate. Nothing is worked out here."""

from __future__ import annotations

import io
from collections.abc import Mapping
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from shared.calc.units import from_si, to_si
from shared.pictures import ALARM, INK, LAND, PAPER, SEA

_DASHES = ("solid", (0, (7, 2)), (0, (2, 1.6)), (0, (7, 2, 1.5, 2)))
_WIDTH_IN, _HEIGHT_IN = 7.1, 3.9
_BEHIND_LABEL = {"boxstyle": "round,pad=0.15", "facecolor": PAPER, "edgecolor": "none", "alpha": 0.85}


def diagram_picture(diagram: Mapping[str, Any]) -> bytes:
    """Draw a plan's diagram (numbers as decimal text); return SVG bytes that are the same each time."""
    point = _numbers(diagram["point"])
    rate, pressure = point[0][0], point[1][0]
    agreed = diagram["agreed_pressure_bar_gauge"]
    highest = diagram["highest_rate_m3_per_h"]
    figure = Figure(figsize=(_WIDTH_IN, _HEIGHT_IN), layout="constrained", facecolor=PAPER)
    axes = figure.add_subplot()
    top = 1.3 * max(pressure, float(agreed or 0), 0.1)
    axes.set_xlim(0, 1.28 * max(rate, float(highest or 0), 1.0))
    axes.set_ylim(0, top)
    for number, line in enumerate(diagram["pumps"]):
        _draw(axes, line, _speed_label(line), SEA, number)
    _draw(axes, diagram["shore"], "shore", LAND, 3)
    if agreed is not None:
        _mark_agreed(axes, float(agreed))
    if highest is not None:
        _mark_highest(axes, float(highest))
    _mark_point(axes, rate, pressure)
    _dress(axes)
    return _svg(figure)


def _numbers(line: Mapping[str, Any]) -> tuple[list[float], list[float]]:
    return [float(text) for text in line["flow_m3_per_h"]], [float(text) for text in line["pressure_bar_gauge"]]


def _speed_label(line: Mapping[str, Any]) -> str:
    if line["speed_rpm"] is not None:
        return f"pumps at {float(line['speed_rpm']):,.0f} rpm"
    fraction = float(line["speed_fraction"])
    return "pumps" if fraction == 1 else f"{fraction:.0%} of the speed"


def _draw(axes: Axes, line: Mapping[str, Any], label: str, colour: str, dash: int) -> None:
    flows, pressures = _numbers(line)
    axes.plot(flows, pressures, color=colour, linewidth=2, linestyle=_DASHES[dash])
    right, top = axes.get_xlim()[1], axes.get_ylim()[1]
    points = zip(flows, pressures, strict=True)
    inside = [(flow, pressure) for flow, pressure in points if flow <= right and 0 <= pressure <= top]
    if not inside:
        return
    # The free side of the line's end: above a line that rises, below one that falls.
    rises = inside[-1][1] > inside[0][1]
    axes.annotate(
        label,
        inside[-1],
        xytext=(-9, 0) if rises else (-3, -5),
        textcoords="offset points",
        ha="right",
        va="center" if rises else "top",
        color=colour,
        fontsize=8,
        bbox=_BEHIND_LABEL,
    )


def _mark_agreed(axes: Axes, pressure_bar_gauge: float) -> None:
    axes.axhline(pressure_bar_gauge, color=ALARM, linewidth=1.2, linestyle=(0, (1, 1.2)))
    axes.annotate(
        f"highest pressure agreed: {pressure_bar_gauge:g} bar",
        (0, pressure_bar_gauge),
        xytext=(6, 4),
        textcoords="offset points",
        color=ALARM,
        fontsize=8,
        bbox=_BEHIND_LABEL,
    )


def _mark_highest(axes: Axes, rate_m3_per_h: float) -> None:
    axes.axvline(rate_m3_per_h, color=ALARM, linewidth=1.2, linestyle=(0, (1, 1.2)))
    axes.annotate(
        f"highest rate agreed: {rate_m3_per_h:,.0f} m³/h",
        (rate_m3_per_h, 0),
        xytext=(-4, 5),
        textcoords="offset points",
        ha="right",
        color=ALARM,
        fontsize=8,
    )


def _mark_point(axes: Axes, rate_m3_per_h: float, pressure_bar_gauge: float) -> None:
    axes.plot(
        [rate_m3_per_h], [pressure_bar_gauge], color=INK, marker="X", markersize=9, markeredgecolor=PAPER, zorder=5
    )
    axes.annotate(
        f"{rate_m3_per_h:,.0f} m³/h at {pressure_bar_gauge:.2f} bar",
        (rate_m3_per_h, pressure_bar_gauge),
        xytext=(-10, -16),
        textcoords="offset points",
        ha="right",
        color=INK,
        fontsize=9,
        fontweight="bold",
        zorder=6,
        bbox={"boxstyle": "round,pad=0.25", "facecolor": PAPER, "edgecolor": INK, "linewidth": 0.7},
    )


def _dress(axes: Axes) -> None:
    axes.set_xlabel("Rate [m³/h]", fontsize=9)
    axes.set_ylabel("Manifold pressure [bar gauge]", fontsize=9)
    axes.tick_params(labelsize=8)
    axes.xaxis.set_major_formatter(lambda value, _: f"{value:,.0f}")
    axes.grid(visible=True)
    axes.set_axisbelow(True)
    kgf_per_bar = from_si(to_si(1.0, "bar"), "kgf/cm²")
    scales = (lambda bar: np.multiply(bar, kgf_per_bar), lambda kgf: np.divide(kgf, kgf_per_bar))
    beside = axes.secondary_yaxis("right", functions=scales)
    beside.set_ylabel("kgf/cm²", fontsize=9)
    beside.tick_params(labelsize=8)


def _svg(figure: Figure) -> bytes:
    FigureCanvasSVG(figure)
    held = io.BytesIO()
    figure.savefig(held, format="svg", metadata={"Date": None, "Creator": None})
    return held.getvalue()
