"""Pages that show an owner what records teach about a ship or berth, and take it into the facts on their word."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from compat.record.learning import Lesson, accept_lesson, fitted, lesson_of
from compat.record.learning_picture import residual_picture
from compat.record.models import SIGNED_BYTES, TransferRecord
from shared.calc.errors import InputError
from shared.calc.units import BAR_PA, HOUR_S
from shared.http import get_or_404, person_of, refusals_told
from shared.models import Person
from shared.permissions import acts_for
from shared.picture_answers import picture_answer
from terminals.models import Berth
from vessels.models import Vessel

MOST_RECORDS = 40
SAME_RATE_M3_PER_H = 0.5
form_page = require_http_methods(["GET", "POST"])


def _vessel(person: Person, public_id: UUID) -> Vessel:
    return get_or_404(Vessel.objects.filter(organisation=person.organisation_id), public_id=public_id)


def _berth(person: Person, public_id: UUID) -> Berth:
    rows = Berth.objects.select_related("terminal__organisation")
    return get_or_404(rows.filter(terminal__organisation=person.organisation_id), public_id=public_id)


def _records(subject: Vessel | Berth) -> list[TransferRecord]:
    """Return the newest records of a ship or berth, oldest first; its owner is a party to every one of them."""
    rows = TransferRecord.objects.exclude(started_at=None).defer(*SIGNED_BYTES).select_related("accord")
    if isinstance(subject, Vessel):
        rows = rows.filter(accord__vessel_revision__vessel=subject)
    else:
        rows = rows.filter(accord__berth_revision__berth=subject)
    return list(rows.order_by("-started_at")[:MOST_RECORDS])[::-1]


@form_page
def of_ship(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Show what records teach about a ship's pumps."""
    person = person_of(request)
    vessel = _vessel(person, public_id)
    return _page(request, person, vessel, acts=acts_for(person, vessel.organisation), own="vessel")


@form_page
def of_berth(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Show what records teach about a berth's line."""
    person = person_of(request)
    berth = _berth(person, public_id)
    return _page(request, person, berth, acts=acts_for(person, berth.terminal.organisation), own="berth")


def _page(request: HttpRequest, person: Person, subject: Vessel | Berth, *, acts: bool, own: str) -> HttpResponse:
    with_static = (request.POST or request.GET).get("static") == "yes"
    latest = subject.revisions.latest("number")
    lesson: Lesson | None = None
    problem = ""
    try:
        lesson = lesson_of(subject, _records(subject), with_static=with_static)
    except InputError as error:
        problem = str(error)
    if request.method == "POST" and lesson is not None:
        with refusals_told(request):
            made = accept_lesson(
                by=person,
                now=timezone.now(),
                subject=subject,
                lesson=lesson,
                seen=request.POST.get("seen", ""),
                started_from=_whole(request.POST.get("started_from", "")),
            )
            messages.success(request, f"Taken over as revision {made.number}; everything assessed from now on uses it.")
            return redirect(own, subject.public_id)
    context: dict[str, Any] = {
        "subject": subject,
        "own": own,
        "lesson": lesson,
        "problem": problem,
        "with_static": with_static,
        "latest": latest,
        "next_number": latest.number + 1,
        "may_accept": acts and lesson is not None,
    }
    if lesson is not None:
        forecast = lesson.forecast
        context |= {
            "same_rate": lesson.effect is not None and abs(lesson.effect[2] - lesson.effect[1]) < SAME_RATE_M3_PER_H,
            "rate_before": forecast.rate_before_m3_per_s * HOUR_S,
            "rate_after": forecast.rate_after_m3_per_s * HOUR_S,
            "pressure_before": forecast.pressure_before_pa / BAR_PA,
            "pressure_after": forecast.pressure_after_pa / BAR_PA,
        }
    return render(request, "record/learned.html", context)


def _whole(text: str) -> int:
    return int(text) if text.isdecimal() else 0


@require_GET
def residuals_of_ship(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Draw what the fit leaves unexplained, for a ship."""
    return _residuals(request, _vessel(person_of(request), public_id))


@require_GET
def residuals_of_berth(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Draw what the fit leaves unexplained, for a berth."""
    return _residuals(request, _berth(person_of(request), public_id))


def _residuals(request: HttpRequest, subject: Vessel | Berth) -> HttpResponse:
    with_static = request.GET.get("static") == "yes"
    found = fitted(subject, _records(subject), with_static=with_static)
    shows = f"residuals:{subject.pk}:{found.fit.residual.sum():.6f}:{found.fit.readings}"
    return picture_answer(request, shows, lambda: residual_picture(found.fit, found.known.group))
