"""One reading beside the plan, as a document that is kept with it (pure: no Django).

What is worked out here is worked out once, when the reading comes in, so that a page of two hundred readings opens at
once and shows what both sides saw at the time.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from compat.calc.record.causes import likely_causes, resistance_trend
from compat.calc.record.comparison import SURE, Compared, compare, flow_from_head
from compat.case.case_file import CaseFile
from compat.record.arrangement import Arrangement
from compat.record.cause_words import caused, trend_words
from compat.record.moments import GAS, Moment, Rows, rows_of
from compat.record.readings import DISCHARGED, MANIFOLD, OXYGEN, RATE, RECEIVED, number_of
from shared.calc.arrays import take
from shared.calc.units import BAR_PA, HOUR_S

Document = dict[str, Any]
MOST_OXYGEN_PERCENT = 5.0  # in the inert gas main: SOLAS II-2 as in the checklist item watch.inert-gas
LEAST_GAS_BAR = 0.00980665  # 100 mm of water: 46 CFR 32.53-30
MOST_CAUSES = 4


@dataclass(frozen=True)
class Beside:
    """What else a comparison needs: rates between quantities, the plan's own rate, and earlier readings in order.

    ``earlier`` are moments of this side with their hours before this reading (negative).
    """

    ship_rate_m3_per_h: float | None = None
    shore_rate_m3_per_h: float | None = None
    plan_rate_m3_per_h: float | None = None
    earlier: Sequence[tuple[float, Moment]] = ()


def comparison_of(case: CaseFile, arranged: Arrangement, moment: Moment, beside: Beside) -> Document:
    """Return the comparison of one reading; a channel drifts by the arrangement's band and the gauges' own accuracy."""
    rows = rows_of(case, [moment])
    document: Document = {
        "notes": list(rows.notes[0]),
        "over": _over(case, moment),
        "difference": _difference(arranged, moment),
        "flows": [],
        "channels": [],
        "causes": [],
    }
    drifted = bool(document["over"]) or bool(document["difference"] and document["difference"]["over"])
    document["flows"] = _flows(rows, arranged, moment, beside)
    if rows.speeds_known[0]:
        found = compare(rows.system, rows.speed_rpm, rows.observed, arranged.accuracy(), arranged.rule())
        document["channels"] = _channels(case, rows, found)
        if found.drifted.any():
            drifted = True
            document["causes"] = _causes(case, rows, arranged, beside, moment)
    elif any(one is not None for one in (number_of(moment.own, RATE), number_of(moment.own, MANIFOLD))):
        document["notes"].append("no pump's speed was read, so nothing could be expected")
    return {**document, "drifted": drifted}


def departed(comparison: Document | None) -> list[str]:
    """Return in words what of a kept comparison departed from what was agreed or expected."""
    if not comparison:
        return []
    found = [str(one["label"]) for one in comparison["channels"] if one["drifted"]]
    found += [f"{one['label']} passed" for one in comparison["over"]]
    if comparison["difference"] and comparison["difference"]["over"]:
        found.append("ship and shore quantities differ")
    return found


def channel_names(case: CaseFile, pumps: Sequence[str]) -> list[tuple[str, str, str]]:
    """Return key, words and unit of each channel in the model's order."""
    names = {pump.key: pump.name for pump in case.ship.pumps}
    found = [(RATE, "Rate", "m³/h"), (MANIFOLD, "Manifold pressure", "bar")]
    found += [(f"suction_pressure_bar_gauge:{key}", f"{names[key]}: suction", "bar") for key in pumps]
    return found + [(f"discharge_pressure_bar_gauge:{key}", f"{names[key]}: discharge", "bar") for key in pumps]


def in_unit(unit: str) -> float:
    """Return SI per unit of a channel."""
    return BAR_PA if unit == "bar" else 1.0 / HOUR_S


def _channels(case: CaseFile, rows: Rows, found: Compared) -> list[Document]:
    read = rows.observed.channels()[0]
    shown = []
    for place, (key, label, unit) in enumerate(channel_names(case, rows.pumps)):
        if not np.isfinite(found.expected[0, place]):
            continue
        si = in_unit(unit)
        low = max(float(found.low[0, place]), 0.0) if unit != "bar" else float(found.low[0, place])
        shown.append(
            {
                "key": key,
                "label": label,
                "unit": unit,
                "read": _rounded(float(read[place]) / si) if np.isfinite(read[place]) else None,
                "expected": _rounded(float(found.expected[0, place]) / si),
                "low": _rounded(low / si),
                "high": _rounded(float(found.high[0, place]) / si),
                "drifted": bool(found.drifted[0, place]),
            }
        )
    return shown


def _rounded(value: float) -> float:
    return float(f"{value:.6g}")


