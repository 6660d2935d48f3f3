"""Forms about people, organisations and units; each has one purpose."""

from __future__ import annotations

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Submit
from django import forms

from shared.models import Person
from shared.moment_fields import zone_field
from shared.quantities import CHOICES
from shared.roles import Kind, Role
from shared.zones import OF_SHIP, OF_TERMINAL

_SECRET_HELP = "At least 12 characters, not a common one, nothing from the name."


def helper(act: str, css_class: str = "btn-primary") -> FormHelper:
    """Return the crispy helper of a form that posts to its own page with one button."""
    made = FormHelper()
    made.form_method = "post"
    made.add_input(Submit("act", act, css_class=css_class))
    return made


class SecretField(forms.CharField):
    """A secret as it is typed: kept letter by letter, never shown."""

    def __init__(self, label: str, autocomplete: str, help_text: str = "") -> None:
        widget = forms.PasswordInput(attrs={"autocomplete": autocomplete})
        super().__init__(label=label, max_length=200, strip=False, help_text=help_text, widget=widget)


class NewSecretForm(forms.Form):
    """A secret that one chooses for oneself, typed twice."""

    secret = SecretField("New secret", "new-password", _SECRET_HELP)
    again = SecretField("New secret once more", "new-password")

    def clean(self) -> dict[str, Any]:
        """Refuse two new secrets that differ."""
        values: dict[str, Any] = super().clean() or {}
        if values.get("secret") and values.get("again") and values["secret"] != values["again"]:
            self.add_error("again", "The two new secrets differ; type the same one twice.")
        return values


class OwnSecretForm(NewSecretForm):
    """The present secret and the new one."""

    present = SecretField("Present secret", "current-password")
    field_order = ["present", "secret", "again"]
    helper = helper("Change my secret")


class _NewPersonForm(forms.Form):
    full_name = forms.CharField(label="Full name", max_length=120)
    title = forms.CharField(
        label="Title",
        max_length=120,
        required=False,
        help_text="As it will stand under a signature: Chief Officer, Loading Master.",
    )
    username = forms.CharField(label="Username", max_length=60, help_text="Letters, digits and @ . + - _.")
    secret = SecretField("Initial secret", "new-password", f"{_SECRET_HELP} It is replaced at the first sign-in.")


class PersonAddForm(_NewPersonForm):
    """A new person of one's own organisation."""

    role = forms.ChoiceField(label="Role", choices=Role.choices, initial=Role.OFFICER)
    field_order = ["full_name", "title", "role", "username", "secret"]
    helper = helper("Add this person")


class OrganisationAddForm(_NewPersonForm):
    """A new organisation and its first administrator."""

    name = forms.CharField(label="Organisation", max_length=120)
    kind = forms.ChoiceField(label="What it does", choices=Kind.choices)
    full_name = forms.CharField(label="Full name of its first administrator", max_length=120)
    field_order = ["name", "kind", "full_name", "title", "username", "secret"]
    helper = helper("Add this organisation")


class RoleForm(forms.Form):
    """Another role for a person."""

    role = forms.ChoiceField(label="Role", choices=Role.choices)
    helper = helper("Change the role")


class SecretRenewForm(forms.Form):
    """A new initial secret for a person who lost theirs."""

    secret = SecretField("New initial secret", "new-password", f"{_SECRET_HELP} It is replaced at the next sign-in.")
    helper = helper("Set this initial secret")


class UnitsForm(forms.Form):
    """The units in which a person sees and types quantities, and the zone of times."""

    helper = helper("Use these units and this zone")
    zone = zone_field(
        "Zone of times",
        "Times always show their zone; UTC stands behind each.",
        none="UTC",
        more=[
            (OF_TERMINAL, "the terminal's, on pages about an accord"),
            (OF_SHIP, "the ship's, on pages about an accord"),
        ],
    )

    def __init__(self, *args: Any, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for quantity, symbols in CHOICES.items():
            self.fields[quantity] = forms.ChoiceField(
                label=quantity.capitalize(),
                choices=[(symbol, symbol) for symbol in symbols],
                initial=person.units.get(quantity, symbols[0]),
            )
        self.fields["zone"].initial = person.zone
        self.order_fields([*CHOICES, "zone"])
