"""Pages with which a side invites a guest to one accord, and the page that the guest's link opens."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from compat.accord import actions
from compat.accord.guest_forms import AcceptForm, InviteForm, LinkForm
from compat.accord.inviting import Invited, LinkError, invitation_behind
from compat.accord.models import Accord
from compat.accord.pages import accord_of, address_of
from compat.accord.permissions import check_own_side
from shared.factors import has_second_factor
from shared.http import person_of, refusals_on, refusals_told
from shared.mail import site_address
from shared.sign_in_views import BACKEND

form_page = require_http_methods(["GET", "POST"])


@never_cache
@form_page
def guest_add(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Invite a guest for one's own side; the link is shown once."""
    accord, person = accord_of(request, public_id), person_of(request)
    side = check_own_side(person, accord)
    form = InviteForm(request.POST or None)
    if form.is_valid():
        with refusals_on(form):
            invited = actions.invite_guest(by=person, now=timezone.now(), accord=accord, **form.cleaned_data)
            return _link_page(request, accord, invited)
    return render(request, "accord/guest_add.html", {"accord": accord, "form": form, "side": side})


@never_cache
@form_page
def guest_link(request: HttpRequest, public_id: UUID, number: int) -> HttpResponse:
    """Make another link for a guest whose link or secret was lost."""
    accord, person = accord_of(request, public_id), person_of(request)
    check_own_side(person, accord)
    invitation = get_object_or_404(accord.guest_invitations, pk=number, ended_at=None)
    form = LinkForm(request.POST or None)
    if form.is_valid():
        with refusals_on(form):
            invited = actions.renew_guest_link(
                by=person, now=timezone.now(), invitation=invitation, link_hours=form.cleaned_data["link_hours"]
            )
            return _link_page(request, accord, invited)
    return render(request, "accord/guest_renew.html", {"accord": accord, "form": form, "invitation": invitation})


@require_POST
def guest_end(request: HttpRequest, public_id: UUID, number: int) -> HttpResponse:
    """End a guest's access."""
    accord = accord_of(request, public_id)
    invitation = get_object_or_404(accord.guest_invitations, pk=number)
    with refusals_told(request):
        actions.end_invitation(by=person_of(request), now=timezone.now(), invitation=invitation)
        messages.success(request, f"{invitation.full_name} has no access any more.")
    return redirect(address_of(accord, "guests"))


def _link_page(request: HttpRequest, accord: Accord, invited: Invited) -> HttpResponse:
    context = {
        "accord": accord,
        "invitation": invited.invitation,
        "link": site_address("guest-accept", invited.token),
    }
    return render(request, "accord/guest_link.html", context)


@login_not_required
@never_cache
@form_page
def guest_accept(request: HttpRequest, token: str) -> HttpResponse:
    """Let an invited person set a username and a secret, and lead them to their accord."""
    try:
        invitation = invitation_behind(token, timezone.now())
    except LinkError as error:
        return render(request, "accord/guest_no_link.html", {"reason": str(error)}, status=410)
    known_as = invitation.person.username if invitation.person else ""
    form = AcceptForm(request.POST or None, known_as=known_as)
    if form.is_valid():
        with refusals_on(form):
            values: dict[str, Any] = form.cleaned_data
            person = actions.accept_invitation(
                now=timezone.now(), token=token, username=values["username"], secret=values["secret"]
            )
            if has_second_factor(person):
                messages.success(request, "Your secret is set. Sign in with it and your second factor.")
                return redirect("sign-in")
            login(request, person, backend=BACKEND)
            messages.success(request, f"Your secret is set. Next time sign in as {person.username}.")
            return redirect("accord", invitation.accord.public_id)
    context = {"form": form, "invitation": invitation, "accord": invitation.accord}
    return render(request, "accord/guest_accept.html", context)
