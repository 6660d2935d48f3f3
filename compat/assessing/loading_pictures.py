"""The drawing of a loading (pure: no Django): the rate with what binds, and what each tank has taken."""

from __future__ import annotations

from itertools import pairwise

from matplotlib.figure import Figure

from compat.assessing.stay_pictures import as_svg, band, curve, dress, shown_in
from compat.stay.loading import LoadingAnswer
from shared.calc.units import HOUR_S
from shared.pictures import INK, LAND, PAPER, SEA, PictureUnits

_TITLE = "Loading rate and what the tanks have taken"
_MARKS = ("o", "s", "^", "D", "v", "P", "X", "<", ">", "*")
_DASHES = ("solid", (0, (5, 2)), (0, (2, 1.6)), (0, (7, 2, 1.5, 2)))


def loading_picture(answer: LoadingAnswer, *, units: PictureUnits) -> bytes:
    """Draw the rate as steps with a band of what binds, and the volume taken by each tank."""
    figure = Figure(figsize=(7.6, 6.2), layout="constrained", facecolor=PAPER)
    rate, strip, tanks = figure.subplots(3, 1, sharex=True, gridspec_kw={"height_ratios": [2.6, 0.9, 3.4]})
    hours, binding, flows = [], [], []
    for step in answer.steps:
        hours += [time / HOUR_S for time in step.time_s]
        flows += [rate * HOUR_S for rate in step.rate_at_m3_per_s]
        binding += [step.binding] * len(step.time_s)
    curve(rate, hours, [shown_in(one, "m³/h", units.flow) for one in flows], SEA, "solid")
    dress(rate, f"rate [{units.flow}]")
    rate.set_ylim(bottom=0)
    rate.set_title(_TITLE, loc="left", color=INK, fontsize=11, fontweight="bold")
    band(strip, hours, binding)
    ends = [0.0, *(step.ends_s / HOUR_S for step in answer.steps)]
    for number, key in enumerate(answer.tanks):
        taken = [0.0, *(step.held_m3[number] for step in answer.steps)]
        colour, dash = (SEA, LAND)[number % 2], _DASHES[number % len(_DASHES)]
        curve(tanks, ends, taken, colour, dash, key)
        full = next(at for at, (one, other) in enumerate(pairwise([*taken, taken[-1]])) if one == other == taken[-1])
        tanks.plot([ends[full]], [taken[full]], color=colour, marker=_MARKS[number % len(_MARKS)])
    dress(tanks, "taken [m³]")
    tanks.set_ylim(bottom=0)
    tanks.set_xlabel("hours after the start", color=INK)
    if len(answer.tanks) <= 16:
        tanks.legend(frameon=False, fontsize=8.5, ncols=4, handlelength=3.5)
    return as_svg(figure, _TITLE)
