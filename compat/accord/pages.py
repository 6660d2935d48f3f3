"""What the views of this room share: fetching an accord, and the page that most of them lead back to."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from compat.accord import queries
from compat.accord.auditing import note_reading
from compat.accord.ending import expire_due
from compat.accord.forms import AuditorForm
from compat.accord.models import Accord
from compat.accord.permissions import acting_side, may_sign, own_side, sees_line_data, side_of, visible_to
from compat.accord.plan_copies import file_of
from compat.accord.plan_view import plan_view
from compat.accord.progress import what_keeps_from_settling
from compat.accord.showing import checklist_of
from compat.accord.states import CLOSED_STATES, PLAN_STATES, Move, State, moves_open_to
from compat.accord.stay_acts import stay_on_table
from compat.accord.value_forms import ValueForm
from compat.accord.value_showing import Table, table_of
from compat.accord.values import case_with
from compat.assessing.showing import answer_context
from compat.case.case_file import check_case
from shared.http import get_or_404, person_of
from shared.models import Person
from shared.revision_pages import shower

TRAIL_ON_PAGE = 8
_RELATED = (
    "ship_party",
    "terminal_party",
    "opened_by",
    "amends",
    "vessel_revision__vessel",
    "berth_revision__berth__terminal",
)


def accord_of(request: HttpRequest, public_id: UUID) -> Accord:
    """Return the accord if it exists for this person, else answer 404; its plan expires here if its time is past."""
    found = visible_to(person_of(request)).select_related(*_RELATED)
    accord = get_or_404(found, public_id=public_id)
    return get_or_404(found, public_id=public_id) if expire_due(now=timezone.now(), accord=accord) else accord


def is_htmx(request: HttpRequest) -> bool:
    """Tell whether a script asks for a part of a page."""
    return bool(getattr(request, "htmx", False))


def zones_for(person: Person, terminal_zone: str, ship_zone: str = "") -> list[str]:
    """Return the zones in which a person may type a moment, the one they read in first."""
    meant = {"terminal": terminal_zone, "ship": ship_zone}.get(person.zone, person.zone)
    return [zone for zone in (meant or "UTC", terminal_zone, ship_zone) if zone]


def zones_of(accord: Accord, person: Person) -> list[str]:
    """Return the zones in which a person may type a moment of this accord."""
    return zones_for(person, accord.terminal_zone, accord.ship_zone)


def address_of(accord: Accord, part: str = "") -> str:
    """Return the address of the accord's page, at a part of it."""
    return reverse("accord", args=[accord.public_id]) + (f"#{part}" if part else "")


def table_context(request: HttpRequest, accord: Accord, bound: Mapping[str, ValueForm] | None = None) -> dict[str, Any]:
    """Return what the values and their answer need."""
    person = person_of(request)
    line_data = sees_line_data(person, accord)
    side = acting_side(person, accord)
    table = table_of(accord, person, side, line_data=line_data, bound=bound)
    context = {
        "accord": accord,
        "side": side,
        "on_table": accord.state == State.ON_TABLE,
        "line_data": line_data,
        "table": table,
    }
    if accord.payload:
        return context | {"frozen": plan_view(file_of(accord))}
    return context | (_answer_context(accord, table, line_data=line_data) if table.worked.answer else {})


def _answer_context(accord: Accord, table: Table, *, line_data: bool) -> dict[str, Any]:
    """Return what the parts of an answer need, as they are shown with assessments too."""
    case = check_case(case_with(accord.case, table.worked.values), accord.title)
    return answer_context(case, table.worked.answer or {}, line_shown=line_data)


def accord_page(request: HttpRequest, accord: Accord, *, bound: Mapping[str, ValueForm] | None = None) -> HttpResponse:
    """Show the whole page of an accord; ``bound`` are forms that were refused, with what was typed."""
    person = person_of(request)
    note_reading(by=person, now=timezone.now(), accord=accord, what="accord")
    table = table_context(request, accord, bound)
    side = table["side"]
    state = State(accord.state)
    moves = moves_open_to(side, state) if side else []
    context = table | {
        "of_side": side_of(person, accord),
        "turn": queries.turn_words(accord, side),
        "checklist": checklist_of(accord, side),
        "left": what_keeps_from_settling(accord) if state is State.ON_TABLE else [],
        "stay_worked": stay_on_table(accord),
        "may_settle": Move.SETTLE in moves,
        "may_sign": Move.SIGN in moves and may_sign(person, accord),
        "may_take_back": Move.TAKE_BACK in moves,
        "may_withdraw": Move.WITHDRAW in moves and own_side(person, accord) is not None,
        "may_amend": side is not None and state is State.IN_FORCE,
        "signatures": list(accord.signatures.select_related("void_by")),
        "plan": queries.plan_of(accord),
        "has_plan": state in PLAN_STATES,
        "amendments": accord.amendments.order_by("plan_number", "opened_at"),
        "moved_on": queries.moved_on(accord, shower(person), line_data=table["line_data"]),
        "conditions": accord.transfer_conditions().words(),
        "trail": queries.trail_of(accord)[:TRAIL_ON_PAGE],
        **audit_context(accord, person),
        **guest_context(accord, person),
    }
    return render(request, "accord/accord.html", context)


def audit_context(accord: Accord, person: Person, form: AuditorForm | None = None) -> dict[str, Any]:
    """Return who may read for audit, and the form with which a party lets in one more."""
    grants = list(accord.audit_grants.filter(ended_at=None).select_related("organisation", "granted_by"))
    side = own_side(person, accord)
    own = [grant for grant in grants if grant.granted_side == side]
    return {"grants": grants, "lets_in": side, "auditor_form": (form or AuditorForm(granted=own)) if side else None}


def guest_context(accord: Accord, person: Person) -> dict[str, Any]:
    """Return who was invited to this accord alone, and whether this person may invite one more."""
    living = accord.guest_invitations.filter(ended_at=None).select_related("made_by", "person")
    may_invite = own_side(person, accord) is not None and accord.state not in CLOSED_STATES
    return {"guests": list(living), "may_invite": may_invite, "now_utc": timezone.now()}
