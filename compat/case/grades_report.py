"""The answer for several grades at once as plain text (pure: no Django)."""

from __future__ import annotations

from compat.case.grades import GradesAnswer
from compat.case.report import number, report


def grades_report(found: GradesAnswer) -> str:
    """Return the rates together, then each grade's own report."""
    head = [
        f"All grades together     {number(found.total_flow_m3_per_h, 'm³/h', 1)}",
        f"Allowed by inert gas    {number(found.allowed_by_inert_gas_m3_per_h, 'm³/h', 1)}",
    ]
    return "\n\n".join(
        ["\n".join([*head, *([found.note] if found.note else []), *found.cautions]), *map(report, found.answers)]
    )
