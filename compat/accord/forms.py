"""Forms of an accord; each has one purpose and leaves every rule to the act behind it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Submit
from django import forms

from compat.accord.checklist.conditions import CONDITION_LABELS, TransferConditions
from compat.accord.checklist.item import AskedValue, Item
from compat.accord.keys import CONSENT
from compat.accord.models import Accord, AnswerChoice, AuditGrant, ChecklistAnswer
from compat.accord.moving import LONGEST_REASON
from compat.accord.opening import LONGEST_PLACE
from compat.accord.signing_bytes import LONGEST_TITLE
from shared.calc.units import UNITS
from shared.fields import PersonForm, QuantityField
from shared.models import Organisation, Person
from shared.moment_fields import MomentField, zone_field
from shared.quantities import plain_text, preferred
from shared.roles import Kind

# What the case itself says is not asked again.
ASKED_CONDITIONS = tuple(key for key in CONDITION_LABELS if key not in {"operation", "connection"})
_TRI_STATE = [("", "not known"), ("yes", "yes"), ("no", "no")]


def act_helper(act: str, css_class: str = "btn-primary") -> FormHelper:
    """Return how a form with one act is laid out."""
    helper = FormHelper()
    helper.form_method = "post"
    helper.add_input(Submit("act", act, css_class=css_class))
    return helper


def _holds_until() -> MomentField:
    help_text = "After this time the plan has expired by itself. Left empty, it holds until withdrawn or superseded."
    return MomentField(label="The plan holds until", required=False, help_text=help_text)


def _in_units_of(person: Person, field: QuantityField, start: Decimal | None) -> QuantityField:
    field.show_in(preferred(person.units, field.canonical_unit), start)
    return field


class AnswerForm(PersonForm):
    """One side's answer to one checklist item."""

    answer = forms.ChoiceField(
        label="Answer",
        choices=AnswerChoice.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Choose yes, no or does not apply."},
    )
    seen = forms.IntegerField(required=False, widget=forms.HiddenInput)

    def __init__(
        self,
        *args: Any,
        item: Item,
        latest: ChecklistAnswer | None,
        person: Person,
        zones: Iterable[str] = (),
        **kwargs: Any,
    ) -> None:
        self.item = item
        start: dict[str, Any] = {"seen": latest.pk if latest else None}
        if latest:
            start |= {"answer": latest.answer, "remark": latest.remark}
        auto_id = f"id_{item.key.replace('.', '-')}_%s"
        super().__init__(*args, initial=start, auto_id=auto_id, person=person, **kwargs)
        given = latest.values if latest else {}
        for value in item.asked:
            self.fields[f"value_{value.key}"] = _asked_field(value, given.get(value.key, ""), person, list(zones))
        self.fields["remark"] = forms.CharField(
            label="Remark",
            required=False,
            max_length=LONGEST_REASON,
            help_text="Needed with “no” and “does not apply”: why, and what is done instead.",
            widget=forms.Textarea(attrs={"rows": 2}),
        )

    @property
    def asked_fields(self) -> list[Any]:
        """Return the values that the item asks for."""
        return [self[f"value_{value.key}"] for value in self.item.asked]

    def look_again(self, latest: ChecklistAnswer | None) -> None:
        """Let a refused form count as sent by someone who now has the latest answer before them."""
        if self.is_bound:
            data = dict(self.data.items())
            data["seen"] = str(latest.pk) if latest else ""
            self.data = data

    def values(self) -> dict[str, str]:
        """Return what was given for the item's values, as the act takes it."""
        found = {value.key: _as_text(self.cleaned_data.get(f"value_{value.key}")) for value in self.item.asked}
        return {key: text for key, text in found.items() if text}


def _asked_field(value: AskedValue, given: str, person: Person, zones: list[str]) -> forms.Field:
    label = value.label if value.required else f"{value.label} (where known)"
    if value.kind == "number" and value.unit in UNITS and value.least is not None and value.greatest is not None:
        quantity = UNITS[value.unit].quantity
        field = QuantityField(quantity, value.unit, value.least, value.greatest, required=False, label=label)
        return _in_units_of(person, field, Decimal(given) if given else None)
    if value.kind == "number":
        unit = "" if value.unit == "count" else f" [{value.unit}]"
        number = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})
        return forms.CharField(label=label + unit, required=False, max_length=30, initial=given, widget=number)
    if value.kind == "date":
        day = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
        return forms.CharField(label=label, required=False, max_length=30, initial=given, widget=day)
    if value.kind == "moment":
        return MomentField(
            label=label, required=False, initial=datetime.fromisoformat(given) if given else None, zones=zones
        )
    if value.kind == "yes or no":
        choices = [("", "–"), ("yes", "yes"), ("no", "no")]
        return forms.ChoiceField(label=label, required=False, choices=choices, initial=given)
    return forms.CharField(label=label, required=False, max_length=200, initial=given)


def _as_text(value: Any) -> str:
    if isinstance(value, Decimal):
        return plain_text(value)
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat(timespec="minutes")
    return str(value or "").strip()


