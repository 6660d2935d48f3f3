"""Drawings as SVG: heads over flow, elevations and pressures along a line; no working out (pure: no Django).

Lines are told apart by dash, mark and a label that stands on them, so that a black-and-white print says the same.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from itertools import pairwise

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from shared.calc.units import convert

# Set once for the process: a temporary change of these would not be safe between threads.
mpl.rcParams.update(
    {
        "svg.fonttype": "none",  # text stays text: searchable, and read aloud
        "svg.hashsalt": "berth-accord",
        "font.family": "DejaVu Sans",
        "font.size": 10,
        "text.parse_math": False,  # a name may hold a dollar sign
        "axes.spines.top": False,
        "axes.spines.right": False,
        "axes.edgecolor": "#33485c",
        "axes.labelcolor": "#14283a",
        "xtick.color": "#33485c",
        "ytick.color": "#33485c",
        "grid.color": "#c9d4dd",
        "grid.linewidth": 0.6,
    }
)

INK = "#14283a"
SEA = "#0b5c86"
LAND = "#8a5a1f"
ALARM = "#9c1c1c"
PAPER = "#ffffff"
_DASHES = ("solid", (0, (6, 2)), (0, (2, 1.5)), (0, (6, 2, 1.5, 2)), (0, (10, 3)), (0, (1, 2)))
_MARKS = ("o", "s", "^", "D", "v", "P")
_MOST_NAMES = 9
_LONGEST_NAME = 24


@dataclass(frozen=True)
class PictureUnits:
    """Units on the axes; numbers are given in m³/h, m and bar and drawn in these."""

    flow: str = "m³/h"
    length: str = "m"
    pressure: str = "bar"


@dataclass(frozen=True)
class HeadCurve:
    """Head [m] over flow [m³/h]: a line, with marks at the points that were tested.

    A ``worked_out`` line (scaled to a speed that was not tested, say) is drawn thinner.
    """

    label: str
    flow_m3_per_h: Sequence[float]
    head_m: Sequence[float]
    tested_flow_m3_per_h: Sequence[float] = field(default=())
    tested_head_m: Sequence[float] = field(default=())
    worked_out: bool = False


@dataclass(frozen=True)
class OperatingPoint:
    """A point at which pump and line agree."""

    label: str
    flow_m3_per_h: float
    head_m: float


@dataclass(frozen=True)
class ProfilePoint:
    """One point along a line; ``rating_bar_gauge`` is that of the run that ends here."""

    name: str
    distance_m: float
    elevation_m: float
    head_m: float | None = None
    pressure_bar_gauge: float | None = None
    rating_bar_gauge: float | None = None


def hq_picture(
    curves: Sequence[HeadCurve],
    system_curve: HeadCurve | None = None,
    operating_points: Sequence[OperatingPoint] = (),
    *,
    title: str,
    units: PictureUnits | None = None,
) -> bytes:
    """Draw head over flow for each curve, with the shore's curve and the operating points; return SVG bytes."""
    units = units or PictureUnits()
    figure, axes = _sheet(title, f"Flow [{units.flow}]", f"Head [{units.length} of the liquid]", (6.6, 4.2))
    for number, curve in enumerate(curves):
        _draw_curve(axes, curve, number, units)
    if system_curve is not None:
        _draw_system(axes, system_curve, units)
    for point in operating_points:
        _draw_operating_point(axes, point, units)
    axes.set_xlim(left=0)
    axes.set_ylim(bottom=0, top=axes.get_ylim()[1] * 1.06)
    axes.margins(x=0.14)
    axes.set_xlim(right=axes.dataLim.x1 * 1.18 if axes.dataLim.x1 > 0 else 1)
    return _svg(figure, title)


