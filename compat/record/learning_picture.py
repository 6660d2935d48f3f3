"""What a fit leaves unexplained, reading by reading, in standard deviations. Nothing is worked out here."""

from __future__ import annotations

import io

import numpy as np
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from compat.calc.record.fit import Fit
from shared.pictures import ALARM, INK, LAND, PAPER, SEA

_NAMES = ("rate", "manifold pressure")
_MARKS = ("o", "s")


def residual_picture(fit: Fit, group: np.ndarray) -> bytes:
    """Draw residuals of rate and manifold pressure in the order of the readings, records parted; return SVG bytes."""
    figure = Figure(figsize=(7.6, 3.4), layout="constrained", facecolor=PAPER)
    axes = figure.add_subplot()
    number = np.arange(1, fit.residual.shape[0] + 1)
    axes.axhspan(-2, 2, color="#dcebf0", linewidth=0, label="two standard deviations")
    for channel, (name, mark) in enumerate(zip(_NAMES, _MARKS, strict=True)):
        values = fit.residual[:, channel]
        colour = SEA if channel == 0 else LAND
        axes.plot(
            number, values, color=colour, linestyle="none", marker=mark, markersize=5, markerfacecolor=PAPER, label=name
        )
        wild = np.abs(values) > 3
        axes.plot(number[wild], values[wild], color=ALARM, linestyle="none", marker="x", markersize=9)
    for edge in np.flatnonzero(np.diff(group)):
        axes.axvline(float(edge) + 1.5, color=INK, linewidth=0.8, linestyle=(0, (2, 2)))
    axes.set_xlabel("reading", color=INK, fontsize=9)
    axes.set_ylabel("read over fitted [standard deviations]", color=INK, fontsize=9)
    axes.grid(visible=True, color="#d5dee6", linewidth=0.7)
    axes.legend(frameon=False, fontsize=8.5, ncols=3, loc="upper left")
    reach = max(4.0, float(np.abs(fit.residual[:, :2]).max()) * 1.3)
    axes.set_ylim(-reach, reach)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    FigureCanvasSVG(figure)
    held = io.BytesIO()
    title = "What the fit leaves unexplained"
    figure.savefig(held, format="svg", metadata={"Title": title, "Date": None, "Creator": None})
    return held.getvalue()
