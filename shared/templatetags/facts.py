"""Template tags that show parts of a facts document with the labels and the order of their form's plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import template
from django.template import Context

from shared.changes import shown_value
from shared.document_plan import Plan
from shared.facts import Facts
from shared.facts_reading import FactField
from shared.quantities import NOT_KNOWN, converted, display, exact, figure, preferred

register = template.Library()


@dataclass(frozen=True)
class Cell:
    """One cell of a table of facts."""

    text: str
    label: str
    is_number: bool
    known: bool = True


@register.inclusion_tag("shared/facts/lines.html", takes_context=True)
def fact_lines(context: Context, plan: Plan, facts: Facts | None, skip: str = "") -> dict[str, Any]:
    """Show the plain keys of one document but those to ``skip``; a missing document is *not known* throughout."""
    chosen = _chosen(context)
    lines = []
    for read in plan.columns:
        if read.key in skip.split():
            continue
        value = getattr(facts, read.key) if facts is not None else None
        text = shown_value(read, value, lambda number, unit: display(number, unit, chosen))
        lines.append((plan.label(read), text, text != NOT_KNOWN))
    return {"lines": lines}


@register.inclusion_tag("shared/facts/table.html", takes_context=True)
def fact_table(
    context: Context, plan: Plan, items: Sequence[Facts] | None, caption: str, empty: str = "None stated."
) -> dict[str, Any]:
    """Show a list of documents as a table, units at its heads; a column that is empty throughout is left out."""
    chosen = _chosen(context)
    items = items or []
    reads = [read for read in plan.columns if any(getattr(item, read.key) not in (None, "") for item in items)]
    heads = [Cell(_head(plan, read, chosen), plan.label(read), _is_number(read)) for read in reads]
    labels = [head.text for head in heads]
    rows = [
        [_cell(read, getattr(item, read.key), chosen, label) for read, label in zip(reads, labels, strict=True)]
        for item in items
    ]
    return {"heads": heads, "rows": rows, "caption": caption, "empty": empty}


def _head(plan: Plan, read: FactField, chosen: Mapping[str, str]) -> str:
    if read.kind != "quantity" or read.unit == "1":
        return plan.label(read)
    return f"{plan.label(read)} [{preferred(chosen, read.unit)}]"


def _cell(read: FactField, value: Any, chosen: Mapping[str, str], label: str) -> Cell:
    if value is None or value == "":
        return Cell(NOT_KNOWN, label, _is_number(read), known=False)
    if read.kind != "quantity":
        return Cell(str(value), label, _is_number(read))
    wanted = preferred(chosen, read.unit)
    return Cell(figure(converted(exact(value), read.unit, wanted), wanted), label, is_number=True)


def _is_number(read: FactField) -> bool:
    return read.kind in {"quantity", "whole number"}


def _chosen(context: Context) -> Mapping[str, str]:
    chosen: Any = getattr(context.get("user"), "units", None)
    return chosen if isinstance(chosen, Mapping) else {}
