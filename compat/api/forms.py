"""The form that makes a token."""

from __future__ import annotations

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Submit
from django import forms

from compat.api.actions import LONGEST_DAYS
from compat.api.scopes import WORDS, Scope


class TokenForm(forms.Form):
    """Name, uses and time of a token."""

    name = forms.CharField(max_length=60, help_text="The program that will use it, such as “fleet scheduler”.")
    scopes = forms.MultipleChoiceField(
        label="It may",
        choices=[(str(scope), words) for scope, words in WORDS.items()],
        widget=forms.CheckboxSelectMultiple,
        initial=[str(Scope.READ)],
        help_text="Whatever is ticked, it never may more than you yourself.",
    )
    days = forms.IntegerField(
        label="Works for (days)",
        min_value=1,
        max_value=LONGEST_DAYS,
        initial=90,
        help_text=f"1 to {LONGEST_DAYS} days.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.add_input(Submit("make", "Make the token"))
