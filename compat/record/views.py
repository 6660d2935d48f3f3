"""Pages of a record: the record itself, opening it, its readings and its picture."""

from __future__ import annotations

from uuid import UUID, uuid4

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.dateparse import parse_datetime
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from compat.accord.auditing import note_reading
from compat.accord.checklist.item import Side
from compat.accord.pages import accord_of
from compat.accord.permissions import check_acting_side
from compat.record import queries
from compat.record.chain import record_of
from compat.record.forms import ArrangementForm, CorrectionForm, DriftForm, ReadingForm, minute, start_of_correction
from compat.record.models import DriftAnswer, Reading
from compat.record.opening import accept_arrangement, open_record, propose_arrangement
from compat.record.pages import Kept, address_of, base_context, case_of, kept_of, record_page, row_of
from compat.record.pictures import record_picture
from compat.record.readings import SPEED, fields_for
from compat.record.states import State
from compat.record.taking import DoubtsError, answer_drift, correct_reading, standing_readings, take_reading
from shared.http import person_of, refusals_on, refusals_told
from shared.lists import listing
from shared.picture_answers import picture_answer, units_on_pictures

form_page = require_http_methods(["GET", "POST"])
ROWS_OF_READINGS = 50
LOOKED_BACK = 8


@require_GET
def record_show(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Show the record of an accord."""
    return record_page(request, kept_of(request, public_id))


@form_page
def record_open(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Open the record of a plan in force, with a proposal of how it is kept."""
    accord, person = accord_of(request, public_id), person_of(request)
    check_acting_side(person, accord)
    if record_of(accord) is not None:
        return redirect("record", public_id)
    form = ArrangementForm(request.POST or None)
    if form.is_valid():
        with refusals_on(form):
            open_record(by=person, now=timezone.now(), accord=accord, arrangement=form.arrangement())
            messages.success(request, "The record is open. The other side accepts the arrangement, then it begins.")
            return redirect("record", public_id)
    return render(request, "record/arrangement.html", {"accord": accord, "form": form, "opens": True})


@form_page
def record_arrange(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Answer a proposed arrangement with another one."""
    kept = kept_of(request, public_id)
    check_acting_side(kept.person, kept.record.accord)
    form = ArrangementForm(request.POST or None, start=kept.record.arrangement)
    seen = parse_datetime(request.POST.get("seen", "")) or kept.record.arranged_at
    if form.is_valid():
        with refusals_on(form):
            propose_arrangement(
                by=kept.person, now=timezone.now(), record=kept.record, arrangement=form.arrangement(), seen=seen
            )
            messages.success(request, "Your arrangement is proposed; the other side accepts it.")
            return redirect(address_of(kept))
    return render(request, "record/arrangement.html", base_context(kept) | {"form": form, "seen": _text(kept)})


@require_POST
def record_accept(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Accept the other side's arrangement."""
    kept = kept_of(request, public_id)
    seen = parse_datetime(request.POST.get("seen", "")) or timezone.now()
    with refusals_told(request):
        accept_arrangement(by=kept.person, now=timezone.now(), record=kept.record, seen=seen)
        messages.success(request, "The arrangement is agreed. Flow starts when both sides have said go.")
    return redirect(address_of(kept))


def _text(kept: Kept) -> str:
    return kept.record.arranged_at.isoformat()


@form_page
def reading_take(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Type a reading: made for a phone at the manifold."""
    kept = kept_of(request, public_id)
    side = check_acting_side(kept.person, kept.record.accord)
    last = list(standing_readings(kept.record).filter(side=side).order_by("-at", "-id")[:LOOKED_BACK])
    with_speeds = next((one for one in last if any(key.startswith(SPEED) for key in one.values)), None)
    form = ReadingForm(
        request.POST or None,
        case=case_of(kept),
        side=side,
        person=kept.person,
        before=with_speeds.values if with_speeds else None,
        initial={"at": minute(timezone.now()), "draft": uuid4()},
    )
    questions: list[str] = []
    if form.is_valid():
        with refusals_on(form):
            try:
                reading = take_reading(
                    by=kept.person,
                    now=timezone.now(),
                    record=kept.record,
                    at=form.cleaned_data["at"],
                    values=form.values(),
                    typed=form.typed(),
                    remark=form.cleaned_data["remark"],
                    confirmed=form.cleaned_data["confirmed"],
                    draft=form.cleaned_data["draft"],
                )
                _tell(request, reading)
                return redirect(_after(kept, reading))
            except DoubtsError as error:
                questions = error.questions
    context = base_context(kept) | {"form": form, "questions": questions, "before": last[0] if last else None}
    return render(request, "record/reading_form.html", context)


def _tell(request: HttpRequest, reading: Reading) -> None:
    if reading.drifted:
        messages.warning(request, "The reading is kept. It drifted from the plan: see why, and answer it.")
    else:
        messages.success(request, "The reading is kept; it agrees with the plan.")


def _after(kept: Kept, reading: Reading) -> str:
    if reading.drifted:
        return f"{address_of(kept)}readings/{reading.pk}/"
    return address_of(kept)


@form_page
def reading_correct(request: HttpRequest, public_id: UUID, number: int) -> HttpResponse:
    """Put a reading of one's own side right; the old one stays."""
    kept = kept_of(request, public_id)
    side = check_acting_side(kept.person, kept.record.accord)
    reading = get_object_or_404(kept.record.readings, pk=number)
    form = CorrectionForm(
        request.POST or None,
        case=case_of(kept),
        side=side,
        person=kept.person,
        start=start_of_correction(reading.values),
        initial={"at": reading.at},
    )
    if form.is_valid():
        with refusals_on(form):
            corrected = correct_reading(
                by=kept.person,
                now=timezone.now(),
                reading=reading,
                at=form.cleaned_data["at"],
                values=form.values(),
                typed=form.typed(),
                reason=form.cleaned_data["reason"],
            )
            messages.success(request, "The correction is kept beside the old values.")
            return redirect("record-reading", public_id, corrected.pk)
    context = base_context(kept) | {"form": form, "corrects": reading}
    return render(request, "record/reading_form.html", context)


@form_page
def reading_show(request: HttpRequest, public_id: UUID, number: int) -> HttpResponse:
    """Show one reading with its comparison, likely causes and what was corrected; take the answer to a drift."""
    kept = kept_of(request, public_id)
    rows = kept.record.readings.select_related("by", "answer__by", "corrects__by", "corrected_by__by")
    reading = get_object_or_404(rows, pk=number)
    note_reading(by=kept.person, now=timezone.now(), accord=kept.shown, what=f"reading {reading.pk}")
    form = DriftForm(request.POST or None)
    if request.method == "POST":
        check_acting_side(kept.person, kept.record.accord)
    if form.is_valid():
        with refusals_on(form):
            answer_drift(
                by=kept.person,
                now=timezone.now(),
                reading=reading,
                what=DriftAnswer.What(form.cleaned_data["what"]),
                said=form.cleaned_data["said"],
            )
            messages.success(request, "Your answer is kept with the reading.")
            return redirect("record-reading", public_id, number)
    may_answer = kept.side is not None and reading.drifted and not hasattr(reading, "answer")
    stands = not hasattr(reading, "corrected_by")
    context = base_context(kept) | {
        "reading": reading,
        "row": row_of(reading),
        "values": values_shown(kept, reading),
        "history": _history(reading),
        "stands": stands,
        "arrangement": kept.record.arranged(),
        "drift_form": form if may_answer and stands else None,
        "may_correct": kept.side is not None and kept.side == reading.side and stands and kept.state != State.CLOSED,
    }
    return render(request, "record/reading.html", context)


def values_shown(kept: Kept, reading: Reading) -> list[tuple[str, str, str]]:
    """Return label, value in the person's unit, and what was typed, of everything that was read."""
    found = []
    for field in fields_for(case_of(kept), Side(reading.side)):
        text = reading.values.get(field.key)
        if text is not None:
            shown = field.reading.shown(text, kept.person.units)
            found.append((field.label, shown, reading.typed.get(field.key, "")))
    return found


def _history(reading: Reading) -> list[Reading]:
    found, one = [], reading.corrects
    while one is not None:
        found.append(one)
        one = one.corrects
    return found


@require_GET
def reading_list(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """List all readings, newest first, those that drifted alone if asked for."""
    kept = kept_of(request, public_id)
    show = request.GET.get("show", "")
    rows = queries.readings_of(kept.record)
    if show == "drifted":
        rows = rows.filter(drifted=True)
    found = listing(request, rows, keep={"show": show}, rows_on_a_page=ROWS_OF_READINGS)
    context = base_context(kept) | {"list": found, "readings": [row_of(one) for one in found.page], "show": show}
    return render(request, "record/readings.html", context)


@require_GET
def picture(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Draw rate and manifold pressure over time, with what was expected."""
    kept = kept_of(request, public_id)
    units = units_on_pictures(kept.person)
    rows = list(standing_readings(kept.record).order_by("at", "id").only("id", "at", "side", "values", "comparison"))
    last = rows[-1].pk if rows else 0
    shows = f"record-picture:{kept.record.pk}:{len(rows)}:{last}:{units}"
    return picture_answer(request, shows, lambda: record_picture(rows, title=kept.record.accord.title, units=units))
