"""Pages that move an accord on: settle, sign, take back, withdraw, amend, and who may audit it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from compat.accord import actions
from compat.accord.forms import AmendForm, AuditorForm, ReasonForm, arrange_form, sign_form
from compat.accord.keys import usable_key
from compat.accord.models import Accord, AnswerChoice
from compat.accord.own_secret import locked_until
from compat.accord.pages import accord_of, address_of, zones_of
from compat.accord.permissions import check_acting_side, check_own_side, check_signing_side
from compat.accord.plan_copies import file_of
from compat.accord.plan_document import STATEMENTS
from compat.accord.plan_view import plan_view
from compat.accord.settling import NotSettledError
from compat.accord.states import Move, State, rule_for
from shared.calc.errors import AccordError
from shared.http import person_of, refusals_on, refusals_told

form_page = require_http_methods(["GET", "POST"])


@require_POST
def settle(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Settle what was agreed and answered."""
    accord = accord_of(request, public_id)
    with refusals_told(request):
        try:
            actions.settle(by=person_of(request), now=timezone.now(), accord=accord)
            messages.success(request, "The accord is settled. Both sides can now read the plan and sign it.")
        except NotSettledError as error:
            for sentence in error.left:
                messages.error(request, sentence)
    return redirect(address_of(accord, "sign"))


@form_page
def sign(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Read what is settled, then sign it with one's own secret."""
    accord, person = accord_of(request, public_id), person_of(request)
    side = check_signing_side(person, accord)
    try:
        rule_for(Move.SIGN, State(accord.state), side)
    except AccordError as error:
        messages.error(request, str(error))
        return redirect(address_of(accord, "sign"))
    key = usable_key(person, accord.party(side).name, timezone.now())
    form = sign_form(person, accord.payload_sha256, request.POST or None, key_needed=key is None)
    if form.is_valid():
        with refusals_on(form):
            signed = actions.sign(
                by=person,
                now=timezone.now(),
                accord=accord,
                secret=form.cleaned_data["secret"],
                title=form.cleaned_data["title"],
                seen_sha256=form.cleaned_data["seen_sha256"],
                consents=form.cleaned_data.get("consents", False),
            )
            in_force = signed.plan is not None
            done = "Signed by both sides: the plan is in force." if in_force else "Signed. The other side signs next."
            messages.success(request, done)
            return redirect(address_of(accord, "plan" if signed.plan else "sign"))
        form.look_again(accord.payload_sha256)
    draft = file_of(accord)
    context = {
        "accord": accord,
        "side": side,
        "form": form,
        "view": plan_view(draft),
        "others": list(_other_answers(draft.payload)),
        "statement": STATEMENTS[side],
        "key": key,
        "locked_until": locked_until(person, timezone.now()),
    }
    return render(request, "accord/sign.html", context)


def _other_answers(payload: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    """Yield the answers that a signer must not overlook: everything but a plain yes."""
    for item in payload["checklist"]["items"]:
        for mark in item["marks"]:
            if mark["answer"] != AnswerChoice.YES or mark["remark"]:
                yield {"statement": item["statement"], **mark}


@form_page
def take_back(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Take a settled accord back to the table."""
    return _with_reason(
        request,
        public_id,
        act=actions.take_back,
        words={
            "heading": "Take it back to the table",
            "lead": "Values and answers can change again. Signatures given so far become void; everyone signs anew.",
            "act": "Take it back to the table",
            "done": "The accord is back on the table.",
        },
        move=Move.TAKE_BACK,
    )


@form_page
def withdraw(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Withdraw an accord for good."""
    return _with_reason(
        request,
        public_id,
        act=actions.withdraw,
        words={
            "heading": "Withdraw this accord",
            "lead": "This can't be undone. The accord and its plan stay readable and say that they were withdrawn.",
            "act": "Withdraw it for good",
            "done": "The accord is withdrawn.",
        },
        move=Move.WITHDRAW,
    )


def _with_reason(
    request: HttpRequest, public_id: UUID, *, act: Callable[..., Accord], words: dict[str, str], move: Move
) -> HttpResponse:
    accord, person = accord_of(request, public_id), person_of(request)
    side = (check_own_side if move is Move.WITHDRAW else check_acting_side)(person, accord)
    form = ReasonForm(request.POST or None, act=words["act"], css_class="btn-danger")
    try:
        rule_for(move, State(accord.state), side)
    except AccordError as error:
        messages.error(request, str(error))
        return redirect("accord", public_id)
    if form.is_valid():
        with refusals_on(form):
            act(by=person, now=timezone.now(), accord=accord, reason=form.cleaned_data["reason"])
            messages.success(request, words["done"])
            return redirect("accord", public_id)
    return render(request, "accord/reason.html", {"accord": accord, "form": form, **words})


@form_page
def amend(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Open an amendment of a plan in force."""
    accord, person = accord_of(request, public_id), person_of(request)
    check_acting_side(person, accord)
    start = {"planned_start": accord.planned_start, "holds_until": accord.holds_until}
    form = AmendForm(request.POST or None, initial=start, zones=zones_of(accord, person))
    if accord.state != State.IN_FORCE:
        messages.error(request, f"This accord is {accord.state}; only a plan in force is amended.")
        return redirect("accord", public_id)
    if form.is_valid():
        with refusals_on(form):
            amendment = actions.open_amendment(by=person, now=timezone.now(), accord=accord, **form.cleaned_data)
            messages.success(
                request, f"Plan {amendment.plan_number} is on the table; plan {accord.plan_number} holds till then."
            )
            return redirect("accord", amendment.public_id)
    return render(request, "accord/amend.html", {"accord": accord, "form": form})


@form_page
def arrange(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Change place, time and conditions while the accord is on the table."""
    accord, person = accord_of(request, public_id), person_of(request)
    check_acting_side(person, accord)
    form = arrange_form(accord, zones_of(accord, person), request.POST or None)
    if form.is_valid():
        with refusals_on(form):
            actions.rearrange(
                by=person,
                now=timezone.now(),
                accord=accord,
                place=form.cleaned_data["place"],
                planned_start=form.cleaned_data["planned_start"],
                holds_until=form.cleaned_data["holds_until"],
                conditions=form.conditions(),
                ship_zone=form.cleaned_data["ship_zone"],
            )
            messages.success(request, "Changed. The other side sees it here and in the trail.")
            return redirect(address_of(accord, "parties"))
    return render(request, "accord/arrange.html", {"accord": accord, "form": form})


@require_POST
def auditor_add(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Let an audit organisation read this accord."""
    accord, person = accord_of(request, public_id), person_of(request)
    check_own_side(person, accord)
    form = AuditorForm(request.POST, granted=[])
    if form.is_valid():
        organisation: Any = form.cleaned_data["organisation"]
        with refusals_told(request):
            actions.grant_audit(by=person, now=timezone.now(), accord=accord, organisation=organisation)
            messages.success(request, f"{organisation} may read this accord; each reading is noted in the trail.")
    else:
        messages.error(request, "Choose an audit organisation.")
    return redirect(address_of(accord, "auditors"))


@require_POST
def auditor_end(request: HttpRequest, public_id: UUID, number: int) -> HttpResponse:
    """End what one's own side granted an auditor."""
    accord = accord_of(request, public_id)
    grant = get_object_or_404(accord.audit_grants, pk=number)
    with refusals_told(request):
        actions.end_audit_grant(by=person_of(request), now=timezone.now(), grant=grant)
        messages.success(request, f"{grant.organisation} can't read this accord any more for your side.")
    return redirect(address_of(accord, "auditors"))
