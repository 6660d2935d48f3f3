"""What two agreed values ask of each other, and what a checklist item asks of one (pure: no Django).

Each rule is one sentence that a tired person understands; no rule is a figure of a berth or ship, which are limits
and stand in ``engine``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal

from compat.accord.checklist.conditions import INERTED, STATIC, TransferConditions
from compat.accord.value_kinds import Given
from compat.accord.values import DEFINITIONS

LEAST_WAIT_MIN = Decimal(30)
"""46 CFR 39.3001(f)(4): cargo that holds charge, in a tank that is not inert."""


@dataclass(frozen=True)
class Order:
    """The value ``lower`` must not be above the value ``upper``, both in minutes, m/s, m³/h or bar alike."""

    lower: str
    upper: str
    upper_per_lower: Decimal = Decimal(1)
    """How much the number of ``upper`` is multiplied by to count in the unit of ``lower``."""


ORDERS: tuple[Order, ...] = (
    Order("start_rate_m3_per_h", "highest_rate_m3_per_h"),
    Order("bulk_rate_m3_per_h", "highest_rate_m3_per_h"),
    Order("stripping_rate_m3_per_h", "bulk_rate_m3_per_h"),
    Order("topping_rate_m3_per_h", "bulk_rate_m3_per_h"),
    Order("least_pressure_bar_gauge", "manifold_pressure_bar_gauge"),
    Order("pumps_at_start", "pumps_in_bulk"),
    Order("wind_stop_m_per_s", "wind_drain_m_per_s"),
    Order("wind_drain_m_per_s", "wind_disconnect_m_per_s"),
    Order("wind_stop_m_per_s", "wind_disconnect_m_per_s"),
    Order("emergency_stop_s", "normal_stop_min", Decimal(60)),
)


def contradictions(key: str, values: Mapping[str, Given], conditions: TransferConditions) -> Iterator[str]:
    """Yield a sentence for each rule that the value of ``key`` breaks among these values."""
    for order in ORDERS:
        if key in (order.lower, order.upper):
            yield from _out_of_order(order, values)
    rule = _RULES.get(key)
    if rule is not None:
        yield from rule(Decimal(values[key]), conditions)


def _out_of_order(order: Order, values: Mapping[str, Given]) -> Iterator[str]:
    lower, upper = values.get(order.lower), values.get(order.upper)
    if lower is None or upper is None or Decimal(lower) <= Decimal(upper) * order.upper_per_lower:
        return
    low, high = DEFINITIONS[order.lower], DEFINITIONS[order.upper]
    yield f"{_named(low.label)} of {low.shown(lower)} is above {_lowered(high.label)} of {high.shown(upper)}."


def _named(label: str) -> str:
    return f"The {_lowered(label).removeprefix('the ')}"


def _lowered(label: str) -> str:
    return f"the {label[:1].lower()}{label[1:]}"


def _wait(value: Decimal, conditions: TransferConditions) -> Iterator[str]:
    charged = STATIC.holds(conditions) and (~INERTED).holds(conditions)
    if charged and value < LEAST_WAIT_MIN:
        yield (
            "The cargo holds charge and the tanks are not inert: 46 CFR 39.3001(f)(4) and the checklist ask for"
            f" {LEAST_WAIT_MIN} min before anything is lowered into a tank."
        )


_RULES: dict[str, Callable[[Decimal, TransferConditions], Iterator[str]]] = {"gauging_wait_min": _wait}
