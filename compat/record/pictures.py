"""Rate and manifold pressure as read over time, with what was expected. Nothing is worked out here."""

from __future__ import annotations

import io
from collections.abc import Sequence
from datetime import datetime
from typing import Any, Protocol

from matplotlib import dates
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from shared.calc.units import from_si, to_si
from shared.pictures import ALARM, INK, PAPER, SEA, PictureUnits


class Read(Protocol):
    """What the picture needs of a reading."""

    @property
    def at(self) -> datetime:
        """When it was read."""

    @property
    def side(self) -> str:
        """By which side."""

    @property
    def values(self) -> Any:
        """What was read, as decimal text by key."""

    @property
    def comparison(self) -> Any:
        """What was expected, channel by channel, or None."""


_CHANNELS = (("rate_m3_per_h", "rate", "m³/h", "flow"), ("manifold_pressure_bar_gauge", "manifold", "bar", "pressure"))
_MARKS = {"ship": "o", "terminal": "s"}


def record_picture(readings: Sequence[Read], *, title: str, units: PictureUnits) -> bytes:
    """Draw what ship and terminal read with the range in which it may lie; a drift is crossed out. Return SVG bytes."""
    figure = Figure(figsize=(7.6, 5.0), layout="constrained", facecolor=PAPER)
    both = figure.subplots(2, 1, sharex=True)
    for axes, (key, name, unit, quantity) in zip(both, _CHANNELS, strict=True):
        shown = getattr(units, quantity)
        _draw(axes, readings, key, unit, shown)
        axes.set_ylabel(f"{name} [{shown}]", color=INK, fontsize=9)
        axes.grid(visible=True, color="#d5dee6", linewidth=0.7)
        axes.tick_params(colors=INK, labelsize=8.5)
        axes.set_ylim(bottom=0)
        for side in ("top", "right"):
            axes.spines[side].set_visible(False)
    both[1].xaxis_date()
    both[0].set_title(title, loc="left", color=INK, fontsize=11, fontweight="bold")
    both[1].xaxis.set_major_locator(dates.AutoDateLocator(maxticks=7))  # type: ignore[no-untyped-call]
    both[1].xaxis.set_major_formatter(dates.DateFormatter("%d %b\n%H:%M"))  # type: ignore[no-untyped-call]
    both[1].set_xlabel("time (UTC)", color=INK, fontsize=9)
    handles, labels = both[0].get_legend_handles_labels()
    if handles:
        both[0].legend(handles, labels, frameon=False, fontsize=8.5, ncols=4, loc="lower right")
    return _svg(figure, title)


def _draw(axes: Axes, readings: Sequence[Read], key: str, unit: str, shown: str) -> None:
    def seen(value: float) -> float:
        return from_si(to_si(value, unit), shown)

    band = [(one.at, channel) for one in readings if (channel := _channel(one, key)) is not None]
    if band:
        times = _on_axis([at for at, _ in band])
        low, high = ([seen(channel[end]) for _, channel in band] for end in ("low", "high"))
        axes.fill_between(times, low, high, color="#dcebf0", linewidth=0, label="range expected")
        expected = [seen(channel["expected"]) for _, channel in band]
        axes.plot(times, expected, color=SEA, linewidth=1.4, linestyle=(0, (6, 2)), label="expected")
    for side, mark in _MARKS.items():
        points = [(one, float(one.values[key])) for one in readings if one.side == side and key in one.values]
        if points:
            axes.plot(
                _on_axis([one.at for one, _ in points]),
                [seen(value) for _, value in points],
                color=INK,
                linestyle="none",
                marker=mark,
                markersize=4.5,
                markerfacecolor=PAPER,
                label=f"read by the {side}",
            )
        wrong = [(one.at, seen(value)) for one, value in points if (_channel(one, key) or {}).get("drifted")]
        if wrong:
            drifted, values = [at for at, _ in wrong], [value for _, value in wrong]
            axes.plot(_on_axis(drifted), values, color=ALARM, linestyle="none", marker="x", markersize=9)


def _on_axis(times: Sequence[datetime]) -> list[float]:
    return [float(number) for number in dates.date2num(list(times))]  # type: ignore[no-untyped-call]


def _channel(reading: Read, key: str) -> dict[str, Any] | None:
    for one in (reading.comparison or {}).get("channels", []):
        if one["key"] == key:
            found: dict[str, Any] = one
            return found
    return None


def _svg(figure: Figure, title: str) -> bytes:
    FigureCanvasSVG(figure)
    held = io.BytesIO()
    figure.savefig(held, format="svg", metadata={"Title": title, "Date": None, "Creator": None})
    return held.getvalue()
