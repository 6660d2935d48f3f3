"""The page of surge and start-up of an assessment: one event at a time, and searches that are asked for by a button."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from time import monotonic
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from django.core import signing
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET

from compat.assessing.showing import limit_lines
from compat.assessing.surge_forms import surge_form
from compat.assessing.surge_pictures import envelope_picture, pressures_picture
from compat.assessing.variants import Stored, stored_for
from compat.calc.surge.study import Margins
from compat.case.case_file import CaseFile
from compat.surge.answering import shown_event
from compat.surge.asking import StatedValve, stated_valves
from compat.surge.cautions import cautions_of
from compat.surge.closing import ClosingRate, ClosingTimes, SafeClosing, rate_for, recorded, times_for
from compat.surge.curves import curves_of
from compat.surge.found import Found, SearchPausedError
from compat.surge.limiting import held_within_surge, rate_row, time_row
from compat.surge.studying import Studied, SurgeStudy
from compat.surge.withholding import problem_shown, questions_shown
from shared.calc.errors import InputError
from shared.http import person_of
from shared.picture_answers import picture_answer, units_on_pictures
from shared.pictures import PictureUnits
from shared.revisions import facts_sha256

_SENT = ("closing_time", "closing_time_unit", "allowance", "allowance_unit", "event")
_EVENTS_HELD, _SEARCHES_HELD = 8, 64
_SLICE_S = 0.6  # a script asks again after this long, so that the page can say how far a search is
_DIGITS = 7


@require_GET
def surge(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Show the surge of an assessment: what is missing, or one event with its pressures, and what can be searched."""
    stored = stored_for(person_of(request), public_id)
    return render(request, "assessing/surge.html", _page(stored, request.GET))


@require_GET
def closing(request: HttpRequest, public_id: UUID, valve: str) -> HttpResponse:
    """Search the shortest closing times of a valve and the highest rate for its time, which takes seconds.

    A script asks for it slice by slice and hands back what was found so far, signed; without one it is all at once.
    """
    stored = stored_for(person_of(request), public_id)
    page = _page(stored, request.GET)
    row = next((row for row in page["valves"] if row["valve"].key == valve), None)
    if row is None:
        raise Http404("There is no such valve in this line.")
    in_slices = "HX-Request" in request.headers
    case_text = page["case"].model_dump_json()
    if in_slices:
        row |= _slice(case_text, valve, request.GET.get("found", ""))
        return render(request, "assessing/_surge_valve.html", page | {"row": row})
    row |= _told(_searched(case_text, valve))
    return render(request, "assessing/surge.html", page)