class ArrangeForm(forms.Form):
    """Where and when the transfer takes place, and what it is."""

    place = forms.CharField(
        label="Place of the transfer",
        max_length=LONGEST_PLACE,
        error_messages={"required": "Place is missing; name where the transfer takes place."},
    )
    holds_until = _holds_until()
    ship_zone = zone_field(
        "Zone of the ship's clocks", "Pages show the ship's time beside UTC.", none="not known", with_places=False
    )

    def __init__(self, *args: Any, zones: Iterable[str] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["planned_start"] = MomentField(label="Planned start", zones=zones)
        for key in ASKED_CONDITIONS:
            self.fields[f"is_{key}"] = forms.ChoiceField(
                label=CONDITION_LABELS[key], required=False, choices=_TRI_STATE
            )

    @property
    def condition_rows(self) -> list[Any]:
        """Return the questions about the transfer."""
        return [self[f"is_{key}"] for key in ASKED_CONDITIONS]

    def conditions(self) -> TransferConditions:
        """Return what was stated; what was left “not known” keeps its items on the checklist."""
        said = {"yes": True, "no": False}
        return TransferConditions.from_document(
            {key: said.get(self.cleaned_data[f"is_{key}"]) for key in ASKED_CONDITIONS}
        )


class OpenForm(ArrangeForm):
    """The same at opening, and whether the values of the case go on the table at once."""

    propose = forms.BooleanField(label="Put these values on the table for our side", required=False, initial=True)


def arrange_form(accord: Accord, zones: Iterable[str], data: Any = None) -> ArrangeForm:
    """Return the form with what is arranged now."""
    said = {True: "yes", False: "no", None: ""}
    stated = {f"is_{key}": said[value] for key, value in accord.conditions.items() if key in ASKED_CONDITIONS}
    now = {key: getattr(accord, key) for key in ("place", "planned_start", "holds_until", "ship_zone")}
    return ArrangeForm(data, initial=now | stated, zones=zones)


class ReasonForm(forms.Form):
    """A reason that the other side and an auditor will read."""

    reason = forms.CharField(
        label="Reason",
        max_length=LONGEST_REASON,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="The other side and an auditor read it.",
        error_messages={"required": "Give a reason; the other side and an auditor will read it."},
    )

    def __init__(self, *args: Any, act: str, css_class: str = "btn-primary", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = act_helper(act, css_class)


class AmendForm(forms.Form):
    """Why a plan in force is amended, when it starts anew, and on which facts."""

    reason = forms.CharField(
        label="Reason for the amendment",
        max_length=LONGEST_REASON,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "Give a reason; it stands in the amended plan."},
    )
    holds_until = _holds_until()
    newest_facts = forms.BooleanField(
        label="Take the newest data of ship and berth",
        required=False,
        help_text="Otherwise the data stay as they were frozen in this plan.",
    )
    helper = act_helper("Open the amendment")
    field_order = ["reason", "planned_start", "newest_facts"]

    def __init__(self, *args: Any, zones: Iterable[str] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["planned_start"] = MomentField(label="Planned start", zones=zones)
        self.order_fields(self.field_order)


class SignForm(forms.Form):
    """The office in which one signs, and one's own secret again."""

    title = forms.CharField(
        label="Title",
        max_length=LONGEST_TITLE,
        help_text="The office in which you sign, such as Chief Officer or Loading Master.",
        error_messages={"required": "Title is missing; write the office in which you sign."},
    )
    secret = forms.CharField(
        label="Your secret (password)",
        max_length=200,
        strip=False,
        help_text="The one you sign in with, asked for again.",
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        error_messages={"required": "Your secret is missing; without it nothing is signed."},
    )
    consents = forms.BooleanField(
        label=CONSENT,
        required=False,
        help_text="Asked once. It is needed because you have no signing key yet, or the one you had can't be used now.",
    )
    seen_sha256 = forms.CharField(widget=forms.HiddenInput, max_length=64)
    helper = act_helper("Sign this plan")
    helper.attrs = {"data-progress": "Your secret is checked, the plan is drawn, and your key signs it …"}

    def __init__(self, *args: Any, key_needed: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not key_needed:
            del self.fields["consents"]

    def look_again(self, sha256: str) -> None:
        """Let a refused form count as sent by someone who now has these bytes before them."""
        if self.is_bound:
            data = dict(self.data.items())
            data["seen_sha256"] = sha256
            self.data = data


class AuditorForm(forms.Form):
    """An audit organisation to let in."""

    organisation = forms.ModelChoiceField(
        label="Audit organisation",
        queryset=Organisation.objects.none(),
        empty_label="Choose one",
        error_messages={"required": "Choose an audit organisation."},
    )

    def __init__(self, *args: Any, granted: list[AuditGrant], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        taken = [grant.organisation_id for grant in granted]
        field: Any = self.fields["organisation"]
        field.queryset = Organisation.objects.filter(kind=Kind.AUDIT).exclude(pk__in=taken)


def sign_form(person: Person, seen_sha256: str, data: Any = None, *, key_needed: bool) -> SignForm:
    """Return the form with which this person signs these bytes; ``key_needed`` asks to agree to a signing key."""
    return SignForm(data, initial={"title": person.title, "seen_sha256": seen_sha256}, key_needed=key_needed)
