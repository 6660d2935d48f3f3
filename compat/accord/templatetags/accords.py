"""Template tags that write agreed values, in the units of the person who looks."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

from django import template
from django.forms import BaseForm
from django.template import Context
from django.utils.html import format_html
from django.utils.safestring import SafeString

from compat.accord.models import ValueProposal
from compat.accord.sending import SENDING
from compat.accord.value_kinds import Given, ValueDefinition
from compat.accord.values import DEFINITIONS
from shared.quantities import NO_BREAK_SPACE, display, preferred

register = template.Library()


@register.simple_tag(takes_context=True)
def value_of(context: Context, proposal: ValueProposal) -> str:
    """Write the value of a proposal as its kind is read."""
    definition = DEFINITIONS.get(proposal.key)
    return str(proposal.given) if definition is None else shown_value(context, definition, proposal.given)


@register.simple_tag
def sending_key(form: BaseForm | None = None) -> SafeString:
    """Write the hidden field that tells one sending of a form from another; a refused form keeps its own."""
    kept = form.data.get(SENDING, "") if form is not None and form.is_bound else ""
    return format_html('<input type="hidden" name="{}" value="{}">', SENDING, kept or uuid4())


@register.simple_tag(takes_context=True)
def shown_value(context: Context, definition: ValueDefinition, value: Given) -> str:
    """Write a value as its kind is read: a number in the person's unit, words as they are."""
    if isinstance(value, str) or not definition.numeric:
        return str(value)
    chosen: Any = getattr(context.get("user"), "units", None) or {}
    if definition.state_in_case is None and preferred(chosen, definition.unit) == definition.unit:
        return definition.shown(value).replace(" ", NO_BREAK_SPACE)
    return display(value, definition.unit, chosen, "gauge" if definition.gauge else "")
