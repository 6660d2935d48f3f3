"""Puts a spread of rates into the lines that its page shows."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from compat.assessing.sure_pictures import sure_picture
from compat.case.case_file import CaseFile
from compat.case.sampling import Spread, spread_of
from compat.case.uncertain import uncertain_numbers
from shared.pictures import PictureUnits

SAMPLES = 2048
SPREAD_TITLE = "Chance of making at least a rate"
_INFLUENCES_SHOWN = 12
_NO_LIMIT = {"stated": "The speeds, as stated", "none": "No limit: what the pumps can do"}


@dataclass(frozen=True)
class ChanceLine:
    """How often a limit sets the rate, in words and as a share."""

    label: str
    percent: float


@dataclass(frozen=True)
class InfluenceLine:
    """The mean rate at either end of one tolerance, and how far apart they are."""

    label: str
    low_m3_per_h: float
    high_m3_per_h: float
    apart_m3_per_h: float


def spread_lines(case: CaseFile, answer: Mapping[str, Any], spread: Spread) -> dict[str, Any]:
    """Return what the part of a page about a spread needs; ``answer`` is as the person may see it."""
    return {
        "spread": spread,
        "rate": answer["total_flow_m3_per_h"] or 0.0,
        "hours": _hours(case, spread),
        "chances": _chances(answer, spread),
        "influences": _influences(case, spread),
    }


def spread_context(case: CaseFile, answer: Mapping[str, Any], units: PictureUnits) -> dict[str, Any]:
    """Return the spread of a case that states tolerances, with its picture in the page itself; else nothing."""
    spread = spread_of(case, SAMPLES)
    if spread is None:
        return {}
    lines = spread_lines(case, answer, spread)
    drawn = drawn_spread(lines, units)
    address = "data:image/svg+xml;base64," + base64.b64encode(drawn).decode("ascii")
    return {**lines, "picture_address": address}


def drawn_spread(lines: Mapping[str, Any], units: PictureUnits) -> bytes:
    """Draw the lines of a spread; return SVG bytes."""
    chances = [(line.label, line.percent / 100.0) for line in lines["chances"]]
    return sure_picture(lines["spread"], chances, lines["rate"], SPREAD_TITLE, units)


def _hours(case: CaseFile, spread: Spread) -> tuple[float, float, float] | None:
    """Return the hours for the whole quantity at the rates of P90, P50 and P10."""
    quantity = case.cargo.quantity_m3
    if quantity is None or spread.rate_p10_m3_per_h <= 0:
        return None
    rates = spread.rate_p90_m3_per_h, spread.rate_p50_m3_per_h, spread.rate_p10_m3_per_h
    return quantity / rates[0], quantity / rates[1], quantity / rates[2]


def _chances(answer: Mapping[str, Any], spread: Spread) -> list[ChanceLine]:
    labels = _NO_LIMIT | {limit["key"]: limit["label"] for limit in answer["limits"]}
    lines = [ChanceLine(labels.get(key, key), 100.0 * share) for key, share in spread.binding.items()]
    return lines + ([ChanceLine("No operating point", 100.0 * spread.no_point)] if spread.no_point else [])


def _influences(case: CaseFile, spread: Spread) -> list[InfluenceLine]:
    """Return what moves the rate, the most first."""
    names = {key: number.name(key) for number in uncertain_numbers(case) for key in number.keys}
    lines = [
        InfluenceLine(
            names.get(one.key, one.key),
            one.rate_at_low_end_m3_per_h,
            one.rate_at_high_end_m3_per_h,
            abs(one.rate_at_high_end_m3_per_h - one.rate_at_low_end_m3_per_h),
        )
        for one in spread.influences
    ]
    return sorted(lines, key=lambda line: -line.apart_m3_per_h)[:_INFLUENCES_SHOWN]
