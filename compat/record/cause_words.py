"""Likely causes in words, each with the evidence for it (pure: no Django)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from compat.calc.record.causes import Cause, Trend
from shared.calc.root import Array
from shared.calc.units import BAR_PA, HOUR_S
from shared.quantities import display

Names = Sequence[tuple[str, str, str]]


def caused(
    cause: Cause, names: Names, read: Array, pumps: Sequence[str], pump_names: Mapping[str, str]
) -> dict[str, Any]:
    """Return one cause as a document: what it is, what it would mean, and what every gauge would read."""
    return {
        "kind": cause.kind,
        "said": _said(cause, names, pumps, pump_names),
        "explained_percent": round(100.0 * max(cause.explained, 0.0)),
        "evidence": [_evidence(cause, read)],
        "gauges": _gauges(cause, names, read),
    }


def _said(cause: Cause, names: Names, pumps: Sequence[str], pump_names: Mapping[str, str]) -> str:
    value = cause.estimate
    match cause.kind:
        case "shore resistance":
            said = _resistance(value)
        case "shore head":
            way = "higher" if value > 0 else "lower"
            said = f"The far end stands {abs(value):.1f} m {way} than planned: another shore tank, or another level."
        case "ship's valve":
            lost = display(value * float(cause.predicted[0]) ** 2, "m")
            said = f"A valve not open, or a filter filling, between pumps and manifold: it would take {lost} away."
        case "pump's valve":
            said = f"The discharge valve of {pump_names[pumps[cause.place]]} is not fully open."
        case "worn pump":
            said = (
                f"{pump_names[pumps[cause.place]]} would give {100 * value:.0f} % of the head on its curve: worn, gas"
                " in its suction, or its speed read wrongly."
            )
        case _:
            _, label, unit = names[cause.place]
            off = abs(value) / BAR_PA if unit == "bar" else abs(value) * HOUR_S
            said = f"A wrong gauge: “{label}” reads {display(off, unit)} too {'high' if value > 0 else 'low'}."
    return said


def _resistance(factor: float) -> str:
    if factor < 1.0:
        return f"Less resistance ashore than planned: {100 * factor:.0f} % of the head that the plan takes."
    return (
        "More resistance ashore: a filter filling, a valve not fully open or another line. Arms and line would lose"
        f" {100 * factor:.0f} % of the head that the plan takes."
    )


def _evidence(cause: Cause, read: Array) -> str:
    others = int(np.isfinite(read).sum()) - (cause.kind == "wrong gauge")
    share = f"{100 * max(cause.explained, 0.0):.0f} %"
    if cause.kind == "wrong gauge":
        return (
            f"Without this gauge the other {others} readings agree with the plan's model; {share} of the misfit goes."
        )
    return f"With it, {share} of the misfit of all {others} readings goes."


def _gauges(cause: Cause, names: Names, read: Array) -> list[dict[str, Any]]:
    found = []
    for place, (_, label, unit) in enumerate(names):
        if np.isfinite(read[place]):
            factor = BAR_PA if unit == "bar" else 1.0 / HOUR_S
            would = float(cause.predicted[place]) / factor
            found.append(
                {
                    "label": label,
                    "unit": unit,
                    "read": float(f"{read[place] / factor:.6g}"),
                    "would": float(f"{would:.6g}"),
                }
            )
    return found


def trend_words(trend: Trend) -> str:
    """Say how the resistance ashore went from reading to reading, and what that points at."""
    count, growth = trend.resistance.size, 100.0 * trend.growth_per_h
    if trend.grows:
        return (
            f"Over the last {count} readings the resistance ashore grew by {growth:.1f} % of the planned an hour: that"
            " points at a filter filling rather than at a change of tank or line."
        )
    return (
        f"Over the last {count} readings the resistance ashore did not grow steadily: that points at something changed"
        " at once, such as a tank or a valve, rather than at a filter filling."
    )
