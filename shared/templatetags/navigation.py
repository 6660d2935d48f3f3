"""Template tags of the navigation."""

from __future__ import annotations

from django import template
from django.template import Context
from django.urls import NoReverseMatch, reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

register = template.Library()


@register.simple_tag(takes_context=True)
def nav_link(context: Context, page: str, label: str) -> SafeString:
    """Write a navigation entry, marked when the page shown is at its address or below."""
    try:
        address = reverse(page)
    except NoReverseMatch:
        return mark_safe("")
    here = context["request"].path.startswith(address)
    mark = mark_safe(' aria-current="true"') if here else ""
    return format_html('<li class="nav-item"><a class="nav-link" href="{}"{}>{}</a></li>', address, mark, label)
