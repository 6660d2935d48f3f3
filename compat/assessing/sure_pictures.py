"""The drawing of how sure a rate is: the chance of making at least a rate, and how often each limit sets it."""

from __future__ import annotations

import io
import textwrap
from collections.abc import Sequence
from decimal import Decimal

from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from compat.case.sampling import Spread
from shared.calc.units import convert
from shared.pictures import ALARM, INK, LAND, PAPER, SEA, PictureUnits
from shared.quantities import figure as figure_text

_MOST_BARS, _LEAST_ROWS = 7, 4
_LONGEST_LABEL = 34


def sure_picture(
    spread: Spread, chances: Sequence[tuple[str, float]], rate: float, title: str, units: PictureUnits
) -> bytes:
    """Draw the chance of at least a rate, with the stored answer's ``rate`` in m³/h, and bars of chances; SVG bytes.

    ``chances`` are names of limits with the share of samples in which each binds, the most first.
    """
    factor = float(convert(Decimal(1), "m³/h", units.flow))
    figure = Figure(figsize=(10.0, 4.4), layout="constrained", facecolor=PAPER)
    left, right = figure.subplots(1, 2, gridspec_kw={"width_ratios": [3, 2]})
    _curve(left, [value * factor for value in spread.percentiles_m3_per_h], rate * factor, title, units.flow)
    _bars(right, chances)
    FigureCanvasSVG(figure)
    held = io.BytesIO()
    figure.savefig(held, format="svg", metadata={"Title": title, "Date": None, "Creator": None})
    return held.getvalue()


def _curve(axes: Axes, rates: Sequence[float], stated: float, title: str, unit: str) -> None:
    chance = [100 - place for place in range(len(rates))]
    axes.plot(rates, chance, color=SEA, linewidth=2.2)
    axes.axvline(stated, color=LAND, linewidth=1.4, linestyle=(0, (6, 2)))
    axes.annotate(
        "without tolerances",
        (stated, 103),
        xytext=(4, 0),
        textcoords="offset points",
        va="top",
        color=LAND,
        fontsize=9,
        bbox={"boxstyle": "round,pad=0.1", "facecolor": PAPER, "edgecolor": "none", "alpha": 0.85},
    )
    for place in (10, 50, 90):
        axes.plot([rates[place]], [chance[place]], color=INK, marker="o", markersize=7, markeredgecolor=PAPER, zorder=5)
        axes.annotate(
            f"P{place}: {figure_text(rates[place], unit)}",
            (rates[place], chance[place]),
            xytext=(8, 4),
            textcoords="offset points",
            color=INK,
            fontsize=9,
            fontweight="bold",
            zorder=6,
            bbox={"boxstyle": "round,pad=0.12", "facecolor": PAPER, "edgecolor": "none", "alpha": 0.85},
        )
    span = max(rates[-1] - rates[0], 0.02 * rates[-1], 1.0)
    axes.set_xlim(max(rates[0] - 0.05 * span, 0.0), rates[-1] + 0.22 * span)
    axes.set_ylim(0, 104)
    axes.set_title(title, loc="left", color=INK, fontsize=11, fontweight="bold")
    axes.set_xlabel(f"Rate [{unit}]")
    axes.set_ylabel("Chance of at least this rate [%]")
    axes.xaxis.set_major_formatter(lambda value, _: f"{value:,.0f}")
    axes.grid(visible=True)
    axes.set_axisbelow(True)


def _bars(axes: Axes, chances: Sequence[tuple[str, float]]) -> None:
    shown = list(chances[:_MOST_BARS])[::-1]
    places = range(len(shown))
    colours = [ALARM if place == len(shown) - 1 else SEA for place in places]
    axes.barh(places, [100 * share for _, share in shown], height=0.4, color=colours)
    for place, (name, share) in zip(places, shown, strict=True):
        axes.annotate(
            f"{textwrap.shorten(name, _LONGEST_LABEL, placeholder='…')}: {_percent(share)}",
            (0, place + 0.2),
            xytext=(2, 1),
            textcoords="offset points",
            color=INK,
            fontsize=9,
        )
    axes.set_yticks([])
    axes.set_ylim(len(shown) - 0.3 - max(len(shown), _LEAST_ROWS), len(shown) - 0.3)
    axes.set_xlim(0, 100)
    axes.set_title("What sets the rate", loc="left", color=INK, fontsize=11, fontweight="bold")
    axes.set_xlabel("Chance of binding [%]")


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %" if share >= 0.01 else "below 1 %"