def profile_picture(
    points: Sequence[ProfilePoint],
    title: str,
    *,
    levels: Sequence[tuple[str, float]] = (),
    units: PictureUnits | None = None,
) -> bytes:
    """Draw elevations along a line, its hydraulic grade line where heads are known, and ratings; return SVG bytes.

    ``levels`` are name and elevation [m] of the liquid surfaces at the end of the line.
    """
    units = units or PictureUnits()
    across, upward = f"Distance along the line [{units.length}]", f"Elevation [{units.length}]"
    figure, axes = _sheet(title, across, upward, (10.0, 4.2))
    along = [_in(point.distance_m, "m", units.length) for point in points]
    heights = [_in(point.elevation_m, "m", units.length) for point in points]
    axes.plot(along, heights, color=LAND, linewidth=2.6, marker="o", markersize=4.5, zorder=3)
    _draw_grade_line(axes, points, along, units)
    for level in levels:
        _draw_level(axes, level, along[-1], heights[-1], units)
    low, high = axes.dataLim.y0, axes.dataLim.y1
    room = max(high - low, 1.0)
    axes.set_ylim(low - 0.34 * room, high + 0.22 * room)
    axes.margins(x=0.06)
    _write_names(axes, points, along, heights)
    _write_ratings(axes, points, along, heights, units)
    return _svg(figure, title)


def _in(value: float, unit: str, shown_unit: str) -> float:
    return value if unit == shown_unit else float(convert(Decimal(str(value)), unit, shown_unit))


def _all_in(values: Sequence[float], unit: str, shown_unit: str) -> list[float]:
    return [_in(value, unit, shown_unit) for value in values]


def _sheet(title: str, across: str, upward: str, size_in: tuple[float, float]) -> tuple[Figure, Axes]:
    figure = Figure(figsize=size_in, layout="constrained", facecolor=PAPER)
    axes = figure.add_subplot()
    axes.set_title(title, loc="left", color=INK, fontsize=11, fontweight="bold")
    axes.set_xlabel(across)
    axes.set_ylabel(upward)
    axes.grid(True)
    axes.set_axisbelow(True)
    return figure, axes


def _draw_curve(axes: Axes, curve: HeadCurve, number: int, units: PictureUnits) -> None:
    flows = _all_in(curve.flow_m3_per_h, "m³/h", units.flow)
    heads = _all_in(curve.head_m, "m", units.length)
    width = 1.3 if curve.worked_out else 2.0
    axes.plot(flows, heads, color=SEA, linewidth=width, linestyle=_DASHES[number % len(_DASHES)])
    if curve.tested_flow_m3_per_h:
        axes.plot(
            _all_in(curve.tested_flow_m3_per_h, "m³/h", units.flow),
            _all_in(curve.tested_head_m, "m", units.length),
            color=SEA,
            linestyle="none",
            marker=_MARKS[number % len(_MARKS)],
            markersize=5.5,
            markerfacecolor=PAPER,
        )
    _label_end(axes, curve.label, flows[-1], heads[-1], SEA)


def _label_end(axes: Axes, text: str, across: float, upward: float, colour: str) -> None:
    axes.annotate(
        text,
        (across, upward),
        xytext=(6, 0),
        textcoords="offset points",
        va="center",
        color=colour,
        fontsize=9,
        annotation_clip=False,
    )


def _draw_system(axes: Axes, curve: HeadCurve, units: PictureUnits) -> None:
    flows = _all_in(curve.flow_m3_per_h, "m³/h", units.flow)
    heads = _all_in(curve.head_m, "m", units.length)
    axes.plot(flows, heads, color=LAND, linewidth=2.4, linestyle=(0, (12, 2, 2, 2)))
    _label_end(axes, curve.label, flows[-1], heads[-1], LAND)


def _draw_operating_point(axes: Axes, point: OperatingPoint, units: PictureUnits) -> None:
    across, upward = _in(point.flow_m3_per_h, "m³/h", units.flow), _in(point.head_m, "m", units.length)
    axes.plot([across], [upward], color=ALARM, marker="X", markersize=10, markeredgecolor=PAPER, zorder=5)
    axes.annotate(
        point.label,
        (across, upward),
        xytext=(0, 14),
        textcoords="offset points",
        ha="center",
        color=ALARM,
        fontsize=9,
        fontweight="bold",
        zorder=6,
        bbox={"boxstyle": "round,pad=0.25", "facecolor": PAPER, "edgecolor": ALARM, "linewidth": 0.8},
    )


def _draw_grade_line(axes: Axes, points: Sequence[ProfilePoint], along: list[float], units: PictureUnits) -> None:
    known = [
        (where, _in(point.head_m, "m", units.length))
        for where, point in zip(along, points, strict=True)
        if point.head_m is not None
    ]
    if len(known) < 2:
        return
    axes.plot(*zip(*known, strict=True), color=SEA, linewidth=2, linestyle=(0, (6, 2)), marker="s", markersize=4)
    where, height = _middle_of_longest(known)
    axes.annotate(
        "hydraulic grade line",
        (where, height),
        xytext=(0, -11),
        textcoords="offset points",
        ha="right",
        va="top",
        color=SEA,
        fontsize=9,
    )
    _write_pressures(axes, points, along, units)


