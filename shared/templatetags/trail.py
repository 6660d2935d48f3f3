"""Template tags that write a trail row in words: its subject as a link, its facts without brackets and underscores."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import template
from django.urls import NoReverseMatch, reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

register = template.Library()

_SHOWN_OF_AN_ID = 8
_PAGES = frozenset({"accord", "assessment", "berth", "person", "terminal", "vessel"})


@register.simple_tag
def subject_link(subject: str) -> SafeString:
    """Write ``vessel:<uuid>`` as a link to that vessel's page, by kind and the start of its name."""
    kind, _, name = subject.partition(":")
    is_long = len(name) == 36  # a UUID; usernames are shown whole
    shown = f"{kind} {name[:_SHOWN_OF_AN_ID]}…" if is_long else f"{kind} {name}"
    try:
        address = reverse(kind, args=[name]) if kind in _PAGES else ""
    except NoReverseMatch:
        address = ""
    if not address:
        return format_html('<span title="{}">{}</span>', subject, shown)
    return format_html('<a href="{}" title="{}">{}</a>', address, subject, shown)


@register.filter
def fact_name(key: str) -> str:
    """Write a key in words."""
    return str(key).replace("_", " ")


@register.filter
def fact_words(value: Any) -> str:
    """Write a recorded value in words; None is *not known*, nothing is *none*."""
    if value is None:
        return "not known"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Mapping):
        return "; ".join(f"{fact_name(key)} {fact_words(item)}" for key, item in value.items()) or "none"
    if isinstance(value, list):
        return ", ".join(fact_words(item) for item in value) or "none"
    return str(value) or "none"
