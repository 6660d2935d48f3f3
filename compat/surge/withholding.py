"""Takes out of what is said on surge what tells about a shore line that its terminal keeps to itself (pure)."""

from __future__ import annotations

from dataclasses import replace

from compat.surge.answering import SurgeAnswer, SurgeEvent
from compat.surge.asking import asks
from compat.surge.studying import SurgeStudy

_SHIPS_OWN = ("ask the ship", "ship's")


def questions_shown(study: SurgeStudy, *, line_shown: bool) -> list[str]:
    """Return what to ask; of a line kept by its terminal only what the ship can tell."""
    found = [*study.questions, *asks(study.case)]
    if line_shown:
        return found
    own = [text for text in found if any(mark in text for mark in _SHIPS_OWN)]
    return own + ([] if len(own) == len(found) else ["Facts of the shore line are not stated: ask the terminal."])


def problem_shown(study: SurgeStudy, *, line_shown: bool) -> str:
    """Return why nothing can be worked out, without naming a run of a line that is kept."""
    if not study.problem or study.questions or line_shown:
        return study.problem
    return "Surge can't be worked out on the shore line as it is stated: ask the terminal."


def without_line(surge: SurgeAnswer, study: SurgeStudy) -> SurgeAnswer:
    """Return surge without pressures along the line, its runs and its grid; times, rates and states stay."""
    return replace(
        surge,
        reason=problem_shown(study, line_shown=False),
        questions=tuple(questions_shown(study, line_shown=False)),
        notes=(),
        reaches=None,
        wave_speed_adjustment_percent=None,
        events=tuple(_bare(event) for event in surge.events),
        limits=(),
    )


def _bare(event: SurgeEvent) -> SurgeEvent:
    return replace(event, low_at_m=None, runs=())
