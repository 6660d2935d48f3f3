"""Forms of a record; each has one purpose and leaves every rule to the act behind it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

from django import forms

from compat.accord.checklist.item import Side
from compat.case.case_file import CaseFile
from compat.record.arrangement import PROPOSAL, Arrangement, check_arrangement
from compat.record.events import CAUSED_BY, TYPED_KINDS, Kind
from compat.record.models import DriftAnswer
from compat.record.readings import SPEED, Field, fields_for
from shared.facts_reading import FactField, fields_of
from shared.fields import PersonForm, QuantityField
from shared.models import Person
from shared.moment_fields import MomentField
from shared.quantities import plain_text, preferred

MINUTE = "%Y-%m-%dT%H:%M"


def minute(now: datetime) -> datetime:
    """Return a time without its seconds, as forms show it."""
    return now.astimezone(UTC).replace(second=0, microsecond=0)


class ArrangementForm(forms.Form):
    """How a record is kept: one box for each number of the arrangement, and the agreed action."""

    def __init__(self, *args: Any, start: Mapping[str, Any] | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        begin = PROPOSAL if start is None else start
        for read in fields_of(Arrangement).values():
            self.fields[read.key] = _arranged(read, begin.get(read.key))

    def arrangement(self) -> Arrangement:
        """Return what was stated, checked as a whole."""
        stated = {
            key: float(value) if isinstance(value, Decimal) else value for key, value in self.cleaned_data.items()
        }
        return check_arrangement(stated)


def _arranged(read: FactField, begin: Any) -> forms.Field:
    if read.kind != "quantity":
        return forms.CharField(
            label="What a drift that nobody explains leads to",
            max_length=300,
            initial=begin,
            widget=forms.Textarea(attrs={"rows": 2}),
            error_messages={"required": "The agreed action is missing; say what is done then."},
        )
    return QuantityField(
        read.quantity, read.unit, read.least or 0, read.greatest or 0, label=read.help_text or read.label, initial=begin
    )


class ReadingForm(PersonForm):
    """What one side reads at one moment; anything that was not read stays empty."""

    at = MomentField(label="Read at (UTC)")
    draft = forms.UUIDField(required=False, widget=forms.HiddenInput)

    def __init__(
        self,
        *args: Any,
        case: CaseFile,
        side: Side,
        person: Person,
        before: Mapping[str, str] | None = None,
        start: Mapping[str, str] | None = None,
        **kwargs: Any,
    ) -> None:
        self.boxes = fields_for(case, side)
        self.before = before or {}
        super().__init__(*args, person=person, **kwargs)
        for field in self.boxes:
            self.fields[_name(field)] = _box(field, person, (start or {}).get(field.key))
        self.running = {state.pump for state in case.operation.pumps if state.running}
        speeds = [field for field in self.boxes if field.reading.key == SPEED and field.key in self.before]
        if speeds:
            ran = [field for field in speeds if float(self.before[field.key]) > 0]
            said = ", ".join(f"{field.pump} {self.before[field.key]}" for field in ran) or "all stood still at 0"
            self.fields["speeds_as_before"] = forms.BooleanField(
                required=False, label=f"I read the speeds; they are as before: {said} rpm"
            )
        self.fields["remark"] = forms.CharField(label="Remark", required=False, max_length=300)
        self.fields["confirmed"] = forms.BooleanField(
            required=False, label="I looked again; the values are right as typed"
        )
        self.fields[_name(self.boxes[0])].widget.widgets[0].attrs["autofocus"] = True

    @property
    def quick(self) -> list[Any]:
        """Return the boxes that stand first."""
        return [self[_name(field)] for field in self.boxes if field.reading.quick and not field.pump]

    @property
    def speeds(self) -> list[Any]:
        """Return the boxes for the speeds of the pumps that run by the plan."""
        return [self[_name(field)] for field in self.boxes if field.reading.quick and field.pump in self.running]

    @property
    def speeds_given(self) -> bool:
        """Tell whether the boxes for speeds stand open: without earlier ones, and where something is in them."""
        return "speeds_as_before" not in self.fields or any(
            bound.errors or (bound.value() and bound.value()[0]) for bound in self.speeds
        )

    @property
    def more(self) -> list[Any]:
        """Return the other boxes."""
        shown = {bound.name for bound in (*self.quick, *self.speeds)}
        return [self[_name(field)] for field in self.boxes if _name(field) not in shown]

    @property
    def more_given(self) -> bool:
        """Tell whether one of the other boxes holds something or was refused."""
        return any(bound.errors or (bound.value() and bound.value()[0]) for bound in self.more)

    def values(self) -> dict[str, Decimal]:
        """Return what was read, in the units of the record; speeds said to be as before count as read."""
        found = {field.key: self.cleaned_data[_name(field)] for field in self.boxes}
        if self.cleaned_data.get("speeds_as_before"):
            for field in self.boxes:
                if field.reading.key == SPEED and found[field.key] is None and field.key in self.before:
                    found[field.key] = Decimal(self.before[field.key])
        return {key: value for key, value in found.items() if value is not None}

    def typed(self) -> dict[str, str]:
        """Return number and unit of each box as they were written."""
        found = {}
        for field in self.boxes:
            number, unit = self[_name(field)].value() or ("", "")
            if str(number).strip():
                found[field.key] = f"{str(number).strip()} {unit}"
        return found


def _name(field: Field) -> str:
    return field.key.replace(":", "__")


def _box(field: Field, person: Person, start: str | None) -> QuantityField:
    one = field.reading
    box = QuantityField(
        one.quantity,
        one.unit,
        one.least,
        one.greatest,
        required=False,
        label=field.label,
        help_text=one.hint,
    )
    box.show_in(preferred(person.units, one.unit), Decimal(start) if start is not None else None)
    return box


class CorrectionForm(ReadingForm):
    """A reading put right, and why."""

    reason = forms.CharField(
        label="Reason for the correction",
        max_length=300,
        help_text="The old values stay; the other side and an auditor read the reason.",
        error_messages={"required": "Give a reason for the correction."},
    )


class DriftForm(forms.Form):
    """What one side says to a drifted reading."""

    what = forms.ChoiceField(
        label="Answer",
        choices=[
            (DriftAnswer.What.EXPLAINED, "It is explained:"),
            (DriftAnswer.What.ACTED, "The agreed action was taken:"),
        ],
        widget=forms.RadioSelect,
        initial=DriftAnswer.What.EXPLAINED,
    )
    said = forms.CharField(
        label="In words",
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": "Say why it drifted, or what was done."},
    )


class EventForm(PersonForm):
    """One line of the time sheet."""

    kind = forms.ChoiceField(label="What happened", choices=[(str(kind), str(kind)) for kind in TYPED_KINDS])
    at = MomentField(label="At (UTC)")
    pressure = QuantityField(
        "pressure",
        "bar",
        0,
        60,
        required=False,
        label="Held back to a manifold pressure of",
        help_text="Only for “held back by the terminal”; empty where it was the rate or something else.",
    )
    remark = forms.CharField(label="Remark", required=False, max_length=300)

    def kind_given(self) -> Kind:
        """Return what happened."""
        return Kind(self.cleaned_data["kind"])


class EventCorrectionForm(forms.Form):
    """Another time or remark for a line, and why."""

    at = MomentField(label="At (UTC)")
    remark = forms.CharField(label="Remark", required=False, max_length=300)
    reason = forms.CharField(
        label="Reason for the correction",
        max_length=300,
        error_messages={"required": "Give a reason for the correction."},
    )


class StopForm(forms.Form):
    """When and why flow was stopped, and by whom it was caused."""

    at = MomentField(label="Stopped at (UTC)")
    reason = forms.CharField(
        label="Reason", max_length=300, error_messages={"required": "Give a reason; the other side reads it."}
    )
    caused_by = forms.ChoiceField(label="Caused by", choices=[(one, one) for one in CAUSED_BY])


class EndForm(forms.Form):
    """When flow ended for good."""

    at = MomentField(label="Flow ended at (UTC)")
    reason = forms.CharField(
        label="Remark", max_length=300, required=False, help_text="Needed where the transfer was held."
    )


class ImportForm(forms.Form):
    """A table of readings: a file, or what was copied from a sheet."""

    file = forms.FileField(
        label="CSV or XLSX file",
        required=False,
        widget=forms.FileInput(attrs={"accept": ".csv,.tsv,.xlsx,text/csv"}),
        error_messages={"empty": "The file is empty; choose another."},
    )
    pasted = forms.CharField(
        label="Or paste rows of a sheet, with its first row", required=False, widget=forms.Textarea(attrs={"rows": 6})
    )

    def clean(self) -> dict[str, Any]:
        """Refuse neither and both."""
        values: dict[str, Any] = super().clean() or {}
        if not self.errors and bool(values.get("file")) == bool((values.get("pasted") or "").strip()):
            self.add_error(None, "Choose a file or paste rows: one of the two.")
        return values


class ImportConfirmForm(forms.Form):
    """The checked table, for the second step, and whether its questions were looked at."""

    table = forms.CharField(widget=forms.HiddenInput)
    confirmed = forms.BooleanField(required=False, label="I looked at the questions; the values are right as they are")


def start_of_correction(values: Mapping[str, str]) -> dict[str, str]:
    """Return what a correction starts from."""
    return {key: plain_text(Decimal(text)) for key, text in values.items()}
