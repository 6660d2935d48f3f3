"""The drawings of a stay (pure: no Django): rate, pressure and speed over time; tank levels; the manifold in reach."""

from __future__ import annotations

import base64
import io
from collections.abc import Mapping, Sequence
from itertools import groupby
from types import MappingProxyType

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from scipy.interpolate import PchipInterpolator

from compat.stay.parts import Series
from shared.calc.units import from_si, to_si
from shared.pictures import ALARM, INK, LAND, PAPER, SEA, PictureUnits

_HATCHES = ("", "///", "...", "\\\\\\", "xxx", "---")
_COLUMNS, _MOST_COLUMNS = 4, 6
_LEAST_SMOOTHED, _POINTS_DRAWN = 3, 400
_FILL = "#cfdde6"


def pictures_of(series: Series, units: PictureUnits, *, height_in: float = 7.2) -> list[dict[str, str]]:
    """Return the drawings of a stay as addresses that carry them, each with what it shows in words."""
    if not series.hour:
        return []
    drawn = [
        (
            stay_picture(series, title="Rate, manifold pressure and pump speed", units=units, height_in=height_in),
            "Rate, gauge pressure at the manifold and pump speed; the lowest strip names the limit that binds.",
        ),
        (levels_picture(series, title="Levels in the cargo tanks", units=units), "Level in each cargo tank."),
        (
            reach_picture(series, title="The manifold, the water and the reach of the arms", units=units),
            "Height of the ship's manifold and of the water over the berth's zero, with the reach of the arms.",
        ),
    ]
    return [{"address": data_address(picture), "words": words} for picture, words in drawn]


def data_address(picture: bytes) -> str:
    """Return an address that carries an SVG itself."""
    return "data:image/svg+xml;base64," + base64.b64encode(picture).decode("ascii")


def stay_picture(series: Series, *, title: str, units: PictureUnits, height_in: float = 7.2) -> bytes:
    """Draw rate, manifold pressure and pump speed over the hours, with the binding limit as a band that names it."""
    figure = Figure(figsize=(7.6, height_in), layout="constrained", facecolor=PAPER)
    rate, pressure, speed, strip = figure.subplots(
        4, 1, sharex=True, gridspec_kw={"height_ratios": [3.0, 2.4, 2.0, 1.1]}
    )
    curve(rate, series.hour, [shown_in(one, "m³/h", units.flow) for one in series.rate_m3_per_h], SEA, "solid")
    pressures = [shown_in(one, "bar", units.pressure) for one in series.manifold_pressure_bar_gauge]
    curve(pressure, series.hour, pressures, LAND, (0, (7, 2)))
    curve(speed, series.hour, series.speed_rpm, INK, (0, (2, 1.6)))
    for axes, name in (
        (rate, f"rate [{units.flow}]"),
        (pressure, f"manifold [{units.pressure}]"),
        (speed, "speed [rpm]"),
    ):
        dress(axes, name)
        axes.set_ylim(bottom=0)
    rate.set_title(title, loc="left", color=INK, fontsize=11, fontweight="bold")
    band(strip, series.hour, series.binding)
    strip.set_xlabel("hours after the start", color=INK)
    return as_svg(figure, title)


def levels_picture(series: Series, *, title: str, units: PictureUnits) -> bytes:
    """Draw the level in each cargo tank over the hours, each tank in a panel of its own on the same scales."""
    levels = {
        key: [shown_in(one, "m", units.length) or 0.0 for one in tank] for key, tank in series.tank_level_m.items()
    }
    return panels_picture(series.hour, levels, title=title, name=f"level [{units.length}]")


