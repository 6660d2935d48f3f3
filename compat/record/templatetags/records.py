"""The way from an accord to its transfer record."""

from __future__ import annotations

from typing import Any

from django import template
from django.template import Context

from compat.accord.models import Accord
from compat.record.chain import record_of
from compat.record.queries import may_open_record

register = template.Library()


@register.inclusion_tag("record/part_link.html", takes_context=True)
def record_link(context: Context, accord: Accord) -> dict[str, Any]:
    """Name the record of an accord and lead to it, or to opening it for those who may."""
    return {"accord": accord, "record": record_of(accord), "may_open": may_open_record(context["user"], accord)}
