"""Template tags for lists: a head cell that sorts by its column."""

from __future__ import annotations

from urllib.parse import urlencode

from django import template
from django.template import Context
from django.utils.html import format_html
from django.utils.safestring import SafeString

register = template.Library()


@register.simple_tag(takes_context=True)
def sort_head(context: Context, name: str, label: str) -> SafeString:
    """Write a head cell whose link sorts by ``name``, downward when it is sorted upward already."""
    shown = context["list"]
    wanted = f"-{name}" if shown.sort == name else name
    state = {name: "ascending", f"-{name}": "descending"}.get(shown.sort)
    mark = {None: "", "ascending": " ▲", "descending": " ▼"}[state]
    asked = (*shown.kept, ("search", shown.search), ("sort", wanted))
    query = urlencode({key: value for key, value in asked if value})
    aria = format_html(' aria-sort="{}"', state) if state else ""
    return format_html('<th scope="col"{}><a href="?{}">{}</a>{}</th>', aria, query, label, mark)