@require_GET
def envelope(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Draw greatest and least head along the line."""
    return _picture(request, public_id, "envelope")


@require_GET
def pressures(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Draw pressure over time."""
    return _picture(request, public_id, "pressures")


def _picture(request: HttpRequest, public_id: UUID, kind: str) -> HttpResponse:
    person = person_of(request)
    stored = stored_for(person, public_id)
    stored.check_line_shown("the picture of that line is not shown")
    page, units = _page(stored, request.GET), units_on_pictures(person)
    if page["studied"] is None:
        raise Http404("There is no such event to draw.")
    studied: Studied = page["studied"]
    what = "head along the line" if kind == "envelope" else "pressure over time"
    title = f"{studied.result.event.label}: {what}"
    shows = f"surge-{kind}:{studied.key}:{facts_sha256(page['case'])}:{units}"
    return picture_answer(request, shows, lambda: _drawn(studied, kind, title, units))


def _drawn(studied: Studied, kind: str, title: str, units: PictureUnits) -> bytes:
    curves = curves_of(studied)
    if kind == "envelope":
        return envelope_picture(curves.along, title, units)
    return pressures_picture(curves.points, title, units)


def _page(stored: Stored, sent: Mapping[str, str]) -> dict[str, Any]:
    form = surge_form(stored.case, stored.person, sent if any(name in sent for name in _SENT) else None)
    case = form.tried(stored.case) if form.is_bound and form.is_valid() else stored.case
    within = held_within_surge(case)
    study = within.free_study
    events = study.events() if study.system is not None else {}
    key = sent.get("event", "")
    key = key if key in events else next(iter(events), "")
    form.show_events([(name, event.label) for name, event in events.items()], key)
    studied = _studied(case.model_dump_json(), key) if key else None
    event = None if studied is None else shown_event(studied)
    query = urlencode([(name, sent[name]) for name in _SENT if name in sent and name != "event"] + [("event", key)])
    pictures = event is not None and stored.line_shown
    return {
        "assessment": stored.row,
        "line_shown": stored.line_shown,
        "form": form,
        "case": case,
        "study": study,
        "studied": studied,
        "event": event,
        "adjustment": None if study.system is None else 100.0 * study.system.grid.adjustment,
        "runs": event.runs if event is not None and stored.line_shown else (),
        "questions": questions_shown(study, line_shown=stored.line_shown),
        "notes": study.notes if stored.line_shown else (),
        "problem": problem_shown(study, line_shown=stored.line_shown),
        "cautions": cautions_of(case, study.system, events_boil=bool(event and event.low_from_s is not None)),
        "valves": [{"valve": v, "time_s": study.closing_time_s(v)} for v in stated_valves(case)] if events else [],
        "query": query,
        "rate_m3_per_h": within.free.total_flow_m3_per_h,
        "rate_left_m3_per_h": within.answer.total_flow_m3_per_h if within.refused else None,
        "envelope_address": _address("assessment-surge-envelope", stored, query) if pictures else "",
        "pressures_address": _address("assessment-surge-pressures", stored, query) if pictures else "",
    }


def _address(name: str, stored: Stored, query: str) -> str:
    return f"{reverse(name, args=[stored.row.public_id])}?{query}"


def _told(done: tuple[SafeClosing, list[dict[str, Any]]]) -> dict[str, Any]:
    found, limits = done
    return {"found": found, "limits": limit_lines({"pumps": [], "limits": limits})}


def _slice(case_text: str, valve: str, token: str) -> dict[str, Any]:
    """Search on for a moment; return the result, or how far it is and what to hand back."""
    salt = f"surge-search:{valve}:{facts_sha256(CaseFile.model_validate_json(case_text))}"
    found = Found(known=_read(token, salt), until=monotonic() + _SLICE_S)
    try:
        return _told(_search(case_text, valve, found))
    except SearchPausedError:
        known = {name: (_short(margins.rating_m), _short(margins.vapour_m)) for name, margins in found.known.items()}
        return {"part": found.part, "token": signing.dumps(known, salt=salt, compress=True)}


def _short(value: float) -> float:
    return float(f"{value:.{_DIGITS}g}")


def _read(token: str, salt: str) -> dict[str, Margins]:
    """Return what an earlier slice found; nothing where it belongs to another case or was changed."""
    try:
        return {name: Margins(*pair) for name, pair in signing.loads(token, salt=salt).items()} if token else {}
    except signing.BadSignature:
        return {}


def _search(case_text: str, key: str, found: Found) -> tuple[SafeClosing, list[dict[str, Any]]]:
    study = _study(case_text)
    valve: StatedValve = next(valve for valve in stated_valves(study.case) if valve.key == key)
    rate, times = rate_for(study, valve, found), times_for(study, valve, found)
    return recorded(rate, times), _rows(study, rate, times)


def _rows(study: SurgeStudy, rate: ClosingRate, times: ClosingTimes) -> list[dict[str, Any]]:
    at = float(study.answer["total_flow_m3_per_h"])
    return [vars(row) for row in (time_row(rate, times), rate_row(rate, at))]


@lru_cache(maxsize=_SEARCHES_HELD)
def _searched(case_text: str, key: str) -> tuple[SafeClosing, list[dict[str, Any]]]:
    return _search(case_text, key, Found())


def _study(case_text: str) -> SurgeStudy:
    """Return the study at the rate before surge is asked: a closing that is too quick is to be seen here."""
    return held_within_surge(CaseFile.model_validate_json(case_text)).free_study


@lru_cache(maxsize=_EVENTS_HELD)
def _studied(case_json: str, event: str) -> Studied | None:
    try:
        return _study(case_json).studied(event)
    except InputError:
        return None
