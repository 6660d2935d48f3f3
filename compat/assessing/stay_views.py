"""The page that plans the stay of an assessment: hours by stage, gauges hour by hour, other plans beside it."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.cache import patch_vary_headers
from django.views.decorators.http import require_GET

from compat.assessing.stay_forms import StayForm, stay_form
from compat.assessing.stay_showing import stay_context
from compat.assessing.variants import Stored, stored_for
from compat.assessing.views import json_file
from compat.stay.variants import answer_with_variants
from shared.calc.errors import InputError
from shared.http import person_of
from shared.picture_answers import units_on_pictures


@require_GET
def stay(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Show the form, and the plan where the address says what is asked; nothing is stored."""
    stored = stored_for(person_of(request), public_id)
    form = _form(request, stored)
    result = _result(request, stored, form) if form.is_bound else {}
    moving = "HX-Request" in request.headers
    context = {
        "assessment": stored.row,
        "form": form,
        "line_shown": stored.line_shown,
        "file_address": reverse("assessment-stay-file", args=[public_id]) + f"?{urlencode(form.sent)}",
        "problems_of_form": [str(text) for texts in form.errors.values() for text in texts] if form.is_bound else [],
        **result,
    }
    answer = render(request, "assessing/_stay.html" if moving else "assessing/stay.html", context)
    return with_last_result_kept(request, answer, worked=bool(result))


@require_GET
def stay_file(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Send the stay file, which manage.py stay works out with the same numbers."""
    stored = stored_for(person_of(request), public_id)
    stored.check_line_shown("a stay file, which carries that line, can't be downloaded")
    form = _form(request, stored)
    file = form.stay() if form.is_bound and form.is_valid() else None
    if file is None:
        return stay(request, public_id)
    document = file.model_dump(mode="json", exclude_none=True)
    return json_file(document, f"stay-{public_id}.json")


def _form(request: HttpRequest, stored: Stored) -> StayForm:
    sent = request.GET if "quantity" in request.GET else None
    return stay_form(stored.case, stored.person, sent, line_shown=stored.line_shown)


def _result(request: HttpRequest, stored: Stored, form: StayForm) -> dict[str, Any]:
    """Return the plan with its pictures and another one beside it, or nothing with the reasons on the form."""
    file = form.stay() if form.is_valid() else None
    if file is None:
        return {}
    try:
        answer, variants = answer_with_variants(file)
    except InputError as error:
        form.add_error(None, str(error))
        return {}
    address = f"{reverse('assessment-stay', args=[stored.row.public_id])}?{urlencode(form.sent)}&"
    shown = stay_context(answer, variants, request.GET.get("beside", ""), units_on_pictures(stored.person))
    return shown | {"beside_address": address}


def with_last_result_kept(request: HttpRequest, answer: HttpResponse, *, worked: bool) -> HttpResponse:
    """Let a page that moves keep its last result where there is no new one: only the sentences are shown."""
    patch_vary_headers(answer, ["HX-Request"])
    if "HX-Request" in request.headers and not worked:
        answer["HX-Retarget"] = "#stay-problems"
        answer["HX-Reselect"] = "#stay-problems-now"
    return answer
