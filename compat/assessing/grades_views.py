"""The page that pumps several assessments of one ship at the same time, each through its own lines."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET

from compat.assessing.grades_showing import grades_context
from compat.assessing.queries import assessments_seen_by
from compat.assessing.variants import Stored, stored_for
from compat.assessing.views import json_file
from compat.case.case_file import CaseError
from compat.case.grades import FORMAT, MOST_GRADES, GradesFile, answer_grades, check_grades
from shared.http import person_of
from shared.models import Person

_OTHERS_SHOWN = 60


@require_GET
def together(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Show which other assessments of the ship can be pumped together with this one, and the answer to those ticked."""
    person = person_of(request)
    first = stored_for(person, public_id)
    others = _others(person, first)
    ticked = [row for row in others if str(row.public_id) in request.GET.getlist("with")]
    stored = [first, *(stored_for(person, row.public_id) for row in ticked)]
    served = _served(stored, request.GET)
    context: dict[str, Any] = {
        "assessment": first.row,
        "pump_rows": _pump_rows(stored, served),
        "titles": list(enumerate((one.row.title for one in stored), start=1)),
        "others": others,
        "ticked": {row.public_id for row in ticked},
        "most": MOST_GRADES,
        "problems": [],
    }
    if "with" in request.GET or "go" in request.GET:
        try:
            context |= _answered(stored, served)
        except CaseError as error:
            context["problems"] = error.problems
    context["file_address"] = ""
    if "found" in context and all(one.line_shown for one in stored):
        query = urlencode(
            [("with", str(row.public_id)) for row in ticked] + [(f"pump_{key}", str(n)) for key, n in served.items()]
        )
        context["file_address"] = f"{reverse('assessment-together-file', args=[public_id])}?{query}"
    return render(request, "assessing/together.html", context)


@require_GET
def together_file(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Send the grades as one file, which manage.py assess answers with the same numbers."""
    person = person_of(request)
    first = stored_for(person, public_id)
    ticked = [row for row in _others(person, first) if str(row.public_id) in request.GET.getlist("with")]
    stored = [first, *(stored_for(person, row.public_id) for row in ticked)]
    for one in stored:
        one.check_line_shown("a file of grades, which carries that line, can't be downloaded")
    try:
        file = _file(stored, _served(stored, request.GET))
    except CaseError:
        return together(request, public_id)
    return json_file(file.model_dump(mode="json", exclude_none=True), f"grades-{public_id}.json")


def _others(person: Person, first: Stored) -> list[Any]:
    """Return the other assessments of the same ship, the newest first."""
    vessel = first.row.vessel_revision.vessel_id
    rows = assessments_seen_by(person).filter(vessel_revision__vessel=vessel).exclude(pk=first.row.pk)
    return list(rows[:_OTHERS_SHOWN])


def _served(stored: list[Stored], sent: Mapping[str, str]) -> dict[str, int]:
    """Return which grade each pump of the ship serves, counted from 1; 0 is none.

    Where the address does not say, it is the first of the assessments in which the pump runs.
    """
    found = {}
    for pump in stored[0].case.ship.pumps:
        runs = (n for n, one in enumerate(stored, start=1) if pump.key in _running(one.row.case))
        chosen = sent.get(f"pump_{pump.key}", "")
        known = chosen.isdecimal() and int(chosen) <= len(stored)
        found[pump.key] = int(chosen) if known else next(runs, 0)
    return found


def _running(case: Mapping[str, Any]) -> set[str]:
    return {state["pump"] for state in case["operation"]["pumps"] if state["running"]}


def _pump_rows(stored: list[Stored], served: Mapping[str, int]) -> list[tuple[str, str, int]]:
    return [(pump.key, pump.name, served[pump.key]) for pump in stored[0].case.ship.pumps]


def _file(stored: list[Stored], served: Mapping[str, int]) -> GradesFile:
    document = {
        "format": FORMAT,
        "title": f"{stored[0].case.ship.name}: {len(stored)} grades at the same time",
        "grades": [_case_of(one.row.case, served, number) for number, one in enumerate(stored, start=1)],
    }
    return check_grades(document, "These assessments")


def _case_of(case: Mapping[str, Any], served: Mapping[str, int], number: int) -> dict[str, Any]:
    """Return a stored case with the pumps running that serve its grade."""
    states = [{**state, "running": served.get(state["pump"]) == number} for state in case["operation"]["pumps"]]
    return {**case, "operation": {**case["operation"], "pumps": states}}


def _answered(stored: list[Stored], served: Mapping[str, int]) -> dict[str, Any]:
    if len(stored) < 2:
        raise CaseError(["No other assessment is ticked; tick one to five that are to be pumped at the same time."])
    idle = [one.row.title for number, one in enumerate(stored, start=1) if number not in served.values()]
    if idle:
        raise CaseError([f"“{title}” has no pump; choose one for it in the table below." for title in idle])
    grades = _file(stored, served)
    found = answer_grades(grades)
    seen = [one.seen(answer.document()) for one, answer in zip(stored, found.answers, strict=True)]
    return grades_context(grades, found, seen, [one.line_shown for one in stored])
