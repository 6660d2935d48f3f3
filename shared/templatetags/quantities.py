"""Template tags that write a number with its unit, in the units of the person who looks."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django import template
from django.template import Context

from shared.quantities import NOT_KNOWN, converted, display, exact, figure, preferred, usual_decimals

register = template.Library()

Number = Decimal | float | int | None


@register.filter
def quantity(value: Number, unit: str) -> str:
    """Write a value in the unit that it is stated in."""
    return display(value, unit)


@register.simple_tag(takes_context=True)
def show(context: Context, value: Number, unit: str, note: str = "") -> str:
    """Write a value stated in ``unit`` in the person's unit; ``note`` is gauge or abs."""
    return display(value, unit, _chosen(context), note)


@register.simple_tag(takes_context=True)
def number(context: Context, value: Number, unit: str) -> str:
    """Write only the number, for a column whose head carries the unit."""
    if value is None:
        return NOT_KNOWN
    wanted = preferred(_chosen(context), unit)
    return figure(converted(exact(value), unit, wanted), wanted)


@register.simple_tag(takes_context=True)
def residual(context: Context, value: Number, unit: str) -> str:
    """Write what a fit misses: only the number, with the usual decimals however small it is."""
    if value is None:
        return NOT_KNOWN
    wanted = preferred(_chosen(context), unit)
    return figure(converted(exact(value), unit, wanted), wanted, usual_decimals(wanted))


@register.simple_tag(takes_context=True)
def distance(context: Context, value: Number) -> str:
    """Write a distance along a line, stated in m, in whole units: only the number."""
    if value is None:
        return NOT_KNOWN
    wanted = preferred(_chosen(context), "m")
    return figure(converted(exact(value), "m", wanted), wanted, 0)


@register.simple_tag(takes_context=True)
def unit_for(context: Context, unit: str) -> str:
    """Write the person's unit for what is stated in ``unit``."""
    return preferred(_chosen(context), unit)


def _chosen(context: Context) -> Mapping[str, str]:
    chosen: Any = getattr(context.get("user"), "units", None)
    return chosen if isinstance(chosen, Mapping) else {}
