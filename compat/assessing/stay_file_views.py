"""Pages that work out what a person brings: a stay file, a loading file, or a loading that is typed in."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET, require_http_methods

from compat.assessing.loading_forms import LoadingForm, loading_form
from compat.assessing.stay_file_forms import StayUploadForm, file_text
from compat.assessing.stay_showing import loading_context, stay_context
from compat.assessing.stay_views import with_last_result_kept
from compat.stay.loading import LoadingFile, answer_loading
from compat.stay.variants import answer_with_variants
from shared.calc.errors import InputError
from shared.http import person_of
from shared.picture_answers import units_on_pictures


@require_http_methods(["GET", "POST"])
def upload(request: HttpRequest) -> HttpResponse:
    """Show what follows from a stay file or a loading file; nothing of it is stored."""
    sent = request.method == "POST"
    form = StayUploadForm(request.POST, request.FILES) if sent else StayUploadForm()
    result = _of_file(request, form) if sent else {}
    context: dict[str, Any] = {"form": form, **result}
    return _answer(
        request, "assessing/stay_file.html", "assessing/_stay_file_answer.html", context, worked=bool(result)
    )


def _of_file(request: HttpRequest, form: StayUploadForm) -> dict[str, Any]:
    found = form.found() if form.is_valid() else None
    if found is None:
        return {}
    units, text = units_on_pictures(person_of(request)), file_text(found)
    again = StayUploadForm(initial={"text": text})
    try:
        if isinstance(found, LoadingFile):
            return loading_context(answer_loading(found), units) | {"form": again, "text": text}
        answer, variants = answer_with_variants(found)
    except InputError as error:
        form.add_error(None, str(error))
        return {}
    chosen = request.POST.get("beside", "")
    return stay_context(answer, variants, chosen, units) | {"form": again, "text": text, "choosing": "stay-file-form"}


@require_GET
def loading(request: HttpRequest) -> HttpResponse:
    """Show the form of a loading, and the loading where the address says what is asked; nothing is stored."""
    person = person_of(request)
    form = loading_form(person, request.GET if "tanks" in request.GET else None)
    result = _of_form(request, form) if form.is_bound else {}
    context: dict[str, Any] = {"form": form, **result}
    return _answer(request, "assessing/loading.html", "assessing/_loading_answer.html", context, worked=bool(result))


def _of_form(request: HttpRequest, form: LoadingForm) -> dict[str, Any]:
    file = form.loading() if form.is_valid() else None
    if file is None:
        return {}
    try:
        return loading_context(answer_loading(file), units_on_pictures(person_of(request))) | {"text": file_text(file)}
    except InputError as error:
        form.add_error(None, str(error))
        return {}


def _answer(request: HttpRequest, page: str, part: str, context: dict[str, Any], *, worked: bool) -> HttpResponse:
    form = context["form"]
    context["problems_of_form"] = [str(text) for texts in form.errors.values() for text in texts]
    answer = render(request, part if "HX-Request" in request.headers else page, context)
    return with_last_result_kept(request, answer, worked=worked)
