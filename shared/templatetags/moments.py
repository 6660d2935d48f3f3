"""Template tags that write moments with their zone, in the zone that the person chose."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django import template
from django.template import Context
from django.utils.html import format_html
from django.utils.safestring import SafeString

from shared.zones import UTC_NAME, ZONES_OF_PAGES, moment_words

register = template.Library()


@register.simple_tag(takes_context=True)
def at(context: Context, moment: datetime | None) -> SafeString | str:
    """Write a moment in the person's zone, short; its UTC stands behind it for whoever points at it."""
    return _told(moment, chosen_zone(context), short=True)


@register.simple_tag(takes_context=True)
def at_length(context: Context, moment: datetime | None) -> SafeString | str:
    """Write a moment in the person's zone with the month and zone in full."""
    return _told(moment, chosen_zone(context), short=False)


@register.simple_tag
def at_zone(moment: datetime | None, zone: str) -> SafeString | str:
    """Write a moment in a named zone."""
    return _told(moment, zone, short=False)


def chosen_zone(context: Context) -> str:
    """Return the zone in which this person reads this page."""
    wanted = str(getattr(context.get("user"), "zone", "") or UTC_NAME)
    if wanted not in ZONES_OF_PAGES:
        return wanted
    about: Any = context.get("accord")
    return str(getattr(about, f"{wanted}_zone", "") or UTC_NAME)


def _told(moment: datetime | None, zone: str, *, short: bool) -> SafeString | str:
    if moment is None:
        return ""
    return format_html(
        '<time datetime="{}" title="{}">{}</time>',
        moment.isoformat(timespec="minutes"),
        moment_words(moment),
        moment_words(moment, zone, short=short),
    )