def _middle_of_longest(known: Sequence[tuple[float, float]]) -> tuple[float, float]:
    (start, high), (end, low) = max(pairwise(known), key=lambda run: run[1][0] - run[0][0])
    return (start + end) / 2, (high + low) / 2


def _write_pressures(axes: Axes, points: Sequence[ProfilePoint], along: list[float], units: PictureUnits) -> None:
    for place in _named_places(along):
        point = points[place]
        if point.pressure_bar_gauge is None or point.head_m is None:
            continue
        pressure = _in(point.pressure_bar_gauge, "bar", units.pressure)
        axes.annotate(
            f"{pressure:,.3g} {units.pressure}",
            (along[place], _in(point.head_m, "m", units.length)),
            xytext=(0, 6),
            textcoords="offset points",
            ha="left" if place == 0 else "center",
            color=SEA,
            fontsize=8.5,
        )


def _draw_level(axes: Axes, level: tuple[str, float], where: float, pipe_end: float, units: PictureUnits) -> None:
    """Draw the surface as drawings on board and ashore do, with a triangle standing on it."""
    name, height = level[0], _in(level[1], "m", units.length)
    axes.plot([where, where], [pipe_end, height], color=SEA, linewidth=1, linestyle=(0, (1, 2)))
    axes.plot([where], [height], color=SEA, marker="v", markersize=9, linestyle="none")
    axes.annotate(
        f"{name}, {height:,.4g} {units.length}",
        (where, height),
        xytext=(-8, 4),
        textcoords="offset points",
        ha="right",
        color=SEA,
        fontsize=9,
    )


def _named_places(along: list[float]) -> list[int]:
    """Return which points are named: ends always, of those between only what does not stand on its neighbours."""
    room = max(along[-1] - along[0], 1e-9) / _MOST_NAMES
    named = [0]
    for place in range(1, len(along) - 1):
        if along[place] - along[named[-1]] >= room and along[-1] - along[place] >= room:
            named.append(place)
    return [*named, len(along) - 1] if len(along) > 1 else named


def _write_names(axes: Axes, points: Sequence[ProfilePoint], along: list[float], heights: list[float]) -> None:
    """Name the points below the line, in two rows by turns."""
    for turn, place in enumerate(_named_places(along)):
        axes.annotate(
            shortened(points[place].name),
            (along[place], heights[place]),
            xytext=(0, -10 - 13 * (turn % 2)),
            textcoords="offset points",
            ha=_side(place, along),
            va="top",
            color=INK,
            fontsize=8.5,
        )


def _side(place: int, along: list[float]) -> str:
    """Return how a text over a point is set, so that the first and the last stay inside the drawing."""
    return "left" if place == 0 else "right" if place == len(along) - 1 else "center"


def shortened(name: str, longest: int = _LONGEST_NAME) -> str:
    """Cut a name that would run into its neighbours."""
    return name if len(name) <= longest else name[: longest - 1] + "…"


def _write_ratings(
    axes: Axes, points: Sequence[ProfilePoint], along: list[float], heights: list[float], units: PictureUnits
) -> None:
    span = max(along[-1] - along[0], 1e-9)
    places = list(zip(along, heights, strict=True))
    for point, ((start, low), (end, high)) in zip(points[1:], pairwise(places), strict=True):
        if point.rating_bar_gauge is None or end - start < span / _MOST_NAMES:
            continue
        rating = _in(point.rating_bar_gauge, "bar", units.pressure)
        axes.annotate(
            f"rated {rating:,.4g} {units.pressure}",
            ((start + end) / 2, (low + high) / 2),
            xytext=(0, 9),
            textcoords="offset points",
            ha="center",
            color=INK,
            fontsize=8.5,
            bbox={"boxstyle": "round,pad=0.2", "facecolor": PAPER, "edgecolor": "none", "alpha": 0.8},
        )


def _svg(figure: Figure, title: str) -> bytes:
    FigureCanvasSVG(figure)
    held = io.BytesIO()
    figure.savefig(held, format="svg", metadata={"Title": title, "Date": None, "Creator": None})
    return held.getvalue()
