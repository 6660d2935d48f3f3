"""Puts the answers to several grades at the same time into what their page shows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from compat.assessing.showing import answer_context
from compat.case.grades import GradesAnswer, GradesFile


def grades_context(
    grades: GradesFile, found: GradesAnswer, seen: Sequence[Mapping[str, Any]], line_shown: Sequence[bool]
) -> dict[str, Any]:
    """Return what the page of several grades needs; ``seen`` are the answers as the person may see them."""
    parts = [
        answer_context(case, answer, line_shown=shown) | {"part": f"-{number}", "number": number}
        for number, (case, answer, shown) in enumerate(zip(grades.grades, seen, line_shown, strict=True), start=1)
    ]
    return {"found": found, "grades": parts, "ship": grades.grades[0].ship.name}
