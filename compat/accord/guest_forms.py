"""Forms with which a guest is invited, and with which the guest sets a secret."""

from __future__ import annotations

from typing import Any

from crispy_forms.helper import FormHelper
from django import forms

from compat.accord.inviting import LINK_HOURS, LONGEST_NAME
from shared.forms import NewSecretForm, helper

_LINK_WORDS = {24: "one day", 72: "three days", 168: "a week", 336: "two weeks"}


class LinkForm(forms.Form):
    """How long a link works."""

    link_hours = forms.TypedChoiceField(
        label="The link works for",
        coerce=int,
        choices=[(hours, _LINK_WORDS[hours]) for hours in LINK_HOURS],
        initial=72,
        help_text="It works once. After that the guest signs in with the secret that they set.",
    )
    helper = helper("Make another link")


class InviteForm(LinkForm):
    """Who is invited, and what they may do."""

    full_name = forms.CharField(label="Full name", max_length=LONGEST_NAME)
    title = forms.CharField(
        label="Title", max_length=LONGEST_NAME, help_text="As it will stand under a signature, such as Chief Officer."
    )
    email = forms.EmailField(
        label="Mail address",
        required=False,
        help_text="Where the link goes, and later what the other side does. Without one, hand the link over yourself.",
    )
    may_sign = forms.BooleanField(
        label="May sign the plan for our side",
        required=False,
        help_text="Otherwise the guest proposes, accepts, answers and settles, and one of your own people signs.",
    )
    field_order = ["full_name", "title", "email", "may_sign", "link_hours"]
    helper = helper("Invite this guest")


class AcceptForm(NewSecretForm):
    """The username and secret that a guest chooses."""

    username = forms.CharField(label="Username", max_length=60, help_text="Letters, digits and @ . + - _.")
    field_order = ["username", "secret", "again"]

    def __init__(self, *args: Any, known_as: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if known_as:
            self.fields["username"].disabled = True
            self.initial["username"] = known_as

    @property
    def helper(self) -> FormHelper:
        """Return the crispy helper."""
        return helper("Set my secret and go to the accord")
