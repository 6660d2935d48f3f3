"""The two drawings of an assessment: pressure over rate, and elevations and pressures along the shore line."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from shared.calc.units import convert
from shared.pictures import ALARM, INK, LAND, PAPER, SEA, PictureUnits, ProfilePoint, profile_picture
from shared.quantities import figure as figure_text

DIAGRAM = "Manifold pressure over rate"
_DASHES = ("solid", (0, (7, 2)), (0, (2, 1.6)), (0, (7, 2, 1.5, 2)))
_SHORE_DASH = (0, (12, 2, 2, 2))
_BACKING: dict[str, Any] = {"boxstyle": "round,pad=0.12", "facecolor": PAPER, "edgecolor": "none", "alpha": 0.8}
_LABEL_HEIGHT = 0.93  # of the picture, so that a label on a rising line stays below the title
_LIMIT_DASH = (0, (1, 1.2))
_TWIN = {"kgf/cm²": "bar"}  # what stands on the other side of the picture: bar beside kgf/cm², kgf/cm² beside the rest


class _Scale:
    """Numbers of one axis, turned from the unit of the document into the one that is shown."""

    def __init__(self, unit: str, shown: str) -> None:
        self.shown = shown
        self.factor = float(convert(Decimal(1), unit, shown))

    def all(self, values: Sequence[Any]) -> list[float]:
        """Return numbers, or texts of numbers, in the shown unit."""
        return [float(value) * self.factor for value in values]

    def one(self, value: Any) -> float:
        """Return one number in the shown unit."""
        return float(value) * self.factor

    def text(self, value: float) -> str:
        """Write a number that is in the shown unit already."""
        return f"{figure_text(value, self.shown)} {self.shown}"


def operating_picture(diagram: Mapping[str, Any], *, title: str, units: PictureUnits | None = None) -> bytes:
    """Draw manifold pressure over rate: pumps together at several speeds, shore, operating point, limits agreed.

    ``diagram`` is a document of ``compat.case.diagram_document.diagram_document``. Returns SVG bytes.
    """
    units = units or PictureUnits()
    rate, pressure = _Scale("m³/h", units.flow), _Scale("bar", units.pressure)
    figure = Figure(figsize=(7.6, 4.7), layout="constrained", facecolor=PAPER)
    axes = figure.add_subplot()
    point = rate.all(diagram["point"]["flow_m3_per_h"])[0], pressure.all(diagram["point"]["pressure_bar_gauge"])[0]
    _dress(axes, title, rate, pressure)
    _frame(axes, diagram, point, rate, pressure)
    for number, line in enumerate(diagram["pumps"]):
        flows, pressures = rate.all(line["flow_m3_per_h"]), pressure.all(line["pressure_bar_gauge"])
        _line(axes, flows, pressures, _speed_label(line), SEA, _DASHES[number % len(_DASHES)])
    shore = diagram["shore"]
    flows, pressures = rate.all(shore["flow_m3_per_h"]), pressure.all(shore["pressure_bar_gauge"])
    _line(axes, flows, pressures, "shore asks", LAND, _SHORE_DASH, rising=True)
    _limits(axes, diagram, rate, pressure)
    _point(axes, point, f"{rate.text(point[0])} at {pressure.text(point[1])}")
    return _svg(figure, title)


def line_picture(profile: Sequence[Mapping[str, Any]], *, title: str, units: PictureUnits | None = None) -> bytes:
    """Draw the shore line with the hydraulic grade line over it and each run's rating; return SVG bytes."""
    points = [
        ProfilePoint(
            name=point["name"] or f"Run {number}",
            distance_m=point["distance_m"],
            elevation_m=point["elevation_m"],
            head_m=point["head_m"],
            pressure_bar_gauge=point["pressure_bar_gauge"],
            rating_bar_gauge=point["rating_bar_gauge"],
        )
        for number, point in enumerate(profile, start=-1)
    ]
    return profile_picture(points, title, units=units)


def profile_drawn(answer: Mapping[str, Any], units: PictureUnits) -> bytes:
    """Draw the shore line of an answer document."""
    return line_picture(answer["profile"], title="From the manifold to the end of the shore line", units=units)


def _speed_label(line: Mapping[str, Any]) -> str:
    if line.get("speed_rpm") is not None:
        return f"{figure_text(float(line['speed_rpm']), 'rpm')} rpm"
    fraction = float(line["speed_fraction"])
    return "pumps at this speed" if fraction == 1 else f"at {fraction:.0%} of it"


