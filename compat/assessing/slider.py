"""The slider of the agreed pressure: how far it goes, and what one unit of each kind is in bar."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from math import ceil, floor
from typing import Any

from compat.case.case_file import CaseFile
from shared.calc.units import convert
from shared.quantities import offered

_ROOM_BAR = 10.0


@dataclass(frozen=True)
class Slider:
    """It moves in bar, whatever unit the number beside it has; ``bar_per_unit`` is “bar:1 kPa:0.01 …”."""

    least_bar: float
    greatest_bar: float
    bar_per_unit: str


def pressure_slider(case: CaseFile, answer: Mapping[str, Any]) -> Slider:
    """Return a slider from what the shore holds at rest to the lowest rating stated at the manifold."""
    at_rest = float(answer["manifold_pressure_at_rest_bar_gauge"])
    agreed = case.agreed.manifold_pressure_bar_gauge or 0.0
    arms = [arm.rating_bar_gauge for arm in case.berth.arms]
    stated = [case.berth.manifold_pressure_limit_bar_gauge, case.ship.manifold.rating_bar_gauge, *arms]
    rating = min((rating for rating in stated if rating is not None), default=at_rest + _ROOM_BAR)
    most = max(rating, agreed, at_rest + 1.0)
    factors = " ".join(f"{unit}:{convert(Decimal(1), unit, 'bar').normalize():f}" for unit in offered("bar"))
    return Slider(max(floor(10 * at_rest) / 10, 0.1), ceil(10 * most) / 10, factors)
