"""The stay of an accord: the plan over time with the values on the table, and making it part of the accord."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from compat.accord import actions
from compat.accord.auditing import note_reading
from compat.accord.bargaining import standing, values_on_table
from compat.accord.models import Accord
from compat.accord.pages import accord_of, address_of
from compat.accord.permissions import acting_side, check_acting_side, sees_line_data
from compat.accord.states import State
from compat.accord.stay_acts import line_shared, stay_on_table
from compat.accord.staying import WorkedStay, other_plans, stated_stay, work_out_stay
from compat.accord.values import case_with
from compat.assessing.stay_file_forms import StayUploadForm
from compat.assessing.stay_forms import StayForm, stay_form
from compat.assessing.stay_showing import stay_context
from compat.assessing.stay_views import with_last_result_kept
from compat.case.case_file import check_case
from compat.stay.file import StayFile
from shared.http import person_of, refusals_on, refusals_told
from shared.picture_answers import units_on_pictures

_OF = "Stay file"


@require_GET
def show(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Show the accord's stay with the values on the table."""
    accord = accord_of(request, public_id)
    note_reading(by=person_of(request), now=timezone.now(), accord=accord, what="stay")
    return _page(request, accord, _form(request, accord), StayUploadForm(of=_OF))


@require_POST
def plan(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Work out the stay that the form describes, or make it part of the accord."""
    accord = accord_of(request, public_id)
    check_acting_side(person_of(request), accord)
    form = _form(request, accord, request.POST)
    file = form.stay() if form.is_valid() else None
    if file is not None and request.POST.get("act") != "try":
        with refusals_on(form):
            return _planned(request, accord, file)
    answer = _page(request, accord, form, StayUploadForm(of=_OF))
    return with_last_result_kept(request, answer, worked=file is not None)


@require_POST
def plan_file(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Make the stay of a stay file part of the accord."""
    accord = accord_of(request, public_id)
    check_acting_side(person_of(request), accord)
    upload = StayUploadForm(request.POST, request.FILES, of=_OF)
    found = upload.found() if upload.is_valid() else None
    if found is not None and not isinstance(found, StayFile):
        upload.add_error("file", "This file is of a loading; an accord takes the stay file of a discharge.")
    elif found is not None:
        with refusals_on(upload, "file"):
            return _planned(request, accord, found)
    return _page(request, accord, _form(request, accord), upload)


@require_POST
def drop(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Take the stay out of the accord."""
    accord = accord_of(request, public_id)
    with refusals_told(request):
        actions.drop_stay(by=person_of(request), now=timezone.now(), accord=accord)
        messages.success(request, "The stay is taken out; the plan will say nothing of hours.")
    return redirect("accord-stay", public_id)


def _planned(request: HttpRequest, accord: Accord, file: StayFile) -> HttpResponse:
    actions.plan_stay(by=person_of(request), now=timezone.now(), accord=accord, file=file)
    messages.success(request, "The stay is part of the accord. Both sides see it, and it goes into the plan.")
    return redirect("accord-stay", accord.public_id)


def _may_change(request: HttpRequest, accord: Accord) -> bool:
    return accord.state == State.ON_TABLE and acting_side(person_of(request), accord) is not None


def _form(request: HttpRequest, accord: Accord, sent: Any = None) -> StayForm:
    person = person_of(request)
    case = check_case(case_with(accord.case, values_on_table(standing(accord))), accord.title)
    shown = line_shared(accord) and sees_line_data(person, accord)
    return stay_form(case, person, sent, line_shown=shown, start_agreed=True, stated=accord.stay or {})


def _tried(accord: Accord, form: StayForm) -> WorkedStay | None:
    """Return the stay that a sent form describes, None without one; refusals stand on the form."""
    if not form.is_bound or not form.is_valid():
        return None
    file = form.stay()
    if file is None:
        return None
    values = values_on_table(standing(accord))
    return work_out_stay(accord.case, stated_stay(file), values, line_shared=line_shared(accord))


def _page(request: HttpRequest, accord: Accord, form: StayForm, upload: StayUploadForm) -> HttpResponse:
    tried = _tried(accord, form)
    worked = tried or stay_on_table(accord)
    address = reverse("accord-stay", args=[accord.public_id])
    context = {
        "accord": accord,
        "back": address_of(accord, "stay"),
        "may_change": _may_change(request, accord),
        "form": form,
        "upload": upload,
        "tried": tried is not None,
        "worked": worked,
        "line_shown": False,
        "beside_address": "" if tried else f"{address}?",
        "choosing": "accord-stay-form",
        "problems_of_form": [str(text) for texts in form.errors.values() for text in texts],
        **_shown(request, worked),
    }
    page = "accord/_stay_tried.html" if "HX-Request" in request.headers else "accord/stay.html"
    return render(request, page, context)


def _shown(request: HttpRequest, worked: WorkedStay | None) -> dict[str, Any]:
    """Return the stay with the other plans beside it, nothing where there is none."""
    if worked is None or worked.answer is None or worked.file is None:
        return {}
    asked = request.POST if request.method == "POST" else request.GET
    chosen, units = asked.get("beside", ""), units_on_pictures(person_of(request))
    return stay_context(worked.answer, other_plans(worked.file), chosen, units)