def _frame(axes: Axes, diagram: Mapping[str, Any], point: tuple[float, float], rate: _Scale, pressure: _Scale) -> None:
    shut_off = max(max(pressure.all(line["pressure_bar_gauge"])) for line in diagram["pumps"])
    agreed = pressure.one(diagram["agreed_pressure_bar_gauge"] or 0)
    highest = rate.one(diagram["highest_rate_m3_per_h"] or 0)
    axes.set_xlim(0, 1.3 * max(point[0], highest, rate.one(1)))
    axes.set_ylim(0, 1.12 * max(point[1], agreed, min(shut_off, 2.2 * max(point[1], agreed)), pressure.one(0.1)))


def _line(
    axes: Axes,
    flows: Sequence[float],
    pressures: Sequence[float],
    label: str,
    colour: str,
    dash: Any,
    *,
    rising: bool = False,
) -> None:
    axes.plot(flows, pressures, color=colour, linewidth=2.5 if rising else 1.9, linestyle=dash)
    right, top = axes.get_xlim()[1], axes.get_ylim()[1] * (_LABEL_HEIGHT if rising else 1.0)
    inside = [at for at in zip(flows, pressures, strict=True) if at[0] <= right and 0 <= at[1] <= top]
    if not inside:
        return
    axes.annotate(
        label,
        inside[-1],
        xytext=(-6, 4) if rising else (-2, -6),
        textcoords="offset points",
        ha="right",
        va="bottom" if rising else "top",
        color=colour,
        fontsize=9,
        bbox=_BACKING,
    )


def _limits(axes: Axes, diagram: Mapping[str, Any], rate: _Scale, pressure: _Scale) -> None:
    style: dict[str, Any] = {"color": ALARM, "linewidth": 1.3, "linestyle": _LIMIT_DASH}
    note: dict[str, Any] = {"textcoords": "offset points", "color": ALARM, "fontsize": 9, "zorder": 4, "bbox": _BACKING}
    if diagram["agreed_pressure_bar_gauge"] is not None:
        agreed = pressure.one(diagram["agreed_pressure_bar_gauge"])
        axes.axhline(agreed, **style)
        axes.annotate(f"agreed: {pressure.text(agreed)}", (0, agreed), xytext=(6, 4), **note)
    if diagram["highest_rate_m3_per_h"] is not None:
        highest = rate.one(diagram["highest_rate_m3_per_h"])
        axes.axvline(highest, **style)
        axes.annotate(f"highest rate: {rate.text(highest)}", (highest, 0), xytext=(4, 5), **note)


def _point(axes: Axes, point: tuple[float, float], label: str) -> None:
    axes.plot(*[[value] for value in point], color=INK, marker="X", markersize=10, markeredgecolor=PAPER, zorder=5)
    axes.annotate(
        label,
        point,
        xytext=(-12, -18),
        textcoords="offset points",
        ha="right",
        color=INK,
        fontsize=9.5,
        fontweight="bold",
        zorder=6,
        bbox={"boxstyle": "round,pad=0.25", "facecolor": PAPER, "edgecolor": INK, "linewidth": 0.7},
    )


def _dress(axes: Axes, title: str, rate: _Scale, pressure: _Scale) -> None:
    axes.set_title(title, loc="left", color=INK, fontsize=11, fontweight="bold")
    axes.set_xlabel(f"Rate [{rate.shown}]")
    axes.set_ylabel(f"Manifold pressure [{pressure.shown} gauge]")
    axes.xaxis.set_major_formatter(lambda value, _: f"{value:,.0f}")
    axes.grid(visible=True)
    axes.set_axisbelow(True)
    twin = _TWIN.get(pressure.shown, "kgf/cm²")
    factor = float(convert(Decimal(1), pressure.shown, twin))
    there_and_back: Any = (lambda value: value * factor, lambda value: value / factor)
    beside = axes.secondary_yaxis("right", functions=there_and_back)
    beside.set_ylabel(f"[{twin} gauge]")


def _svg(figure: Figure, title: str) -> bytes:
    FigureCanvasSVG(figure)
    held = io.BytesIO()
    figure.savefig(held, format="svg", metadata={"Title": title, "Date": None, "Creator": None})
    return held.getvalue()