def _flows(rows: Rows, arranged: Arrangement, moment: Moment, beside: Beside) -> list[Document]:
    """Return every flow that can be told, side by side: meters, ullages, pumps, shore, plan."""
    share = arranged.rate_sure_percent / 100.0
    found: list[Document] = []

    def add(label: str, flow: float | None, sure: float | None) -> None:
        if flow is not None:
            off = None if sure is None else _rounded(sure)
            found.append({"label": label, "m3_per_h": _rounded(flow), "sure_m3_per_h": off})

    rate = number_of(moment.own, RATE)
    add("Rate as read", rate, None if rate is None else rate * share)
    add("From ullages since the reading before", beside.ship_rate_m3_per_h, None)
    by_head = flow_from_head(
        rows.system.pumps.curves,
        _read_pressures(rows, moment, "suction"),
        _read_pressures(rows, moment, "discharge"),
        rows.speed_rpm,
        rows.system.density_kg_per_m3[:, None],
        arranged.accuracy(),
    )
    running = rows.speed_rpm[0] > 0
    if running.any() and np.isfinite(by_head.flow_m3_per_s[0, running]).all() and not by_head.flat[0, running].any():
        total = float(by_head.flow_m3_per_s[0, running].sum()) * HOUR_S
        sure = SURE * float(np.sqrt((by_head.sigma_m3_per_s[0, running] ** 2).sum())) * HOUR_S
        add("From the pumps' heads and curves", total, sure)
    add("Ashore since the reading before", beside.shore_rate_m3_per_h, None)
    add("Rate of the plan", beside.plan_rate_m3_per_h, None)
    return found


def _read_pressures(rows: Rows, moment: Moment, which: str) -> np.ndarray:
    values = [number_of(moment.own, f"{which}_pressure_bar_gauge:{key}") for key in rows.pumps]
    return np.array([[np.nan if value is None else value * BAR_PA for value in values]])


def _over(case: CaseFile, moment: Moment) -> list[Document]:
    """Return what passed a limit that both sides agreed, or that the inert gas has by rule."""
    agreed = case.agreed
    limits: list[tuple[str, str, str, float | None, bool]] = [
        (MANIFOLD, "Highest manifold pressure agreed", "bar", agreed.manifold_pressure_bar_gauge, True),
        (RATE, "Highest rate agreed", "m³/h", agreed.highest_rate_m3_per_h, True),
        (OXYGEN, "Most oxygen in the inert gas main", "%", MOST_OXYGEN_PERCENT, True),
        (GAS, "Least inert gas pressure", "bar", LEAST_GAS_BAR, False),
    ]
    found = []
    for key, label, unit, limit, highest in limits:
        value = number_of(moment.own, key)
        if value is not None and limit is not None and (value > limit if highest else value < limit):
            found.append({"key": key, "label": label, "unit": unit, "read": value, "limit": limit})
    return found


def _difference(arranged: Arrangement, moment: Moment) -> Document | None:
    """Return ship's figure less shore's, where both are known."""
    ship, shore = moment.known(DISCHARGED), moment.known(RECEIVED)
    if ship is None or shore is None or ship <= 0:
        return None
    percent = 100.0 * (ship - shore) / ship
    return {
        "ship_m3": ship,
        "shore_m3": shore,
        "percent": _rounded(percent),
        "allowed_percent": arranged.difference_percent,
        "over": abs(percent) > arranged.difference_percent,
    }


def _causes(case: CaseFile, rows: Rows, arranged: Arrangement, beside: Beside, moment: Moment) -> list[Document]:
    found = likely_causes(rows.system, rows.speed_rpm, rows.observed, arranged.accuracy())
    names = channel_names(case, rows.pumps)
    read = rows.observed.channels()[0]
    trend = _trend(case, beside, moment)
    shown = []
    for number, cause in enumerate(found.found[: max(MOST_CAUSES, found.alike)]):
        if number >= found.alike and cause.explained < 0.5:
            break
        document = caused(cause, names, read, rows.pumps, {pump.key: pump.name for pump in case.ship.pumps})
        document["alike"] = number < found.alike and found.alike > 1
        if cause.kind in {"shore resistance", "shore head"} and trend is not None:
            document["evidence"].append(trend)
        shown.append(document)
    return shown[:MOST_CAUSES]


def _trend(case: CaseFile, beside: Beside, moment: Moment) -> str | None:
    earlier = [*beside.earlier, (0.0, moment)]
    rows = rows_of(case, [one for _, one in earlier])
    usable = np.flatnonzero(rows.speeds_known)
    if usable.size < len(earlier):
        rows = Rows(
            take(rows.system, usable), rows.speed_rpm[usable], take(rows.observed, usable), rows.pumps, rows.notes
        )
    hours = np.array([hour for hour, _ in earlier])[usable]
    trend = resistance_trend(rows.system, rows.observed, hours) if usable.size else None
    return None if trend is None else trend_words(trend)


def rate_between(before: Mapping[str, str], now: Mapping[str, str], key: str, hours: float) -> float | None:
    """Return the mean rate in m3/h between two kept quantities, None where one is missing or no time passed."""
    first, last = number_of(before, key), number_of(now, key)
    if first is None or last is None or hours <= 0 or last < first:
        return None
    return (last - first) / hours
