"""Answers to files that somebody sent: one case, or several grades at the same time. Nothing is stored."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from compat.assessing.forms import CaseUploadForm
from compat.assessing.grades_showing import grades_context
from compat.assessing.pictures import DIAGRAM, operating_picture, profile_drawn
from compat.assessing.showing import answer_context, step_lines, way_lines
from compat.assessing.sure_showing import spread_context
from compat.case.case_file import CaseError, CaseFile
from compat.case.diagram_document import diagram_document
from compat.case.grades import GradesFile, answer_grades
from compat.surge.limiting import held_within_surge
from shared.calc.errors import InputError
from shared.http import person_of
from shared.models import Person
from shared.picture_answers import units_on_pictures
from shared.pictures import PictureUnits


@require_http_methods(["GET", "POST"])
def case_upload(request: HttpRequest) -> HttpResponse:
    """Show the answer to a case file or a file of several grades; nothing of it is stored."""
    person = person_of(request)
    form = CaseUploadForm(request.POST or None, request.FILES or None)
    read = form.case() if request.method == "POST" else None
    if read is not None:
        try:
            if isinstance(read, GradesFile):
                return render(request, "assessing/grades.html", _grades(read))
            return render(request, "assessing/file_answer.html", _case(read, person))
        except CaseError as error:
            for problem in error.problems:
                form.add_error("file", problem)
        except InputError as error:
            form.add_error("file", str(error))
    return render(request, "assessing/upload.html", {"form": form})


def _case(case: CaseFile, person: Person) -> dict[str, Any]:
    within, units = held_within_surge(case), units_on_pictures(person)
    answer = within.answer.document()
    return answer_context(case, answer, line_shown=True) | {
        "title": case.title or "Case file",
        "diagram_address": _data_address(_diagram(case, answer, units)),
        "profile_address": _data_address(profile_drawn(answer, units)),
        "steps": step_lines(case, answer, person.units),
        "ways": way_lines(case),
        **spread_context(within.case, answer, units),
    }


def _grades(grades: GradesFile) -> dict[str, Any]:
    found = answer_grades(grades)
    seen = [answer.document() for answer in found.answers]
    shown = [True] * len(seen)
    return grades_context(grades, found, seen, shown) | {"title": grades.title or "Several grades", "from_file": True}


def _diagram(case: CaseFile, answer: Mapping[str, Any], units: PictureUnits) -> bytes | None:
    drawn = diagram_document(case, answer)
    return None if drawn is None else operating_picture(drawn, title=DIAGRAM, units=units)


def _data_address(picture: bytes | None) -> str:
    return "" if picture is None else "data:image/svg+xml;base64," + base64.b64encode(picture).decode("ascii")
