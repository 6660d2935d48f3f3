"""Forms of signing in and of one's own second factor."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm
from django.core.exceptions import ValidationError
from django.utils import timezone

from shared.calc.errors import AccordError
from shared.factors import takes_code
from shared.forms import SecretField, helper
from shared.lockout import address_of, begin_attempt, note_wrong
from shared.models import Organisation, Person
from shared.roles import Notices

_CODE = forms.TextInput(attrs={"autocomplete": "one-time-code", "spellcheck": "false", "autocapitalize": "none"})


class SignInForm(AuthenticationForm):
    """Username and secret; wrong ones are counted, and a locked name or address is told so before anything is read."""

    error_messages = {
        "invalid_login": "Username and secret do not belong together; both are read letter by letter.",
        "inactive": "This access is closed; ask your organisation's administrator.",
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["password"].label = "Secret (password)"
        self.helper = helper("Sign in")

    def clean(self) -> dict[str, Any]:
        """Let Django compare the secret, with the attempt counted before."""
        name = self.cleaned_data.get("username")
        if not name or not self.cleaned_data.get("password") or self.request is None:
            return super().clean()
        now = timezone.now()
        try:
            attempt = begin_attempt(name=name, address=address_of(self.request), now=now)
        except AccordError as error:
            raise ValidationError(str(error), code="locked") from error
        try:
            cleaned = super().clean()
        except ValidationError:
            note_wrong(name=name, now=now)
            raise
        attempt.delete()
        return cleaned


class CodeForm(forms.Form):
    """The second step: a code from the app, or one of the recovery codes."""

    code = forms.CharField(
        label="Code",
        max_length=30,
        widget=_CODE,
        help_text="The six digits that your app shows now, or one of your recovery codes.",
        error_messages={"required": "Type a code."},
    )
    helper = helper("Go on")

    def __init__(self, *args: Any, person: Person, address: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.person, self.address = person, address

    def clean_code(self) -> str:
        """Count the attempt, then look whether the code fits."""
        code: str = self.cleaned_data["code"]
        now = timezone.now()
        try:
            attempt = begin_attempt(name=self.person.username, address=self.address, now=now)
            fits = takes_code(person=self.person, now=now, code=code)
        except AccordError as error:
            raise ValidationError(str(error)) from error
        if not fits:
            note_wrong(name=self.person.username, now=now)
            raise ValidationError("This code does not fit, or was used already; type the one that is shown now.")
        attempt.delete()
        return code


class PresentForm(forms.Form):
    """One's present secret, before something about signing in is changed."""

    present = SecretField("Your secret", "current-password", "Asked for again, since this changes how you sign in.")

    def __init__(self, *args: Any, act: str = "Do it", css_class: str = "btn-primary", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = helper(act, css_class)


class TimeCodeForm(PresentForm):
    """A first code, which shows that the app has the secret."""

    code = forms.CharField(
        label="Code that the app shows now", max_length=12, widget=_CODE, error_messages={"required": "Type the code."}
    )
    field_order = ["code", "present"]


class PasskeyForm(PresentForm):
    """What a new passkey is called, and the browser's answer, which a script puts in."""

    name = forms.CharField(
        label="Name of this passkey", max_length=60, help_text="Where it is: bridge computer, my phone, blue key."
    )
    credential = forms.CharField(widget=forms.HiddenInput, required=False, max_length=20_000)
    field_order = ["name", "present", "credential"]


class NoticesForm(forms.Form):
    """Where mail goes, and about what."""

    email = forms.EmailField(label="Mail address", required=False, help_text="Without one, no mail is sent to you.")
    notices = forms.ChoiceField(label="Tell me by mail about", choices=Notices.choices, widget=forms.RadioSelect)
    helper = helper("Save this")


class RequireForm(forms.Form):
    """Whether an organisation asks its people and guests for a second factor."""

    required = forms.TypedChoiceField(
        label="Second factor",
        choices=[("no", "Each person decides"), ("yes", "Asked of every person and guest")],
        coerce=lambda said: said == "yes",
        help_text="Whoever has none is led to set one up at the next page they open.",
    )

    def __init__(self, *args: Any, organisation: Organisation, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["required"].initial = "yes" if organisation.second_factor_required else "no"
        self.helper = helper("Change this")
