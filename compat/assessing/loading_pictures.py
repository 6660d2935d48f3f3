"""The drawings of a loading (pure: no Django): the rate with what binds, and what is in each tank."""

from __future__ import annotations

from matplotlib.figure import Figure

from compat.assessing.stay_pictures import as_svg, band, curve, dress, panels_picture, shown_in
from compat.stay.loading import LoadingAnswer
from shared.calc.units import HOUR_S
from shared.pictures import INK, PAPER, SEA, PictureUnits

_RATE = "Loading rate, and what binds"
_TANKS = "Volume in the tanks, and their stops"


def loading_rate_picture(answer: LoadingAnswer, *, units: PictureUnits) -> bytes:
    """Draw the rate over the hours with a band of what binds."""
    figure = Figure(figsize=(7.6, 3.6), layout="constrained", facecolor=PAPER)
    rate, strip = figure.subplots(2, 1, sharex=True, gridspec_kw={"height_ratios": [2.6, 0.9]})
    hours, binding, flows = [], [], []
    for step in answer.steps:
        hours += [time / HOUR_S for time in step.time_s]
        flows += [flow * HOUR_S for flow in step.rate_at_m3_per_s]
        binding += [step.binding] * len(step.time_s)
    curve(rate, hours, [shown_in(one, "m³/h", units.flow) for one in flows], SEA, "solid")
    dress(rate, f"rate [{units.flow}]")
    rate.set_ylim(bottom=0)
    rate.set_title(_RATE, loc="left", color=INK, fontsize=11, fontweight="bold")
    band(strip, hours, binding)
    strip.set_xlabel("hours after the start", color=INK)
    return as_svg(figure, _RATE)


def loading_tanks_picture(answer: LoadingAnswer) -> bytes:
    """Draw the volume in each tank over the hours, with its stop as a dashed line."""
    hours = [0.0, *(step.ends_s / HOUR_S for step in answer.steps)]
    begun = answer.hourly[0].tanks_m3
    tanks = {
        key: [begun[place], *(begun[place] + step.held_m3[place] for step in answer.steps)]
        for place, key in enumerate(answer.tanks)
    }
    stops = dict(zip(answer.tanks, answer.stops_m3, strict=True))
    return panels_picture(hours, tanks, title=_TANKS, name="in the tank [m³]", marks=stops)