def panels_picture(
    hours: Sequence[float],
    tanks: Mapping[str, Sequence[float]],
    *,
    title: str,
    name: str,
    marks: Mapping[str, float] = MappingProxyType({}),
) -> bytes:
    """Draw what is in each tank over the hours, each in a panel of its own on the same scales; marks are dashes."""
    columns = min(len(tanks), _MOST_COLUMNS if len(tanks) > _MOST_COLUMNS**2 else _COLUMNS)
    rows = -(-len(tanks) // columns)
    figure = Figure(figsize=(7.6, 0.9 + 0.95 * max(rows, 2)), layout="constrained", facecolor=PAPER)
    panels = figure.subplots(rows, columns, sharex=True, sharey=True, squeeze=False).ravel()
    for axes, (key, tank) in zip(panels, tanks.items(), strict=False):
        axes.fill_between(hours, tank, color=_FILL, linewidth=0)
        curve(axes, hours, tank, SEA, "solid")
        if key in marks:
            axes.axhline(marks[key], color=ALARM, linewidth=1.2, linestyle=(0, (5, 2)))
        # Discharged tanks leave the upper right free, loaded ones the lower right.
        falling = tank[-1] <= tank[0]
        at, side = ((0.97, 0.9), "top") if falling else ((0.97, 0.12), "bottom")
        axes.annotate(key, at, xycoords="axes fraction", ha="right", va=side, color=INK, fontsize=9)
        axes.set_ylim(bottom=0)
        axes.set_xlim(hours[0], hours[-1])
        axes.grid(visible=True, color="#d5dee6", linewidth=0.7)
        axes.tick_params(colors=INK, labelsize=8)
    for axes in panels[len(tanks) :]:
        axes.set_visible(False)
    figure.suptitle(title, x=0.01, ha="left", color=INK, fontsize=11, fontweight="bold")
    figure.supxlabel("hours after the start", color=INK, fontsize=9)
    figure.supylabel(name, color=INK, fontsize=9)
    return as_svg(figure, title)


def reach_picture(series: Series, *, title: str, units: PictureUnits) -> bytes:
    """Draw manifold and water level over the berth's zero, between the heights that the arms reach."""
    figure = Figure(figsize=(7.6, 3.4), layout="constrained", facecolor=PAPER)
    axes = figure.add_subplot()
    manifold = [shown_in(one, "m", units.length) for one in series.manifold_elevation_m]
    water = [shown_in(one, "m", units.length) for one in series.water_level_m]
    curve(axes, *smooth(series.hour, manifold), SEA, "solid", "ship's manifold")
    curve(axes, *smooth(series.hour, water), SEA, (0, (2, 1.6)), "water level")
    reach = (
        (series.lowest_reach_m, "lowest that the arms reach"),
        (series.highest_reach_m, "highest that the arms reach"),
    )
    for height, name in reach:
        if height is not None:
            axes.axhline(
                shown_in(height, "m", units.length) or 0.0, color=ALARM, linewidth=1.6, linestyle=(0, (12, 2, 2, 2))
            )
            axes.annotate(
                name,
                (series.hour[-1], shown_in(height, "m", units.length) or 0.0),
                xytext=(-4, 4),
                textcoords="offset points",
                ha="right",
                color=ALARM,
                fontsize=8.5,
            )
    lowest, highest = (shown_in(height, "m", units.length) for height, _ in reach)
    if lowest is not None and highest is not None:
        axes.axhspan(lowest, highest, color=_FILL, alpha=0.35, linewidth=0, zorder=0)
    axes.set_xlim(series.hour[0], series.hour[-1])
    dress(axes, f"over the berth's zero [{units.length}]")
    axes.set_title(title, loc="left", color=INK, fontsize=11, fontweight="bold")
    axes.set_xlabel("hours after the start", color=INK)
    axes.legend(frameon=False, fontsize=8.5, loc="best")
    return as_svg(figure, title)


def shown_in(value: float | None, unit: str, shown: str) -> float | None:
    """Return a value in the unit that is shown, None where it is not known."""
    return None if value is None else from_si(to_si(value, unit), shown)


def curve(
    axes: Axes, hours: Sequence[float], values: Sequence[float | None], colour: str, dash: object, label: str = ""
) -> None:
    """Draw a curve; where a value is not known it has a gap."""
    known = [float("nan") if value is None else value for value in values]
    axes.plot(list(hours), known, color=colour, linewidth=2.0, linestyle=dash, label=label or None)


def smooth(hours: Sequence[float], values: Sequence[float | None]) -> tuple[Sequence[float], Sequence[float | None]]:
    """Return more points of a curve without jumps, so that it is drawn as round as it is; unknown ones as they are."""
    kept = [place for place, hour in enumerate(hours) if place == 0 or hour > hours[place - 1]]
    known = [values[place] for place in kept]
    if len(kept) < _LEAST_SMOOTHED or any(value is None for value in known):
        return hours, values
    finer = np.linspace(hours[0], hours[-1], _POINTS_DRAWN)
    return finer.tolist(), PchipInterpolator([hours[place] for place in kept], known)(finer).tolist()


def dress(axes: Axes, name: str) -> None:
    """Give axes their name and a quiet grid."""
    axes.set_ylabel(name, color=INK, fontsize=9)
    axes.grid(visible=True, color="#d5dee6", linewidth=0.7)
    axes.tick_params(colors=INK, labelsize=8.5)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)


def band(
    axes: Axes, hours: Sequence[float], binding: Sequence[str], label: str = "binds", names: list[str] | None = None
) -> list[str]:
    """Draw one bar for each stretch of time with the same limit, hatched and named; return the names in their order.

    ``names`` are those that another band has used, so that both hatch alike.
    """
    axes.set_ylim(0, 1)
    axes.set_yticks([])
    axes.set_ylabel(label, color=INK, fontsize=9)
    axes.tick_params(colors=INK, labelsize=8.5)
    whole = max(hours[-1] - hours[0], 1e-9)
    names = [] if names is None else names
    at = 0
    for name, group in groupby(binding):
        last = at + len(list(group)) - 1
        # Between two points of one stretch the change is somewhere: the bar goes on to the next point.
        begins, ends = hours[at], hours[min(last + 1, len(hours) - 1)]
        at = last + 1
        if not name or ends <= begins:
            continue
        if name not in names:
            names.append(name)
        number = names.index(name)
        axes.barh(
            0.5,
            ends - begins,
            left=begins,
            height=0.9,
            facecolor=PAPER,
            edgecolor=INK,
            hatch=_HATCHES[number % len(_HATCHES)],
            linewidth=1.0,
        )
        room = (ends - begins) / whole
        axes.annotate(
            str(number + 1) if room < 0.035 * len(name) / 3 else name,
            ((begins + ends) / 2, 0.5),
            ha="center",
            va="center",
            color=INK,
            fontsize=8,
            bbox={"boxstyle": "round,pad=0.2", "facecolor": PAPER, "edgecolor": "none"},
        )
    key = "; ".join(f"{number}: {one}" for number, one in enumerate(names, start=1))
    axes.set_title(key, loc="left", color=INK, fontsize=8)
    return names


def as_svg(figure: Figure, title: str) -> bytes:
    """Return a drawing as SVG, the same bytes each time."""
    FigureCanvasSVG(figure)
    held = io.BytesIO()
    figure.savefig(held, format="svg", metadata={"Title": title, "Date": None, "Creator": None})
    return held.getvalue()
