"""Two plans of a stay in one drawing (pure: no Django): rate, pressure and volume ashore, and what binds in each."""

from __future__ import annotations

from matplotlib.figure import Figure

from compat.assessing.stay_pictures import as_svg, band, curve, dress, shown_in
from compat.stay.parts import Series
from shared.pictures import INK, LAND, PAPER, SEA, PictureUnits

_FIRST, _SECOND = "solid", (0, (5, 2))


def beside_picture(first: Series, second: Series, *, names: tuple[str, str], title: str, units: PictureUnits) -> bytes:
    """Draw the first plan in full lines and the second in dashes, with one band of limits for each."""
    figure = Figure(figsize=(7.6, 7.6), layout="constrained", facecolor=PAPER)
    rate, pressure, ashore, upper, lower = figure.subplots(
        5, 1, sharex=True, gridspec_kw={"height_ratios": [3.0, 2.4, 2.2, 0.9, 0.9]}
    )
    for series, name, colour, dash in ((first, names[0], SEA, _FIRST), (second, names[1], LAND, _SECOND)):
        flows = [shown_in(one, "m³/h", units.flow) for one in series.rate_m3_per_h]
        curve(rate, series.hour, flows, colour, dash, name)
        gauge = [shown_in(one, "bar", units.pressure) for one in series.manifold_pressure_bar_gauge]
        curve(pressure, series.hour, gauge, colour, dash)
        curve(ashore, series.hour, [one / 1000.0 for one in series.ashore_m3], colour, dash)
    for axes, name in (
        (rate, f"rate [{units.flow}]"),
        (pressure, f"manifold [{units.pressure}]"),
        (ashore, "ashore [1,000 m³]"),
    ):
        dress(axes, name)
        axes.set_ylim(bottom=0)
    rate.legend(frameon=False, fontsize=8.5, loc="best", handlelength=3.5)
    rate.set_title(title, loc="left", color=INK, fontsize=11, fontweight="bold")
    used = band(upper, first.hour, first.binding, names[0])
    band(lower, second.hour, second.binding, names[1], used)
    lower.set_title("", loc="left")
    for axes in (upper, lower):
        axes.yaxis.label.set(rotation=0, ha="right", va="center", fontsize=8, wrap=True)
    upper.set_title("; ".join(f"{number}: {name}" for number, name in enumerate(used, start=1)), loc="left", fontsize=8)
    lower.set_xlabel("hours after the start", color=INK)
    return as_svg(figure, title)
